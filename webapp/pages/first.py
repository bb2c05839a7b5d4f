"""The first page: the way to every other."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.pages.answers import page

router = APIRouter()


@router.get("/")
def show_first(request: Request) -> Response:
    """Show the way to every page."""
    return page(request, "pages/first.html", here="today")
