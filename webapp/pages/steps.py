"""The steps of a batch: noting the next one, putting one right, taking one back."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.common import TimedForm
from webapp.forms.kit import Form, FormState, form_of, read_form
from webapp.forms.steps import STEP_FORMS, MeasuredForm
from webapp.pages.batch_page import show_batch_page, step_form
from webapp.pages.saving import FormPage, Save, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import Conflict, version_of
from webapp.services import steps
from webapp.services.batch_values import batch_head, step_for_edit
from webapp.services.cautions import cautions_for
from webapp.services.choices import step_choices
from webapp.services.step_entries import step_entry
from webapp.services.step_rules import ACTION_WORDS, STEP_WORDS
from webapp.services.steps import StepEntry
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
BATCH_ACTIONS = ("box_in", "at_heat", "box_out", "reheat", "quench", "temper", "measured")


def known_action(action: str) -> str:
    """Return the action, or say that there is no such page."""
    if action not in BATCH_ACTIONS:
        raise HTTPException(404)
    return action


def step_page(batch_id: int, number: int, action: str) -> FormPage:
    """Return the words of the page of one step."""
    href = f"/batches/{batch_id}"
    return FormPage(
        title=ACTION_WORDS[action],
        over=f"Batch {number}",
        action=f"{href}/steps/{action}",
        draft=f"batch-{batch_id}-{action}",
        back_href=href,
        go=ACTION_WORDS[action],
        cautions=cautions_for(action),
    )


@router.get("/batches/{batch_id}/steps/{action}")
def show_step(
    request: Request, batch_id: RecordId, action: str, session: Reading, units: ShopUnits
) -> Response:
    """Show the form of one step alone."""
    head = batch_head(session, batch_id)
    state = step_form(session, batch_id, known_action(action), head.version, units)
    return show_form(request, step_page(batch_id, head.number, action), state)


@router.post("/batches/{batch_id}/steps/{action}")
def answer_step(
    request: Request,
    batch_id: RecordId,
    action: str,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
    save: Saving,
) -> Response:
    """Note the next step of a batch."""
    model: type[Form] = STEP_FORMS.get(known_action(action), MeasuredForm)
    state = read_form(model, raw, units).with_choices(step_choices(session, action))

    def act(work: UnitOfWork, form: Form) -> str:
        entry = step_entry(action, form, state.typed) if isinstance(form, TimedForm) else StepEntry()
        steps.record_step(work, batch_id, action, entry, state.version)
        return f"/batches/{batch_id}"

    def show(again: FormState[Any], status: int, conflict: Conflict | None) -> Response:
        head = batch_head(session, batch_id)
        if head.next_action != action:
            return show_form(request, step_page(batch_id, head.number, action), again, status, conflict)
        forms = {"step": again}
        return show_batch_page(request, session, shop, units, clock, batch_id, status, conflict, forms)

    return answer_form(Save(request, save, show, f"batch-{batch_id}-{action}"), state, act)


@router.get("/steps/{step_id}")
def show_correction(request: Request, step_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form that puts a step right."""
    known = step_for_edit(session, step_id)
    state = form_of(known.form, known.values, units, typed=known.typed, version=known.version)
    view = correction_page(step_id, known.kind, known.back_href)
    return show_form(request, view, state.with_choices(step_choices(session, known.kind)))


@router.post("/steps/{step_id}")
def answer_correction(
    request: Request, step_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Put a step right."""
    known = step_for_edit(session, step_id)
    state = read_form(known.form, raw, units).with_choices(step_choices(session, known.kind))

    def act(work: UnitOfWork, form: TimedForm) -> str:
        entry = step_entry(known.kind, form, state.typed)
        steps.correct_step(work, step_id, entry, known.form.model_fields, state.version)
        return known.back_href

    view = correction_page(step_id, known.kind, known.back_href)
    return answer_form(on_page(request, save, view), state, act)


def correction_page(step_id: int, kind: str, back_href: str) -> FormPage:
    """Return the words of the page that puts a step right."""
    return FormPage(
        title=f"Correct: {STEP_WORDS[kind].lower()}",
        lead="An empty time means that nobody knows when.",
        action=f"/steps/{step_id}",
        draft=f"step-{step_id}",
        back_href=back_href,
    )


@router.post("/steps/{step_id}/undo")
def answer_undo(
    request: Request, step_id: RecordId, raw: RawForm, session: Reading, save: Saving
) -> Response:
    """Take back the last step."""
    back_href = step_for_edit(session, step_id).back_href

    def act(work: UnitOfWork) -> str:
        steps.undo_step(work, step_id, version_of(raw))
        return back_href

    return answer_button(request, save, raw, act, "The step was taken back.", f"/bin/step/{step_id}/put-back")


@router.post("/batches/{batch_id}/reopen")
def answer_reopen(request: Request, batch_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take back that a batch was measured or given up."""

    def act(work: UnitOfWork) -> str:
        steps.reopen_batch(work, batch_id, version_of(raw))
        return f"/batches/{batch_id}"

    return answer_button(request, save, raw, act)
