"""Today: the first page of the day."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from webapp.dependencies import AppClock, CurrentShop, Reading
from webapp.pages.answers import page
from webapp.services.sheets import showing_of
from webapp.services.today import view_today

router = APIRouter(include_in_schema=False)


@router.get("/")
def show_today(request: Request, session: Reading, shop: CurrentShop, clock: AppClock) -> Response:
    """Show what is running, what waits, and what to do next; an empty logbook is welcomed first."""
    if not shop.is_set_up:
        return RedirectResponse("/welcome", status_code=303)
    view = view_today(session, clock.now(), showing_of(shop))
    return page(request, "pages/today.html", view, here="today")
