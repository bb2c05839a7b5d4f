"""What a run takes: the supplies of a plan, the gas of a fire, and what the shop pays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, blank_form, form_of, read_form
from webapp.forms.supplies import GasForm, PricesForm, SuppliesForm
from webapp.pages import sheets
from webapp.pages.answers import page
from webapp.pages.saving import Save, answer_button, answer_form
from webapp.services.gas_weighings import (
    GasPage,
    gas_page,
    keep_weighing,
    put_back_weighing,
    remove_weighing,
)
from webapp.services.sheets import NotAccepted, showing_of
from webapp.services.shop_view import ShopView
from webapp.services.supplies import (
    SuppliesHead,
    SuppliesView,
    keep_supplies,
    supplies_head,
    told_of,
    view_supplies,
)
from webapp.services.supplies_cost import keep_prices, prices_values
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
HERE = "plan"


@dataclass(frozen=True)
class SuppliesPage:
    """The page of a plan's supplies; `found` is None while something is to be put right."""

    head: SuppliesHead
    action: str
    draft: str
    state: FormState[SuppliesForm]
    found: SuppliesView | None
    conflict: sheets.Conflict | None = None


def _page(
    request: Request,
    session: Session,
    shop: ShopView,
    plan_id: int,
    state: FormState[SuppliesForm],
    status: int = 200,
    conflict: sheets.Conflict | None = None,
) -> Response:
    """Answer with the page of a plan's supplies, worked out where it can be."""
    head, found = supplies_head(session, plan_id), None
    if state.value is not None:
        try:
            found = view_supplies(session, plan_id, state.value, showing_of(shop))
        except NotAccepted as problem:
            state = state.with_errors(problem.errors)
    action = f"/plans/{plan_id}/supplies"
    view = SuppliesPage(head, action, f"plan-{plan_id}-supplies", state, found, conflict)
    return page(request, "pages/supplies.html", view, status, here=HERE)


@router.get("/plans/{record_id}/supplies")
def show_supplies(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Show what a plan takes, by what was told of it."""
    told = told_of(session, record_id)
    offered = form_of(SuppliesForm, told.values, units, typed=told.typed, version=told.version)
    read = read_form(SuppliesForm, _with_version(offered), units)
    return _page(request, session, shop, record_id, read)


@router.post("/plans/{record_id}/supplies")
def answer_supplies(
    request: Request,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Keep what was told of a plan's supplies and show what comes of it."""
    state = read_form(SuppliesForm, raw, units)

    def act(work: UnitOfWork, form: SuppliesForm) -> str:
        return keep_supplies(work, record_id, form, state.typed, state.version)

    def show(again: FormState[Any], status: int, conflict: sheets.Conflict | None) -> Response:
        return _page(request, session, shop, record_id, again, status, conflict)

    return answer_form(Save(request, save, show, f"plan-{record_id}-supplies"), state, act)


def _with_version(state: FormState[Any]) -> dict[str, str | list[str]]:
    """Return an offered form as the browser would send it."""
    version = {} if state.version is None else {"version": str(state.version)}
    return {**state.raw, "form_id": state.form_id, **version}


def _gas_view(batch_id: int, found: GasPage) -> sheets.SheetFormView:
    href = f"/batches/{batch_id}"
    return sheets.SheetFormView(
        title=f"Gas of batch {found.number}",
        teach=found.lead,
        action=f"{href}/gas",
        draft=f"batch-{batch_id}-gas",
        back_href=href,
        go="Keep the weights",
        remove_href=f"{href}/gas/remove",
        more="Valve, second setting",
        warnings=found.cautions,
    )


@router.get("/batches/{record_id}/gas")
def show_gas(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Ask for the bottle's weights before and after a fire, or show them to be corrected."""
    found = gas_page(session, record_id, showing_of(shop))
    view, row = _gas_view(record_id, found), found.row
    if row is None:
        return sheets.show_form(request, view, blank_form(GasForm, units), "batches")
    values = {name: getattr(row, name) for name in GasForm.model_fields}
    state = form_of(GasForm, values, units, typed=row.typed, version=row.version)
    return sheets.show_form(request, view, state, "batches")


@router.post("/batches/{record_id}/gas")
def answer_gas(
    request: Request,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Keep the bottle's weights."""
    state = read_form(GasForm, raw, units)
    view = _gas_view(record_id, gas_page(session, record_id, showing_of(shop)))

    def keep(work: UnitOfWork, form: GasForm) -> str:
        return keep_weighing(work, record_id, form, dict(state.typed), state.version)

    return sheets.keep_form(request, view, state, save, keep, "batches")


@router.post("/batches/{record_id}/gas/remove")
def answer_remove_gas(
    request: Request, record_id: RecordId, raw: RawForm, session: Reading, shop: CurrentShop, save: Saving
) -> Response:
    """Take a fire's weights back."""
    row = gas_page(session, record_id, showing_of(shop)).row
    href = f"/batches/{record_id}"

    def act(work: UnitOfWork) -> str:
        remove_weighing(work, record_id, sheets.version_of(raw))
        return href

    undo = f"{href}/gas/{row.id}/put-back" if row else ""
    return answer_button(request, save, raw, act, "The bottle's weights were removed.", undo)


@router.post("/batches/{record_id}/gas/{weighing_id}/put-back")
def answer_put_back_gas(
    request: Request, record_id: RecordId, weighing_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put a fire's weights back."""

    def act(work: UnitOfWork) -> str:
        put_back_weighing(work, record_id, weighing_id)
        return f"/batches/{record_id}/gas"

    return answer_button(request, save, raw, act)


PRICES_VIEW = sheets.SheetFormView(
    title="What you pay",
    teach="Plans then say what a batch and a part cost. A price left blank counts as nothing, and is named.",
    action="/shop/prices",
    draft="shop-prices",
    back_href="/shop",
    go="Save the prices",
)


@router.get("/shop/prices")
def show_prices(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show what the shop pays."""
    values, typed, version = prices_values(session)
    state = form_of(PricesForm, values, units, typed=typed, version=version)
    return sheets.show_form(request, PRICES_VIEW, state, "shop")


@router.post("/shop/prices")
def answer_prices(request: Request, raw: RawForm, save: Saving, units: ShopUnits) -> Response:
    """Keep what the shop pays."""
    state = read_form(PricesForm, raw, units)

    def keep(work: UnitOfWork, form: PricesForm) -> str:
        return keep_prices(work, form, state.typed, state.version)

    return sheets.keep_form(request, PRICES_VIEW, state, save, keep, "shop")
