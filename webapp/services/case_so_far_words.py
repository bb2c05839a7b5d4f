"""The case so far in words: how deep, what is wanted, how much longer, and what that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isinf

from model.planner import ROUNDED_TO_S, Goal
from webapp.forms.parts import DEFINITIONS
from webapp.services.batch_rows import BatchRows, row_id
from webapp.services.case_so_far_sums import CaseFound
from webapp.services.heat_doubts import contradictions
from webapp.services.plan_rows import goal_of
from webapp.services.showing import Showing, plural, say_duration
from webapp.services.words import label_of
from webapp.store.tables import Item, Part

WORTH_SAYING_S = 900.0
WORTH_SAYING_SHARE = 0.1
"""A planned end that differs by less, or by less than this share of the soak, stands as it is. Own choice."""
FIRE_OUT = "The fire is out: nothing is added until it is lit again."
TOO_LONG = "it would take more than ten hours more at this heat: hotter, or a livelier pack next time"
SKETCH = "Counted by carbon only, as a sketch: the hardness itself comes of the quench."
BY_HARDNESS = (
    "A file or a tester on the pin counts through its whole quench; a depth seen on a break is surer."
)
ROUGH = "The pin fits badly to what was noted: it is trusted less than usual."


@dataclass(frozen=True)
class Replan:
    """A new length for the soak: what the button says, and what it sets."""

    words: str
    soak_s: int


@dataclass(frozen=True)
class CaseSoFarView:
    """The case so far; `why_not` says what is missing where nothing can be said."""

    href: str
    number: int
    why_not: str = ""
    of: str = ""
    depth: str = ""
    band: str = ""
    wanted: str = ""
    more: str = ""
    against_plan: str = ""
    at: str = ""
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    replan: Replan | None = None


def say_not_yet(rows: BatchRows, why: str) -> CaseSoFarView:
    """Return the view of a batch of which nothing can be said yet."""
    return CaseSoFarView(_href(rows), rows.batch.number, why_not=why)


def _href(rows: BatchRows) -> str:
    return f"/batches/{row_id(rows.batch)}"


def say_case(
    rows: BatchRows,
    item: Item,
    part: Part | None,
    found: CaseFound,
    clock: tuple[float, float | None, bool],
    now: datetime,
    showing: Showing,
) -> CaseSoFarView:
    """Return the case so far in words.

    `clock` is how long the soak has lasted by its clock, how long it is to last, and whether the fire is out.
    """
    so_far_s, planned_s, is_out = clock
    goal = goal_of(part) if part else None
    needed_s = None if goal is None or is_out else _needed_s(goal, found)
    return CaseSoFarView(
        href=_href(rows),
        number=rows.batch.number,
        of=f"{item.mark} {item.name}".strip() + (f", {_counted(goal)}" if goal else ", as seen on a break"),
        depth=showing.length(found.middle_m),
        band=_range(showing, found.low_m, found.high_m),
        wanted=_wanted(goal, showing),
        more=FIRE_OUT if is_out else _more(goal, found, needed_s),
        against_plan=_against_plan(needed_s, so_far_s, planned_s),
        at=showing.time(now),
        doubts=tuple(contradictions(rows.heat_notes, showing).values()),
        notes=tuple(_notes(rows, found)),
        replan=_replan(needed_s, so_far_s, planned_s, now, showing),
    )


def _counted(goal: Goal) -> str:
    return label_of(DEFINITIONS, goal.definition).lower()


def _range(showing: Showing, low_m: float, high_m: float) -> str:
    low, high = showing.length(low_m), showing.length(high_m)
    return f"{low.removesuffix(showing.length_unit).strip()} to {high}"


def _wanted(goal: Goal | None, showing: Showing) -> str:
    if goal is None:
        return ""
    before = " before grinding" if goal.grinding_allowance_m else ""
    return f"{_range(showing, *goal.window_m)}{before}"


def _needed_s(goal: Goal, found: CaseFound) -> float:
    """Return how much longer to hold for the middle of what is wanted, to five minutes [s]."""
    low_m, high_m = goal.window_m
    hold_s = found.hold_for(0.5 * (low_m + high_m))
    return hold_s if isinf(hold_s) else ROUNDED_TO_S * round(hold_s / ROUNDED_TO_S)


def _more(goal: Goal | None, found: CaseFound, needed_s: float | None) -> str:
    """Return how much longer to hold, the slow cool and the reheat counted in."""
    if goal is None or needed_s is None:
        return "No part says how deep it should be."
    low_m, high_m = goal.window_m
    if found.done_after(0.0) > high_m:
        return "deeper than wanted already: take the box out now"
    if isinf(needed_s):
        return TOO_LONG
    if found.done_after(0.0) >= low_m:
        middle = f"; {say_duration(needed_s)} more for the middle of it" if needed_s else ""
        return f"inside that if it comes out now{middle}"
    return f"about {say_duration(needed_s)} more at this heat"


def _difference_s(needed_s: float | None, so_far_s: float, planned_s: float | None) -> float | None:
    """Return by how much the hold that is needed passes the planned end [s]; None where that says nothing."""
    if needed_s is None or isinf(needed_s) or planned_s is None:
        return None
    late_s = so_far_s + needed_s - planned_s
    return late_s if abs(late_s) > max(WORTH_SAYING_S, WORTH_SAYING_SHARE * planned_s) else None


def _against_plan(needed_s: float | None, so_far_s: float, planned_s: float | None) -> str:
    late_s = _difference_s(needed_s, so_far_s, planned_s)
    if late_s is None:
        return ""
    rounded_s = ROUNDED_TO_S * round(abs(late_s) / ROUNDED_TO_S)
    return f"That is {say_duration(rounded_s)} {'longer' if late_s > 0 else 'shorter'} than the clock has it."


def _replan(
    needed_s: float | None, so_far_s: float, planned_s: float | None, now: datetime, showing: Showing
) -> Replan | None:
    """Return what "Re-plan the rest" would set; None where the clock is near enough, or no end would do."""
    if needed_s is None or isinf(needed_s):
        return None
    if planned_s is not None and _difference_s(needed_s, so_far_s, planned_s) is None:
        return None
    out = showing.time(now + timedelta(seconds=needed_s))
    return Replan(f"Re-plan the rest: out at {out}", round(so_far_s + needed_s))


def _notes(rows: BatchRows, found: CaseFound) -> list[str]:
    """Return what the number rests on."""
    seen = f" and {plural(found.read, 'reading')} of a drawn piece" if found.read else ""
    noted = plural(len(rows.heat_notes), "noted temperature")
    notes = [f"From the soak's heat, {noted}{seen}. Nine in ten lie in the band."]
    notes += [SKETCH] if found.is_sketch else []
    notes += [ROUGH] if found.is_rough else []
    notes += [BY_HARDNESS] if found.has_hardness else []
    return notes
