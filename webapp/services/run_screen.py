"""What the run screen asks of the server between two looks: the time, whether anything changed, a new end."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256

from webapp.services.batch_rows import BatchRows, steps_of
from webapp.services.run_clock import noted_ahead
from webapp.services.showing import Showing
from webapp.services.step_rules import StepRefused
from webapp.store.tables import Record, Step
from webapp.store.unit_of_work import UnitOfWork

NO_SOAK = "The soak clock is not running any more. Look at the batch's page again."


def mark_of(rows: BatchRows, now: datetime) -> str:
    """Return a mark that changes whenever something of a batch did, or its clock is to be trusted no more."""
    records: list[Record] = [rows.batch, *rows.steps, *rows.heat_notes, *rows.fire_events, *rows.items]
    for steps in rows.item_steps.values():
        records += steps
    for readings in rows.readings.values():
        records += readings
    told = [(type(record).__name__, record.id, record.version) for record in records]
    if noted_ahead(rows, now) is not None:
        told.append(("clock", 0, 0))
    return sha256(repr(told).encode()).hexdigest()[:16]


def plan_again(work: UnitOfWork, batch_id: int, soak_s: float) -> Step:
    """Set how long the soak that is running is to be; its clock counts to that from now on."""
    steps = steps_of(work.session, batch_id=batch_id)
    soak = next((step for step in steps if step.kind == "soak"), None)
    if soak is None or soak.started_at is None or any(step.kind == "box_out" for step in steps):
        raise StepRefused("", NO_SOAK)
    return work.change(soak, settings={**soak.settings, "planned_s": soak_s})


def beat(rows: BatchRows, now: datetime, showing: Showing) -> dict[str, str]:
    """Return the server's time, as a clock in the shop shows it too, and the batch's mark."""
    return {"now": now.isoformat(), "at": showing.time(now), "mark": mark_of(rows, now)}
