"""From the times of a batch to a reading of its box's warm-up."""

from __future__ import annotations

from model.box_course import warm_up
from model.evidence import WarmUpCheck
from webapp.services.batch_rows import BatchRows, aware
from webapp.services.box_rows import fill_of, load_of, packed
from webapp.services.dated_changes import before_fire
from webapp.services.processes import LAG_SHARES
from webapp.store.tables import Step

CLOCKS = {"thermocouple": "at_heat", "witness": "at_heat", "evenly_red": "evenly_red"}
TIMED = ("box_in", "soak")  # the steps whose beginnings are held against one another
# A time further off than this, either way, is taken for a slip or for another fire than was lit first.
MOST_TIMES = 5.0


def warm_up_check(rows: BatchRows) -> WarmUpCheck | None:
    """Return what was timed of a batch whose clock was started by what was seen of its box or work."""
    check = _check(rows)
    if check is None or not 1.0 / MOST_TIMES < check.noted_s / check.books_s < MOST_TIMES:
        return None
    return check


def _check(rows: BatchRows) -> WarmUpCheck | None:
    """Return the reading of one batch; None where it was not timed, or its clock says nothing of it."""
    steps = {step.kind: step for step in reversed(rows.steps)}
    went_in, soak = (steps.get(kind) for kind in TIMED)
    box = packed(rows.box, rows.mix, load_of(rows.items, rows.parts), fill_of(rows.box, rows.steps))
    if went_in is None or soak is None or box is None or rows.batch.left_out_why:
        return None
    seen_by = _seen_by(soak, rows.heat.method)
    if not seen_by or soak.temperature_K is None:
        return None
    if went_in.started_at is None or soak.started_at is None:
        return None
    noted_s = (aware(soak.started_at) - aware(went_in.started_at)).total_seconds()
    gone = 1.0 - LAG_SHARES[CLOCKS[seen_by]]
    books_s = gone * warm_up(box, soak.temperature_K).at_heat_s
    loosened = before_fire(rows.changes, rows.batch.day, rows.fire.forge_id)
    return WarmUpCheck(str(rows.box.id), books_s, noted_s, seen_by, loosened)


def _seen_by(soak: Step, heat_method: str) -> str:
    """Return what said how far the warm-up had come when the clock was started, "" where nothing did."""
    clock = soak.settings.get("clock_from")
    if clock == "at_heat":
        return "thermocouple" if heat_method == "thermocouple" else "witness"
    return "evenly_red" if clock == "evenly_red" else ""
