"""The page of the arguments: what this log says of fill or gap, clay or mortar, and the rest."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import Context, CurrentShop, Reading
from webapp.pages.answers import page
from webapp.services.arguments import view_arguments
from webapp.services.sheets import showing_of

router = APIRouter(include_in_schema=False)


@router.get("/forge/arguments")
def show_arguments(request: Request, session: Reading, shop: CurrentShop, context: Context) -> Response:
    """Show each argument with what the log has on both sides of it."""
    view = view_arguments(session, showing_of(shop))
    return page(request, "pages/arguments.html", view, here="forge", fit_state=context.fit_keeper.state)
