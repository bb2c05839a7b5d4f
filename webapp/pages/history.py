"""Who changed what: the history of one record, as a page of its own and folded into its page."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, Reading, RecordId
from webapp.pages.answers import page, part
from webapp.services.history import history_of
from webapp.services.sheets import showing_of

router = APIRouter(include_in_schema=False)


@router.get("/history/{table}/{record_id}")
def show_history(
    request: Request, table: str, record_id: RecordId, session: Reading, shop: CurrentShop
) -> Response:
    """Show the history of a record and of what hangs on it."""
    return page(request, "pages/history.html", history_of(session, table, record_id, showing_of(shop)))


@router.get("/history/{table}/{record_id}/list")
def show_history_list(
    request: Request, table: str, record_id: RecordId, session: Reading, shop: CurrentShop
) -> Response:
    """Show the same as a piece of a page."""
    return part(request, "parts/_history_list.html", history_of(session, table, record_id, showing_of(shop)))
