"""Measuring a case on a photo: points are set, summed up at once, saved as a reading and put right later."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, Units, form_of, read_form
from webapp.forms.photos import PhotoDepthForm
from webapp.pages.answers import page, part
from webapp.pages.saving import HERE, Save, answer_form
from webapp.pages.sheets import Conflict
from webapp.services.photo_measure import save_measured
from webapp.services.photo_measure_view import (
    RimDepthView,
    start_of,
    view_measure_page,
    view_so_far,
)
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
CHANGED = (
    "Someone changed this photo or its reading meanwhile. Nothing was overwritten and your points are still"
    " here; look, and save again to put them in place of the other."
)


def _start(session: Session, photo_id: int, shop: ShopView, units: Units) -> FormState[PhotoDepthForm]:
    known = start_of(session, photo_id, showing_of(shop))
    state = form_of(PhotoDepthForm, known.values, units, typed=known.typed, version=known.version)
    return state.with_choices(known.choices)


def _show(
    request: Request,
    session: Session,
    shop: ShopView,
    photo_id: int,
    state: FormState[PhotoDepthForm],
    status: int = 200,
) -> Response:
    view = view_measure_page(session, photo_id, showing_of(shop))
    found = _so_far(session, photo_id, read_form(PhotoDepthForm, state.raw, state.units), shop)
    return page(request, "pages/photo_measure.html", view, status, here=HERE, state=state, found=found)


def _so_far(
    session: Session, photo_id: int, state: FormState[PhotoDepthForm], shop: ShopView
) -> RimDepthView:
    if state.value is None:
        return RimDepthView(missing=next(iter(state.errors.values()), ""))
    return view_so_far(session, photo_id, state.value, showing_of(shop))


@router.get("/photos/{photo_id}/measure")
def show_measure(
    request: Request, photo_id: RecordId, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Show a photo to set points on."""
    return _show(request, session, shop, photo_id, _start(session, photo_id, shop, units))


@router.post("/photos/{photo_id}/measure/sum")
def answer_sum(
    request: Request,
    photo_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
) -> Response:
    """Sum up the points set so far; nothing is saved."""
    found = _so_far(session, photo_id, read_form(PhotoDepthForm, raw, units), shop)
    return part(request, "parts/_rim_depth.html", found)


@router.post("/photos/{photo_id}/measure")
def answer_measure(
    request: Request,
    photo_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Save what was measured as a reading of the piece."""
    start = _start(session, photo_id, shop, units)
    state = read_form(PhotoDepthForm, raw, units).with_choices(start.choices)

    def act(work: UnitOfWork, form: PhotoDepthForm) -> str:
        return f"/items/{save_measured(work, photo_id, form, state.typed, state.version).item_id}"

    def show(again: FormState[Any], status: int, conflict: Conflict | None) -> Response:
        if conflict is not None:
            versions = {"reading_version": start.raw.get("reading_version", "")}
            again = replace(again, version=start.version, raw={**again.raw, **versions})
            again = again.with_errors({"": CHANGED})
        return _show(request, session, shop, photo_id, again, status)

    return answer_form(Save(request, save, show, f"photo-{photo_id}-measure"), state, act)
