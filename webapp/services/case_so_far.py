"""The case so far of a batch in its soak: how deep, how deep it is wanted, how much longer to hold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import Session

from model.errors import ModelError
from model.narrowed import Taken
from model.process import Carburize, History, HotStep, Process, Quench, Reheat, Temper
from model.process import Step as ProcessStep
from model.readings import Observation
from model.usable import why_not_learnt
from webapp.services.batch_rows import BatchRows, aware, load_batch, own_steps, row_id
from webapp.services.case_so_far_sums import CaseAsked, CaseFound, as_weighed, work_out_case
from webapp.services.case_so_far_words import CaseSoFarView, say_case, say_not_yet
from webapp.services.fitting import current_belief
from webapp.services.heat_doubts import contradict
from webapp.services.lives import story_of_item
from webapp.services.observations import told_of_batch
from webapp.services.plan_rows import USUAL_REHEAT_S, USUAL_TEMPER_S, goal_of
from webapp.services.plan_sums import Believed
from webapp.services.processes import NotYet, quench_in, slow_cool, supply_of_mix
from webapp.services.run_clock import planned_soak_s, soak_so_far_s
from webapp.services.showing import Showing
from webapp.services.soak_pauses import open_pause, pauses_of
from webapp.services.step_rules import IN_THE_FIRE
from webapp.services.whole_book import by_id
from webapp.store.tables import Bar, Bath, Item, Part, Plan, Step

JUST_BEGUN_S = 120.0
JUST_BEGUN = "the soak has just begun"
NOTHING_IN_IT = "nothing is on the packing list that is still in the box"
NOT_SOAKING = "the soak clock is not running"


@dataclass(frozen=True)
class Watched:
    """The piece that the case is told of, and the part it should become; None where nobody said."""

    item: Item
    part: Part | None


def view_case_so_far(session: Session, batch_id: int, now: datetime, showing: Showing) -> CaseSoFarView:
    """Return the case so far of the part that the plan is for, or of the pin."""
    rows = load_batch(session, batch_id)
    minute = now.replace(second=0, microsecond=0)
    soak = next((step for step in rows.steps if step.kind == "soak"), None)
    if rows.batch.state != IN_THE_FIRE or soak is None or soak.started_at is None:
        return say_not_yet(rows, NOT_SOAKING)
    if (minute - aware(soak.started_at)).total_seconds() < JUST_BEGUN_S:
        return say_not_yet(rows, JUST_BEGUN)
    watched = watched_piece(session, rows)
    if watched is None:
        return say_not_yet(rows, NOTHING_IN_IT)
    asked = _ask(session, rows, soak, watched, minute)
    if isinstance(asked, NotYet):
        return say_not_yet(rows, asked.why)
    try:
        found = work_out_case(asked, Believed.of(current_belief(session, str(rows.batch.fire_id)).belief))
    except ModelError as problem:
        return say_not_yet(rows, str(problem))
    return _say(rows, soak, watched, found, minute, showing)


def watched_piece(session: Session, rows: BatchRows) -> Watched | None:
    """Return the plan's part, else any part, else the pin, of what still lies in the box."""
    inside = [item for item in rows.items if not own_steps(rows, item) and not item.scrapped_why]
    planned = rows.plan.part_id if rows.plan else None

    def rank(item: Item) -> tuple[bool, bool, bool]:
        return item.part_id != planned or planned is None, item.part_id is None, not item.is_pin

    if not inside:
        return None
    item = min(inside, key=rank)
    part = session.get(Part, item.part_id or planned or 0)
    return Watched(item, part)


def _ask(
    session: Session, rows: BatchRows, soak: Step, watched: Watched, now: datetime
) -> CaseAsked | NotYet:
    """Return what the sums are asked."""
    item, baths = watched.item, by_id(session, Bath)
    bar = by_id(session, Bar)[item.bar_id]
    story = story_of_item(rows, item, bar, baths, now)
    if isinstance(story, NotYet):
        return story
    process = story.whole()
    rest = _rest(rows, process)
    definition = goal_of(watched.part).definition if watched.part else "rim"
    return CaseAsked(
        process,
        _readings(session, rows, now),
        definition,
        rest,
        hold_heat_K(rows, soak),
        _route(rows.plan, process, rest, baths),
    )


