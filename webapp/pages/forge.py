"""The page of this forge: the books say, your forge says."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, Context, CurrentShop, Reading
from webapp.pages.answers import page, part
from webapp.services.forge_growth import view_growth
from webapp.services.forge_view import view_forge
from webapp.services.sheets import showing_of

router = APIRouter(include_in_schema=False)
HERE = "forge"


@router.get("/forge")
def show_forge(request: Request, session: Reading, shop: CurrentShop, context: Context) -> Response:
    """Show what this forge has taught so far."""
    view = view_forge(session, showing_of(shop))
    return page(request, "pages/forge.html", view, here=HERE, fit_state=context.fit_keeper.state)


@router.get("/forge/charts")
def show_growth(request: Request, session: Reading, shop: CurrentShop, clock: AppClock) -> Response:
    """Show case depth over the hours and hardness by bath, which take sums of their own."""
    view = view_growth(session, clock.now(), showing_of(shop))
    return page(request, "pages/forge_growth.html", view, here=HERE)


@router.get("/forge/state")
def show_state(request: Request, context: Context, was: str = "working") -> Response:
    """Say how the fit stands, for the page that waits for it.

    It is offered anew once there is more to see than when it was made (`was`: working or refining).
    """
    state = context.fit_keeper.state
    still_waits = state.is_working or (was == "refining" and state.is_refining)
    return part(request, "parts/_fit_state.html", fit_state=state, ended=not still_waits)
