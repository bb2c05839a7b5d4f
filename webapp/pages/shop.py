"""The shop: forge, ways of knowing the heat, boxes, pack mixes, baths, oven, testers."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import form_of, read_form
from webapp.forms.welcome import ShopSettingsForm
from webapp.pages import sheets
from webapp.pages.answers import page
from webapp.services.sheets import showing_of
from webapp.services.shop import SHOP_KINDS, view_colours, view_shop_page
from webapp.services.shop_cautions import CAUTION_GROUPS, LOCAL_RULES
from webapp.services.starting import change_shop, shop_values, zone_choices
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
HERE = "shop"
SheetKey = Annotated[str, Path(pattern="^[a-z]{1,20}$")]


def kind_of(key: str) -> sheets.Kind:
    """Return the list of this key, or answer that there is nothing here."""
    if key not in SHOP_KINDS:
        raise HTTPException(404)
    return SHOP_KINDS[key]


@router.get("/shop")
def show_shop(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show every list of the shop on one page."""
    return page(request, "pages/shop.html", view_shop_page(session, showing_of(shop)), here=HERE, shop=shop)


@router.get("/shop/colours")
def show_colours(request: Request, shop: CurrentShop) -> Response:
    """Show what colours of heat mean, and how far off each way of knowing it is."""
    return page(request, "pages/colours.html", view_colours(showing_of(shop)), here=HERE)


@router.get("/cautions")
def show_cautions(request: Request) -> Response:
    """Show every caution with its source."""
    return page(request, "pages/cautions.html", CAUTION_GROUPS, here=HERE, local_rules=LOCAL_RULES)


SETTINGS_VIEW = sheets.SheetFormView(
    title="Name, units, hours",
    teach="What is kept does not change with the units: only how it is shown, and what a bare number means.",
    action="/shop/settings",
    draft="shop-settings",
    back_href="/shop",
    go="Save",
)


@router.get("/shop/settings")
def show_settings(request: Request, shop: CurrentShop, units: ShopUnits) -> Response:
    """Show the shop's name, units, time zone, hours and address."""
    state = form_of(ShopSettingsForm, shop_values(shop), units, version=shop.version)
    return sheets.show_form(request, SETTINGS_VIEW, state.with_choices(zone_choices()), HERE)


@router.post("/shop/settings")
def answer_settings(request: Request, raw: RawForm, save: Saving, units: ShopUnits) -> Response:
    """Save the shop's name, units, time zone, hours and address."""
    state = read_form(ShopSettingsForm, raw, units).with_choices(zone_choices())

    def keep(work: UnitOfWork, value: ShopSettingsForm) -> str:
        change_shop(work, value, state.version)
        return "/shop"

    return sheets.keep_form(request, SETTINGS_VIEW, state, save, keep, HERE)


@router.get("/shop/{key}/new")
def show_new(request: Request, key: SheetKey, session: Reading, units: ShopUnits) -> Response:
    """Show the form for a new record."""
    return sheets.show_new(request, kind_of(key), session, units, HERE)


@router.post("/shop/{key}")
def answer_new(
    request: Request, key: SheetKey, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Save a new record."""
    return sheets.answer_new(request, kind_of(key), raw, session, units, save, HERE)


@router.get("/shop/{key}/{record_id}")
def show_edit(
    request: Request, key: SheetKey, record_id: RecordId, session: Reading, units: ShopUnits
) -> Response:
    """Show the form of a record."""
    return sheets.show_edit(request, kind_of(key), record_id, session, units, HERE)


@router.post("/shop/{key}/{record_id}")
def answer_edit(
    request: Request,
    key: SheetKey,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Save what was changed on a record."""
    return sheets.answer_edit(request, kind_of(key), record_id, raw, session, units, save, HERE)


@router.post("/shop/{key}/{record_id}/remove")
def answer_remove(
    request: Request, key: SheetKey, record_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put a record in the bin."""
    return sheets.answer_remove(request, kind_of(key), record_id, raw, save)


@router.post("/shop/{key}/{record_id}/put-back")
def answer_put_back(
    request: Request, key: SheetKey, record_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Take a record out of the bin again."""
    return sheets.answer_put_back(request, kind_of(key), record_id, raw, save)
