"""The words of the trade from A to Z, and the long pages behind them."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from webapp.pages.answers import page
from webapp.services.help_pages import view_index, view_topic

router = APIRouter(include_in_schema=False)


@router.get("/help")
def show_index(request: Request) -> Response:
    """Show every word in one sentence, and the long pages."""
    return page(request, "pages/help.html", view_index())


@router.get("/help/{topic}")
def show_topic(request: Request, topic: str) -> Response:
    """Show one long page."""
    view = view_topic(topic)
    if view is None:
        raise HTTPException(404)
    return page(request, f"pages/help/{view.topic.key}.html", view)
