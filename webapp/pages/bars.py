"""The rack: bars of known grade, and mystery bars with what their screening told."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.pages import sheets
from webapp.pages.answers import page
from webapp.services.bars import BARS
from webapp.services.sheets import showing_of, view_sheet

router = APIRouter()
HERE = "shop"


@router.get("/bars")
def show_bars(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show the rack."""
    return page(request, "pages/bars.html", view_sheet(session, BARS, showing_of(shop)), here=HERE)


@router.get("/bars/new")
def show_new(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show the form for a new bar."""
    return sheets.show_new(request, BARS, session, units, HERE)


@router.post("/bars")
def answer_new(request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving) -> Response:
    """Save a new bar."""
    return sheets.answer_new(request, BARS, raw, session, units, save, HERE)


@router.get("/bars/{record_id}")
def show_edit(request: Request, record_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form of a bar."""
    return sheets.show_edit(request, BARS, record_id, session, units, HERE)


@router.post("/bars/{record_id}")
def answer_edit(
    request: Request, record_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Save what was changed on a bar."""
    return sheets.answer_edit(request, BARS, record_id, raw, session, units, save, HERE)


@router.post("/bars/{record_id}/remove")
def answer_remove(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a bar in the bin."""
    return sheets.answer_remove(request, BARS, record_id, raw, save)


@router.post("/bars/{record_id}/put-back")
def answer_put_back(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a bar out of the bin again."""
    return sheets.answer_put_back(request, BARS, record_id, raw, save)
