"""Which piece is this? Asked by the mark in its steel."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, Reading
from webapp.pages.answers import page
from webapp.services.sheets import showing_of
from webapp.services.which_piece import view_which_piece

router = APIRouter(include_in_schema=False)
HERE = "batches"
Asked = Annotated[str, Query(max_length=20)]


@router.get("/which-piece")
def show_which_piece(
    request: Request, session: Reading, shop: CurrentShop, kind: Asked = "", sign: Asked = ""
) -> Response:
    """Show the open pieces that bear a mark."""
    view = view_which_piece(session, kind, sign, showing_of(shop))
    return page(request, "pages/which_piece.html", view, here=HERE)
