"""Case harden at all? One page for a part, with the prices it is weighed by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, form_of, read_form
from webapp.forms.supplies import PartPriceForm
from webapp.pages import sheets
from webapp.pages.answers import page
from webapp.pages.saving import Save, answer_form
from webapp.services.case_or_not import CaseOrNotView, view_case_or_not
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.services.supplies_cost import keep_part_price, part_price_values
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class CaseOrNotPage:
    """The page of a part and its form of prices."""

    found: CaseOrNotView
    action: str
    draft: str
    state: FormState[PartPriceForm]
    conflict: sheets.Conflict | None = None


def _page(
    request: Request,
    session: Session,
    shop: ShopView,
    part_id: int,
    state: FormState[PartPriceForm],
    status: int = 200,
    conflict: sheets.Conflict | None = None,
) -> Response:
    found = view_case_or_not(session, part_id, showing_of(shop))
    view = CaseOrNotPage(found, f"/parts/{part_id}/case-or-not", f"part-{part_id}-prices", state, conflict)
    return page(request, "pages/case_or_not.html", view, status, here="parts")


@router.get("/parts/{record_id}/case-or-not")
def show_case_or_not(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Show what a case gives a part, and each other way beside it."""
    values, typed, version = part_price_values(session, record_id)
    state = form_of(PartPriceForm, {"parts": 1, **values}, units, typed=typed, version=version)
    return _page(request, session, shop, record_id, state)


@router.post("/parts/{record_id}/case-or-not")
def answer_case_or_not(
    request: Request,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Keep what a part costs each way."""
    state = read_form(PartPriceForm, raw, units)

    def act(work: UnitOfWork, form: PartPriceForm) -> str:
        return keep_part_price(work, record_id, form, state.typed, state.version)

    def show(again: FormState[Any], status: int, conflict: sheets.Conflict | None) -> Response:
        return _page(request, session, shop, record_id, again, status, conflict)

    return answer_form(Save(request, save, show, f"part-{record_id}-prices"), state, act)
