"""The first page of an empty logbook: start one's own, or look at the demo first."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from starlette.responses import Response

from webapp.dependencies import AppClock, Context, CurrentShop, RawForm, Saving, ShopUnits
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.forms.welcome import ShopForm
from webapp.pages.answers import page, saved
from webapp.pages.sheets import form_id_of
from webapp.services import starting
from webapp.services.sheets import NotAccepted

router = APIRouter(include_in_schema=False)
DRAFT = "welcome"


@router.get("/welcome")
def show_welcome(request: Request, shop: CurrentShop, units: ShopUnits) -> Response:
    """Show the two ways to begin; a logbook that has begun shows its first page."""
    if shop.is_set_up:
        return RedirectResponse("/", status_code=303)
    return _welcome_page(request, blank_form(ShopForm, units, starting.usual_answers()))


@router.post("/welcome")
def answer_welcome(request: Request, raw: RawForm, save: Saving, units: ShopUnits) -> Response:
    """Start an empty logbook with a usual shop in it."""
    state = read_form(ShopForm, raw, units)
    if state.value is None:
        return _welcome_page(request, state, status=422)
    try:
        with save(state.form_id) as work:
            starting.start_empty_logbook(work, state.value)
    except NotAccepted as problem:
        return _welcome_page(request, state.with_errors(problem.errors), status=422)
    return saved(request, "/", draft=DRAFT)


@router.post("/demo")
def answer_demo(shop: CurrentShop, context: Context, clock: AppClock) -> Response:
    """Build the invented shop, if this logbook is empty, and show it."""
    if not shop.is_set_up:
        starting.load_demo(context.store, clock.now())
    return RedirectResponse("/", status_code=303)


@router.post("/demo/leave")
def answer_leave(
    raw: RawForm, shop: CurrentShop, context: Context, clock: AppClock, save: Saving
) -> Response:
    """Take the invented shop out again, a copy of it kept beside the logbook."""
    if shop.is_demo:
        starting.copy_demo(context.store, clock.now())
        with save(form_id_of(raw)) as work:
            starting.leave_demo(work)
    return RedirectResponse("/welcome", status_code=303)


def _welcome_page(request: Request, state: FormState[Any], status: int = 200) -> Response:
    offered = state.with_choices(starting.zone_choices())
    return page(request, "pages/welcome.html", status=status, state=offered, draft=DRAFT)
