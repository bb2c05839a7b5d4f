"""What happens while a fire burns: a temperature noted, a mishap, each taken back as easily."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.events import EVENTS, EventForm, HeatNoteForm
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.pages.answers import page
from webapp.pages.batch_page import show_batch_page
from webapp.pages.saving import HERE, FormPage, Save, answer_button, answer_form
from webapp.pages.sheets import Conflict
from webapp.services import events
from webapp.services.batch_values import batch_head
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)


@router.post("/batches/{batch_id}/heat-notes")
def answer_heat_note(
    request: Request,
    batch_id: RecordId,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
    save: Saving,
) -> Response:
    """Note a temperature as it is read."""
    state = read_form(HeatNoteForm, raw, units)

    def act(work: UnitOfWork, form: HeatNoteForm) -> str:
        typed = {"temperature_K": state.typed["noted_K"]}
        entry = events.HeatEntry(
            form.noted_K,
            form.noted_at,
            insisted=form.noted_insisted,
            stands=form.noted_stands or any(letter.isalpha() for letter in str(raw.get("noted_K", ""))),
            unit=units.temperature,
            typed=typed,
        )
        events.note_heat(work, batch_id, entry)
        return f"/batches/{batch_id}"

    def show(again: FormState[Any], status: int, conflict: Conflict | None) -> Response:
        forms = {"heat": again}
        return show_batch_page(request, session, shop, units, clock, batch_id, status, conflict, forms)

    return answer_form(Save(request, save, show, f"batch-{batch_id}-heat"), state, act)


@router.post("/batches/{batch_id}/heat-notes/{note_id}/remove")
def answer_remove_note(
    request: Request, batch_id: RecordId, note_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Take a noted temperature back."""

    def act(work: UnitOfWork) -> str:
        events.remove_note(work, note_id)
        return f"/batches/{batch_id}"

    undo = f"/batches/{batch_id}/heat-notes/{note_id}/put-back"
    return answer_button(request, save, raw, act, "The temperature was removed.", undo)


@router.post("/batches/{batch_id}/heat-notes/{note_id}/put-back")
def answer_put_back_note(
    request: Request, batch_id: RecordId, note_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put a noted temperature back."""

    def act(work: UnitOfWork) -> str:
        events.put_back_note(work, note_id)
        return f"/batches/{batch_id}"

    return answer_button(request, save, raw, act)


def event_page(batch_id: int, number: int) -> FormPage:
    """Return the words of the page on which something is noted."""
    href = f"/batches/{batch_id}"
    return FormPage(
        title="Something happened",
        over=f"Batch {number}",
        lead="One tap notes it as of now.",
        action=f"{href}/events/new",
        draft=f"batch-{batch_id}-event",
        back_href=href,
    )


def _show_event(
    request: Request, session: Reading, batch_id: int, state: FormState[Any], status: int = 200
) -> Response:
    view = event_page(batch_id, batch_head(session, batch_id).number)
    return page(request, "pages/event_new.html", view, status, here=HERE, state=state, kinds=EVENTS)


@router.get("/batches/{batch_id}/events/new")
def show_event(request: Request, batch_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Ask what happened."""
    return _show_event(request, session, batch_id, blank_form(EventForm, units))


@router.post("/batches/{batch_id}/events/new")
def answer_event(
    request: Request, batch_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Note that something happened."""
    state = read_form(EventForm, raw, units)

    def act(work: UnitOfWork, form: EventForm) -> str:
        entry = events.EventEntry(form.event_kind, form.event_at, form.event_insisted, form.event_note)
        events.note_event(work, batch_id, entry)
        return f"/batches/{batch_id}"

    def show(again: FormState[Any], status: int, _conflict: Conflict | None) -> Response:
        return _show_event(request, session, batch_id, again, status)

    return answer_form(Save(request, save, show, f"batch-{batch_id}-event"), state, act)


@router.post("/batches/{batch_id}/events/{event_id}/remove")
def answer_remove_event(
    request: Request, batch_id: RecordId, event_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Take an event back."""

    def act(work: UnitOfWork) -> str:
        events.remove_event(work, event_id)
        return f"/batches/{batch_id}"

    undo = f"/batches/{batch_id}/events/{event_id}/put-back"
    return answer_button(request, save, raw, act, "It was removed.", undo)


@router.post("/batches/{batch_id}/events/{event_id}/put-back")
def answer_put_back_event(
    request: Request, batch_id: RecordId, event_id: RecordId, raw: RawForm, save: Saving
) -> Response:
    """Put an event back."""

    def act(work: UnitOfWork) -> str:
        events.put_back_event(work, event_id)
        return f"/batches/{batch_id}"

    return answer_button(request, save, raw, act)
