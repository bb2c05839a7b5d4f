"""Tablets and passcode: what the owner rules at the computer that keeps the logbook."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import Response

from webapp.context import AppContext
from webapp.dependencies import THIS_COMPUTER, Context, CurrentShop, RawForm, RecordId, ShopUnits, Who
from webapp.forms.gate import PasscodeForm
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.gate.pairing import LASTS_S, address_of
from webapp.gate.passcode import what_is_wrong
from webapp.gate.visitor import Visitor
from webapp.pages.answers import page, saved
from webapp.pages.sign_in import give_session
from webapp.services.devices import HREF, view_devices, view_pair
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView

router = APIRouter(prefix=HREF, include_in_schema=False)
NOT_ON_THE_NETWORK = "No tablet reaches this computer. Start it with casewright serve --lan first."
ONLY_THERE = "Passcode and codes are ruled at the computer that keeps the logbook. Open this page there."


def get_ruler(visitor: Who) -> Visitor:
    """Return who asks, if it is the owner's own computer."""
    if not visitor.may_rule:
        raise HTTPException(403, ONLY_THERE)
    return visitor


Ruler = Annotated[Visitor, Depends(get_ruler)]


def _show(
    request: Request,
    context: AppContext,
    visitor: Visitor,
    shop: ShopView,
    state: FormState[PasscodeForm],
    status: int = 200,
) -> Response:
    view = view_devices(context.door, context.settings, visitor, context.clock, showing_of(shop))
    return page(request, "pages/devices.html", view, status, here="shop", state=state)


@router.get("")
def show_devices(
    request: Request, context: Context, visitor: Who, shop: CurrentShop, units: ShopUnits
) -> Response:
    """Show who can open this logbook."""
    return _show(request, context, visitor, shop, blank_form(PasscodeForm, units))


@router.post("/passcode")
def answer_passcode(
    request: Request, context: Context, visitor: Ruler, shop: CurrentShop, units: ShopUnits, raw: RawForm
) -> Response:
    """Set the passcode; all devices sign in again, but for the browser that set it."""
    state = read_form(PasscodeForm, raw, units)
    if state.value is None:
        return _show(request, context, visitor, shop, state, 422)
    problem = what_is_wrong(state.value.passcode)
    if problem:
        return _show(request, context, visitor, shop, state.with_errors({"passcode": problem}), 422)
    if state.value.passcode != state.value.again:
        differs = {"again": "The two are not the same. Type both again."}
        return _show(request, context, visitor, shop, state.with_errors(differs), 422)
    context.door.set_passcode(state.value.passcode)
    answer = saved(request, HREF)
    if visitor.session:
        give_session(answer, context, context.door.let_in(visitor.session.name))
    return answer


@router.post("/ask-here")
def answer_ask_here(request: Request, context: Context, visitor: Ruler, raw: RawForm) -> Response:
    """Ask on this computer too, or no longer; the browser that wished it stays in."""
    wanted = raw.get("wanted") == "yes"
    if wanted and not context.door.has_passcode:
        raise HTTPException(422, "Set a passcode first, else nobody could get in here.")
    context.door.ask_here(wanted)
    answer = saved(request, HREF)
    if wanted and not visitor.session:
        give_session(answer, context, context.door.let_in(THIS_COMPUTER))
    return answer


@router.post("/code")
def show_code(request: Request, context: Context, _visitor: Ruler) -> Response:
    """Show a code that lets one tablet in."""
    settings = context.settings
    if not context.door.has_passcode:
        raise HTTPException(422, "Set a passcode first.")
    if not settings.is_lan:
        raise HTTPException(422, NOT_ON_THE_NETWORK)
    view = view_pair(address_of(settings.tablet_url, context.door.new_code()), LASTS_S)
    return page(request, "pages/pair_code.html", view, here="shop")


@router.post("/end-all")
def answer_end_all(request: Request, context: Context, _visitor: Ruler) -> Response:
    """Sign all devices out."""
    context.door.end_all()
    return saved(request, HREF)


@router.post("/{number}/end")
def answer_end(request: Request, context: Context, number: RecordId) -> Response:
    """Sign a device out, wherever it is."""
    context.door.end(number)
    return saved(request, HREF)


@router.post("/{number}/name")
def answer_name(request: Request, context: Context, number: RecordId, raw: RawForm) -> Response:
    """Give a device another name."""
    context.door.rename(number, str(raw.get("called", "")))
    return saved(request, HREF)