def hold_heat_K(rows: BatchRows, soak: Step) -> float:
    """Return the heat that the soak is held at: noted last while a fire burned, else as it was started.

    Of two notes that cannot both be right, the one nearer the heat it was started at.
    """
    began, pauses = soak.started_at and aware(soak.started_at), pauses_of(rows.fire_events)
    burning = [
        note
        for note in sorted(rows.heat_notes, key=lambda note: aware(note.noted_at))
        if began is not None
        and aware(note.noted_at) >= began
        and not any(
            pause.began <= aware(note.noted_at)
            and (pause.ended is None or aware(note.noted_at) <= pause.ended)
            for pause in pauses
        )
    ]
    started_K = soak.temperature_K or 0.0
    last = burning[-2:]
    if len(last) == 2 and not contradict(*last):
        last = last[1:]
    return min((note.temperature_K for note in last), key=lambda K: abs(K - started_K), default=started_K)


def _rest(rows: BatchRows, process: Process) -> tuple[HotStep, ...]:
    """Return the hot steps that the plan has after the soak."""
    plan, soak = rows.plan, process.steps[-1]
    if plan is None or plan.reheat_K is None or not isinstance(soak, Carburize):
        return ()
    cool = slow_cool(soak.history.temperature_K[-1], supply_of_mix(rows.mix), process.box)
    return cool, Reheat(History.hold(plan.reheat_K, plan.reheat_s or USUAL_REHEAT_S))


def _route(
    plan: Plan | None, process: Process, rest: tuple[HotStep, ...], baths: dict[int, Bath]
) -> Process | None:
    """Return the plan's whole route for this piece, with its quench; None where no plan names one."""
    bath = baths.get(plan.bath_id or 0) if plan else None
    soak = process.steps[-1]
    if plan is None or bath is None or plan.soak_s <= 0.0 or not isinstance(soak, Carburize):
        return None
    tempers = (Temper(plan.temper_K, plan.temper_s or USUAL_TEMPER_S),) if plan.temper_K else ()
    quench: Quench = quench_in(bath)
    planned = replace(soak, history=History.hold(plan.temperature_K, plan.soak_s))
    steps: tuple[ProcessStep, ...] = (planned, *rest, quench, *tempers)
    return replace(process, steps=steps)


def _readings(session: Session, rows: BatchRows, now: datetime) -> tuple[Taken, ...]:
    """Return what was read on pieces that were drawn from this soak: by eye, by file, by a tester."""
    learnt = {int(key) for key in current_belief(session).summary.get("used", ())}
    drawn = [row_id(item) for item in rows.items if own_steps(rows, item)]
    if not any(rows.readings.get(item_id) for item_id in drawn):
        return ()
    told = told_of_batch(session, rows, now)
    ids = [row_id(row) for item_id in drawn for row in rows.readings.get(item_id, []) if row.life == 1]
    return tuple(
        as_weighed(Taken(one, reading_id in learnt))
        for reading_id in ids
        if isinstance(one := told[reading_id], Observation) and why_not_learnt(one) is None
    )


def _say(
    rows: BatchRows, soak: Step, watched: Watched, found: CaseFound, now: datetime, showing: Showing
) -> CaseSoFarView:
    assert soak.started_at is not None  # looked at by the caller
    so_far_s = soak_so_far_s(rows, aware(soak.started_at), now)
    is_out = open_pause(pauses_of(rows.fire_events)) is not None
    planned_s = planned_soak_s(rows, soak)
    return say_case(rows, watched.item, watched.part, found, (so_far_s, planned_s, is_out), now, showing)
