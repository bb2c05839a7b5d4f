"""The dated checks of whatever tells heat or hardness: list, add, remove."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.pages import sheets
from webapp.pages.answers import page, saved
from webapp.services.checks import (
    KNOWN_FOR,
    ChecksView,
    add_check,
    check_form_of,
    put_back_check,
    remove_check,
    view_checks,
)
from webapp.services.sheets import NotAccepted, showing_of
from webapp.zone import day_of

router = APIRouter(include_in_schema=False)
HERE = "shop"
CheckedKey = Annotated[str, Path(pattern="^(heats|testers|ovens)$")]


@router.get("/shop/{key}/{record_id}/checks")
def show_checks(
    request: Request,
    key: CheckedKey,
    record_id: RecordId,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
) -> Response:
    """Show the checks of an instrument, and the form for the next one."""
    view = view_checks(session, key, record_id, showing_of(shop))
    today = day_of(clock.now(), shop.zone)
    state = blank_form(check_form_of(key), units, {"checked_on": today})
    return _checks_page(request, view, key, state)


@router.post("/shop/{key}/{record_id}/checks")
def answer_check(
    request: Request,
    key: CheckedKey,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Save a check."""
    state = read_form(check_form_of(key), raw, units)
    view = view_checks(session, key, record_id, showing_of(shop))
    if state.value is None:
        return _checks_page(request, view, key, state, status=422)
    try:
        with save(state.form_id) as work:
            location = add_check(work, key, record_id, state.value, state.typed)
    except NotAccepted as problem:
        return _checks_page(request, view, key, state.with_errors(problem.errors), status=422)
    return saved(request, location, draft=_draft(view))


@router.post("/shop/{key}/{record_id}/checks/{check_id}/remove")
def answer_remove(
    request: Request, key: CheckedKey, record_id: RecordId, check_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put a check in the bin."""
    with save(sheets.form_id_of(raw)) as work:
        removal = remove_check(work, key, record_id, check_id, sheets.version_of(raw))
    return saved(request, removal.location, undo_words=removal.words, undo_action=removal.undo_action)


@router.post("/shop/{key}/{record_id}/checks/{check_id}/put-back")
def answer_put_back(
    request: Request, key: CheckedKey, record_id: RecordId, check_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Take a check out of the bin again."""
    with save(sheets.form_id_of(raw)) as work:
        location = put_back_check(work, key, record_id, check_id)
    return saved(request, location)


def _checks_page(
    request: Request, view: ChecksView, key: str, state: FormState[Any], status: int = 200
) -> Response:
    offered = state.with_choices({"against": KNOWN_FOR[key]})
    return page(request, "pages/checks.html", view, status, here=HERE, state=offered, draft=_draft(view))


def _draft(view: ChecksView) -> str:
    return view.action.strip("/").replace("/", "-")
