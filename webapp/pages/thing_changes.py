"""The dated changes of a thing of the shop: list, note, remove, put back."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.changes import ThingChangeForm
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.pages import sheets
from webapp.pages.answers import page, saved
from webapp.services.change_words import CHANGES
from webapp.services.sheets import NotAccepted, showing_of
from webapp.services.thing_changes import (
    ThingChangesView,
    note_change,
    put_back_change,
    remove_change,
    view_thing_changes,
)
from webapp.zone import day_of

router = APIRouter(include_in_schema=False)
HERE = "shop"
ChangedKey = Annotated[str, Path(pattern="^(forges|heats|boxes|mixes|baths|ovens|testers)$")]


@router.get("/shop/{key}/{record_id}/changes")
def show_changes(
    request: Request,
    key: ChangedKey,
    record_id: RecordId,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
) -> Response:
    """Show what was changed of a thing, and the form for the next change."""
    view = view_thing_changes(session, key, record_id, showing_of(shop))
    today = day_of(clock.now(), shop.zone)
    return _changes_page(request, view, blank_form(ThingChangeForm, units, {"changed_on": today}))


@router.post("/shop/{key}/{record_id}/changes")
def answer_change(
    request: Request,
    key: ChangedKey,
    record_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
    save: Saving,
) -> Response:
    """Note a change."""
    state = read_form(ThingChangeForm, raw, units).with_choices({"kind": CHANGES[key]})
    view = view_thing_changes(session, key, record_id, showing_of(shop))
    if state.value is None:
        return _changes_page(request, view, state, status=422)
    try:
        with save(state.form_id) as work:
            today = day_of(clock.now(), shop.zone)
            location = note_change(work, key, record_id, state.value, state.typed, today)
    except NotAccepted as problem:
        return _changes_page(request, view, state.with_errors(problem.errors), status=422)
    return saved(request, location, draft=_draft(view))


@router.post("/shop/{key}/{record_id}/changes/{change_id}/remove")
def answer_remove(
    request: Request, key: ChangedKey, record_id: RecordId, change_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put a change in the bin."""
    with save(sheets.form_id_of(raw)) as work:
        removal = remove_change(work, key, record_id, change_id, sheets.version_of(raw))
    return saved(request, removal.location, undo_words=removal.words, undo_action=removal.undo_action)


@router.post("/shop/{key}/{record_id}/changes/{change_id}/put-back")
def answer_put_back(
    request: Request, key: ChangedKey, record_id: RecordId, change_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Take a change out of the bin again."""
    with save(sheets.form_id_of(raw)) as work:
        location = put_back_change(work, key, record_id, change_id)
    return saved(request, location)


def _changes_page(
    request: Request, view: ThingChangesView, state: FormState[Any], status: int = 200
) -> Response:
    offered = state.with_choices({"kind": CHANGES[view.key]})
    return page(
        request, "pages/thing_changes.html", view, status, here=HERE, state=offered, draft=_draft(view)
    )


def _draft(view: ThingChangesView) -> str:
    return view.action.strip("/").replace("/", "-")
