"""The card of a proved job, to hang by the forge: what to weigh, how hot, how long, and who proved it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from sqlmodel import Session

from model.errors import ModelError
from model.forecast import forecast
from model.units import kelvin_to_celsius
from webapp.forms.parts import DEFINITIONS
from webapp.services.batch_rows import get_row, row_id
from webapp.services.box_fill import fill_box
from webapp.services.change_words import LABELS
from webapp.services.dated_changes import changes_up_to_now
from webapp.services.fitting import current_belief
from webapp.services.heat_words import HEAT_COLOURS
from webapp.services.mark_drawing import draw_mark
from webapp.services.marking import MarkView, habit_of, steel_of
from webapp.services.plan_rows import goal_of
from webapp.services.plan_sums import case_of, for_depth, odds_at
from webapp.services.plan_tenths import in_ten
from webapp.services.processes import NotYet, process_of_item
from webapp.services.proved_jobs import DepthRead, ProvedJob, Run, proved_job
from webapp.services.put_right_words import tenths_of_mm
from webapp.services.reading_words import say_reading, say_where
from webapp.services.schedule_words import QUENCH_CAUTIONS
from webapp.services.sheets import Line
from webapp.services.shop_cautions import Caution, cautions_named
from webapp.services.showing import Showing, say_duration
from webapp.services.steel_marks import HOW, first_free, say_mark, where_to_put
from webapp.services.step_rules import CLOCK_FROM_WORDS
from webapp.services.way_in import ways_in
from webapp.services.whole_book import by_id
from webapp.services.words import label_of, range_text
from webapp.store.tables import Bar, Bath, Part, ShopChange, Step

DRAWS = 100
STILL_GOOD = 0.5
MOST_PROOFS = 3
"""Batches of each kind that half a sheet has room for; the rest are counted."""
WATCH = ("carbon_monoxide", "never_sealed_tight", "opening_hot")


@dataclass(frozen=True)
class ProofView:
    """One batch that proved the job, and what was measured of it."""

    batch: str
    day: str
    href: str
    measured: tuple[str, ...]


@dataclass(frozen=True)
class ProvedCardView:
    """The card of one part."""

    part: str
    part_href: str
    wanted: str
    lines: tuple[Line, ...]
    pack: tuple[Line, ...]
    mark: MarkView
    watch: tuple[Caution, ...]
    proofs: tuple[ProofView, ...]
    misses: tuple[ProofView, ...]
    more: str
    doubts: tuple[str, ...]
    foretold: str
    again_href: str


def view_proved_card(
    session: Session, part_id: int, now: datetime, showing: Showing
) -> ProvedCardView | None:
    """Return the card of a part that came right twice; None for one that did not yet."""
    part = get_row(session, Part, part_id)
    job = proved_job(session, part)
    if job is None:
        return None
    run = job.newest
    rows = run.rows
    pack, _ = fill_box(rows.box, rows.mix, rows.items, rows.parts, run.settings.soak_K or 0.0, showing)
    foretold, odds = _foretold(session, job, now, showing)
    return ProvedCardView(
        part=part.name,
        part_href=f"/parts/{part_id}",
        wanted=_wanted(part, showing),
        lines=tuple(_lines(run, showing)),
        pack=pack,
        mark=_mark(session, run),
        watch=cautions_named(*WATCH, *_of_bath(session, run)),
        proofs=tuple(_proof(one, part, showing) for one in job.right[:MOST_PROOFS]),
        misses=tuple(_proof(one, part, showing) for one in job.wrong[:MOST_PROOFS]),
        more=_more(job),
        doubts=tuple(_doubts(job, odds, showing)),
        foretold=foretold,
        again_href=f"/batches/{row_id(rows.batch)}/again",
    )


def _wanted(part: Part, showing: Showing) -> str:
    counted = label_of(DEFINITIONS, part.depth_definition).lower()
    case = f"case {range_text(showing, part.wanted_depth_low_m, part.wanted_depth_high_m)} {counted}"
    ground = f" after grinding {showing.length(part.grind_m)} off" if part.grind_m else ""
    skin = f", skin {part.wanted_hardness_HRC:g} HRC" if part.wanted_hardness_HRC is not None else ""
    return f"{case}{ground}{skin}"


def _lines(run: Run, showing: Showing) -> Iterator[Line]:
    """Yield what is done, in its order."""
    rows, told = run.rows, run.settings
    by_kind: dict[str, Step] = {step.kind: step for step in reversed(rows.steps)}
    yield Line("Box, mix", f"{rows.box.name}; {rows.mix.name}")
    if told.soak_K is not None:
        yield Line(
            "Heat", f"{showing.temperature(told.soak_K)}{_colour(told.soak_K)}; told by: {rows.heat.name}"
        )
    soak = by_kind.get("soak")
    if told.soak_s is not None and soak is not None:
        began = CLOCK_FROM_WORDS.get(soak.settings.get("clock_from", "at_heat"), "the work is at heat")
        yield Line("Time", f"{say_duration(told.soak_s)}, the clock started when {began}{_in_fire(by_kind)}")
    if told.reheat_K is not None:
        held = f", {say_duration(told.reheat_s)}" if told.reheat_s else ""
        yield Line("Reheat", f"{showing.temperature(told.reheat_K)}{_colour(told.reheat_K)}{held}")
    bath = rows.bath_names.get(told.bath_id or 0)
    if bath:
        way = ways_in([run.item])[0].title.lower()
        yield Line("Bath", f"{bath}, {way}")
    if told.temper_K is not None:
        held = f", {say_duration(told.temper_s)}" if told.temper_s else ""
        yield Line("Temper", f"{showing.temperature(told.temper_K)}{held}")


def _colour(heat_K: float) -> str:
    """Return the colour of a heat by the earlier of the two old lists, the nearest in it."""
    celsius = kelvin_to_celsius(heat_K)
    nearest = min(HEAT_COLOURS, key=lambda one: abs(one.earlier_list_C - celsius))
    return f", about {nearest.name}"


def _in_fire(by_kind: dict[str, Step]) -> str:
    """Return how long the box lay in the fire, where both ends are known."""
    first, last = by_kind.get("box_in"), by_kind.get("box_out")
    if first is None or last is None or first.started_at is None or last.started_at is None:
        return ""
    return f"; {say_duration((last.started_at - first.started_at).total_seconds())} in the fire"


def _mark(session: Session, run: Run) -> MarkView:
    """Return the mark that such a piece is offered first."""
    mark = first_free(steel_of(run.item), habit_of(session), ())
    place = run.item.steel_place or where_to_put(mark, run.item.shape)
    return MarkView(say_mark(mark), place, HOW[mark.kind], draw_mark(mark, run.item.shape))


def _of_bath(session: Session, run: Run) -> tuple[str, ...]:
    bath = session.get(Bath, run.settings.bath_id or 0)
    return QUENCH_CAUTIONS.get(bath.medium, ()) if bath else ()


def _proof(run: Run, part: Part, showing: Showing) -> ProofView:
    marks = {row_id(item): item for item in run.rows.items}
    said = [
        *((read.row, _say_depth(read, part, showing)) for read in run.depths),
        *((row, say_reading(row, showing)) for row in run.hardness),
    ]
    measured = tuple(
        f"{words} on {marks[row.item_id].mark} {marks[row.item_id].name}, {say_where(row, showing)}"
        for row, words in said
    )
    batch = run.rows.batch
    return ProofView(f"Batch {batch.number}", showing.day(batch.day), f"/batches/{batch.id}", measured)


def _say_depth(read: DepthRead, part: Part, showing: Showing) -> str:
    """Return a case depth as it was seen, or by which hardness it was counted."""
    if read.row.kind != "traverse":
        return say_reading(read.row, showing)
    by = label_of(DEFINITIONS, part.depth_definition).lower()
    return f"deeper than was read, {by}" if read.depth_m is None else f"{showing.length(read.depth_m)} {by}"


def _more(job: ProvedJob) -> str:
    """Return how often it came right of how many, where not all of it is listed."""
    if max(len(job.right), len(job.wrong)) <= MOST_PROOFS:
        return ""
    return f"In all {len(job.right)} of {len(job.right) + len(job.wrong)} such batches came right."


def _doubts(job: ProvedJob, odds: float | None, showing: Showing) -> Iterator[str]:
    """Yield what speaks against making it so again: changes since, misses, what the fit now says."""
    rows = job.newest.rows
    for change in rows.changes:
        if change.changed_on > rows.batch.day and _touches(job, change):
            yield f"Changed since, on {showing.day(change.changed_on)}: {_thing(job, change)}."
    if job.wrong:
        yield "The same settings did not come right every time: see below."
    if odds is not None and odds < STILL_GOOD:
        yield (
            f"By all that is known now, a case as wanted is {in_ten(round(10.0 * odds))}: plan the part "
            "again before you trust this card."
        )


def _touches(job: ProvedJob, change: ShopChange) -> bool:
    rows, told = job.newest.rows, job.newest.settings
    used = {step.instrument_id for step in rows.steps} | {rows.fire.heat_instrument_id}
    return (
        change.forge_id == rows.fire.forge_id
        or change.box_id == told.box_id
        or change.mix_id == told.mix_id
        or (change.bath_id is not None and change.bath_id == told.bath_id)
        or (change.instrument_id is not None and change.instrument_id in used)
    )


def _thing(job: ProvedJob, change: ShopChange) -> str:
    rows = job.newest.rows
    names = {
        "forge": rows.forge.name,
        "box": rows.box.name,
        "mix": rows.mix.name,
        "bath": rows.bath_names.get(change.bath_id or 0, "bath"),
        "instrument": rows.heat_names.get(change.instrument_id or 0, "instrument"),
    }
    what = next(name for key, name in names.items() if getattr(change, f"{key}_id") is not None)
    return f"{what}, {LABELS.get(change.kind, change.kind).lower()}"


def _foretold(session: Session, job: ProvedJob, now: datetime, showing: Showing) -> tuple[str, float | None]:
    """Return the case that the next such batch is foretold, and the odds that it is as wanted."""
    run, part = job.newest, job.part
    bar = session.get(Bar, run.item.bar_id)
    if bar is None:
        return "", None
    process = process_of_item(run.rows, run.item, bar, by_id(session, Bath), now)
    if isinstance(process, NotYet):
        return "", None
    next_one = replace(process.keys, fire="planned", loosened=changes_up_to_now(session))
    process = replace(process, keys=next_one)
    goal = goal_of(part)
    try:
        constants = current_belief(session).belief.constants(process, DRAWS)
        case_m = case_of(goal, forecast(for_depth(goal, process), constants), constants.rim_carbon_wt)
    except ModelError:
        return "", None
    low, high = (float(end) for end in np.quantile(np.maximum(case_m, 0.0), (0.05, 0.95)))
    odds = odds_at(goal, case_m)
    words = (
        f"The next one is foretold a case of {tenths_of_mm(showing, low, high)}, nine times in ten; "
        f"as wanted {in_ten(round(10.0 * odds[1]))}."
    )
    return words, odds[1]
