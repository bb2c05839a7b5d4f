"""The condition of the logbook: where it lies, how large it is, which copies lie beside it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import Context
from webapp.pages.answers import page
from webapp.services.condition import view_condition

router = APIRouter()


@router.get("/condition")
def show_condition(request: Request, context: Context) -> Response:
    """Show where the logbook lies and how it is."""
    return page(request, "pages/condition.html", view_condition(context.store))
