"""A batch's fields as its forms take them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from webapp.forms.common import TimedForm
from webapp.forms.own_lines import own_values
from webapp.forms.steps import STEP_FORMS, BoxOutCorrectionForm, DrawnCorrectionForm, SoakCorrectionForm
from webapp.services.batch_rows import get_row, load_batch, steps_of
from webapp.services.batches import usual_entry
from webapp.services.step_entries import step_values
from webapp.services.step_rules import StepRefused, next_actions
from webapp.store.tables import Batch, Step

EDIT_FORMS: dict[str, type[TimedForm]] = {
    **STEP_FORMS,
    "soak": SoakCorrectionForm,
    "box_out": BoxOutCorrectionForm,
    "drawn": DrawnCorrectionForm,
}


def offered_values(session: Session, plan_id: int | None = None) -> dict[str, Any]:
    """Return what a new batch is offered: the plan's choices, else those of the last batch."""
    try:
        entry = usual_entry(session, plan_id)
    except StepRefused:
        return {"with_pin": True, "plan_id": plan_id}
    return {**vars(entry), "with_pin": True}


def batch_values(session: Session, batch_id: int) -> tuple[dict[str, Any], dict[str, Any], int]:
    """Return a batch's fields, what was typed of them, and its version."""
    rows = load_batch(session, batch_id)
    values = {
        "box_id": rows.box.id,
        "mix_id": rows.mix.id,
        "forge_id": rows.forge.id,
        "heat_instrument_id": rows.heat.id,
        "day": rows.batch.day,
        "note": rows.batch.note,
        **own_values(rows.batch.own_lines),
    }
    return values, rows.batch.typed, rows.batch.version


@dataclass(frozen=True)
class BatchHead:
    """What the page of one step must know of its batch."""

    number: int
    version: int
    next_action: str


def batch_head(session: Session, batch_id: int) -> BatchHead:
    """Return a batch's number, version and likeliest next step."""
    batch = get_row(session, Batch, batch_id)
    kinds = [step.kind for step in steps_of(session, batch_id=batch_id)]
    actions = next_actions(batch.state, kinds)
    return BatchHead(batch.number, batch.version, actions[0] if actions else "")


@dataclass(frozen=True)
class StepForEdit:
    """A step as the form that puts it right takes it."""

    kind: str
    form: type[TimedForm]
    values: dict[str, Any]
    typed: dict[str, str]
    version: int
    back_href: str


def step_for_edit(session: Session, step_id: int) -> StepForEdit:
    """Return a step with the form that fits its kind."""
    step = get_row(session, Step, step_id)
    form = EDIT_FORMS.get(step.kind, TimedForm)
    owner = f"/batches/{step.batch_id}" if step.batch_id else f"/items/{step.item_id}"
    return StepForEdit(step.kind, form, step_values(step, form), step.typed, step.version, owner)
