"""Tasks laid out on the shop's clock: a block stays on one day, and no fire burns after one leaves.

Lengths of time are counted on the real clock (UTC); opening and leaving are read on the wall, so that a
change of the clocks in the night moves neither.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import groupby
from typing import Final

from webapp.services.schedule_tasks import EVENING, DRYING_s, Task
from webapp.zone import day_of, to_utc

TOO_EARLY: Final = "too early"
MOVED_ON: Final = "moved on"
HELD_BACK: Final = "held back"
SHOP_OPENS: Final = "shop opens"
DAYS_TRIED: Final = 3


@dataclass(frozen=True)
class Hours:
    """When the shop opens, when one leaves and when a fire is usually lit, on its own clock."""

    opens_at: time
    leaves_at: time
    zone: str
    starts_at: time | None = None

    def opening(self, day: date) -> datetime:
        """Return the moment the shop opens on a day."""
        return to_utc(datetime.combine(day, self.opens_at), self.zone)

    def starting(self, day: date) -> datetime:
        """Return the moment a day of fire usually begins; never before the shop opens."""
        at = to_utc(datetime.combine(day, self.starts_at), self.zone) if self.starts_at else None
        return max(at, self.opening(day)) if at else self.opening(day)

    def leaving(self, day: date) -> datetime:
        """Return the moment one leaves on a day."""
        return to_utc(datetime.combine(day, self.leaves_at), self.zone)

    def day(self, moment: datetime) -> date:
        """Return the shop's calendar day at a moment."""
        return day_of(moment, self.zone)


@dataclass(frozen=True)
class Line:
    """A task with its times: low and high are where its begin may fall, `note` why it is not as asked."""

    task: Task
    begins: datetime
    ends: datetime
    low: datetime | None = None
    high: datetime | None = None
    note: str = ""


@dataclass(frozen=True)
class Stop:
    """A block that no day is long enough for: how long it takes at worst, and how long the day is."""

    block: str
    begins: datetime
    needs_s: float
    has_s: float


@dataclass(frozen=True)
class Laid:
    """The lines that found a place, in order, and what stopped the rest."""

    lines: tuple[Line, ...]
    stop: Stop | None = None


def lay_out(tasks: Iterable[Task], start: datetime, by_hand: Mapping[str, datetime], hours: Hours) -> Laid:
    """Return tasks with their times.

    start : when the day of the fire begins; what stands before it is done the evening before
    by_hand : the begin of lines that were moved, by key; what follows moves with them
    """
    blocks = [tuple(block) for block in _blocks(tasks)]
    laid = _laid(blocks, start, start, by_hand, hours)
    first = next((line for line in laid.lines if _is_of_the_day(line.task)), None)
    if first is None or hours.day(first.begins) <= hours.day(start):
        return laid
    # the fire went to a later day, and its evening before goes with it; why it went is known already
    again = _laid(blocks, start, first.begins, by_hand, hours)
    lines = (replace(line, note=first.note) if line.task is first.task else line for line in again.lines)
    return replace(again, lines=tuple(lines))


def _laid(
    blocks: list[tuple[Task, ...]],
    start: datetime,
    day_begins: datetime,
    by_hand: Mapping[str, datetime],
    hours: Hours,
) -> Laid:
    lines: list[Line] = []
    ready = _evening_begins(blocks, day_begins, hours)
    for block in blocks:
        has_begun = any(_is_of_the_day(line.task) for line in lines)
        asked = {block[0].key: start, **by_hand} if _is_of_the_day(block[0]) and not has_begun else by_hand
        found = _placed(block, ready, asked, hours)
        if isinstance(found, Stop):
            return Laid(tuple(lines), found)
        lines.extend(found)
        ready = lines[-1].ends
    return Laid(tuple(lines))


def _is_of_the_day(task: Task) -> bool:
    """Tell whether a task belongs to the day of the fire, not to the evening before it."""
    return task.needs_hand and task.block != EVENING


def _blocks(tasks: Iterable[Task]) -> list[list[Task]]:
    """Return tasks by block; one that belongs to none stands alone."""
    numbered = enumerate(tasks)
    return [
        [task for _, task in group]
        for _, group in groupby(numbered, key=lambda one: one[1].block or f"alone {one[0]}")
    ]


def _evening_begins(blocks: list[tuple[Task, ...]], start: datetime, hours: Hours) -> datetime:
    """Return when the evening before must begin, so that all is shut when one leaves and dry by the start."""
    evening = blocks[0] if blocks and blocks[0][0].block == EVENING else ()
    if not evening:
        return start
    drying_s = DRYING_s if len(blocks) > 1 and blocks[1][0].kind == "dry" else 0.0
    before = hours.leaving(hours.day(start) - timedelta(days=1))
    end = min(before, start - timedelta(seconds=drying_s))
    return end - timedelta(seconds=sum(task.seconds for task in evening))


def _placed(
    block: tuple[Task, ...], ready: datetime, by_hand: Mapping[str, datetime], hours: Hours
) -> list[Line] | Stop:
    """Return a block where it first fits, or what stops it."""
    first = block[0]
    if not _is_of_the_day(first):
        return _in_a_row(block, ready, by_hand)
    wished = max(ready, by_hand.get(first.key, ready))
    is_lit = any(task.is_lit for task in block)
    if not is_lit and first.key in by_hand:
        return _in_a_row(block, ready, by_hand)
    for moved, held in ((by_hand, False), (_first_only(by_hand, first), True)):
        for begin in _begins(wished, hours):
            lines = _in_a_row(block, begin, moved)
            if _latest(lines) <= hours.leaving(hours.day(begin)):
                return _noted(lines, begin, wished, by_hand, hours, held)
    return _stop(block, wished, hours)


def _first_only(by_hand: Mapping[str, datetime], first: Task) -> dict[str, datetime]:
    return {key: moment for key, moment in by_hand.items() if key == first.key}


def _begins(wished: datetime, hours: Hours) -> Iterable[datetime]:
    """Yield the moments a block may begin: as wished if the shop is open, then each next opening."""
    day = hours.day(wished)
    for later in range(DAYS_TRIED):
        yield max(wished, hours.opening(day + timedelta(days=later)))


def _in_a_row(block: tuple[Task, ...], begin: datetime, by_hand: Mapping[str, datetime]) -> list[Line]:
    """Return tasks one after the other; one moved by hand begins there, once what is before it is done."""
    lines: list[Line] = []
    at = begin
    early_s = late_s = 0.0
    for task in block:
        wished = by_hand.get(task.key)
        begins = max(at, wished) if wished is not None else at
        low, high = (begins - timedelta(seconds=early_s), begins + timedelta(seconds=late_s))
        is_unsure = early_s > 0 or late_s > 0
        note = TOO_EARLY if wished is not None and wished < at else ""
        ends = begins + timedelta(seconds=task.seconds)
        if lines:
            lines[-1] = replace(lines[-1], ends=begins)
        lines.append(Line(task, begins, ends, low if is_unsure else None, high if is_unsure else None, note))
        early_s, late_s = _doubt_after(task, early_s, late_s)
        at = ends
    return lines


def _doubt_after(task: Task, early_s: float, late_s: float) -> tuple[float, float]:
    """Return by how much the end of a task may come sooner or later; only warm-up and soak change it."""
    if task.kind in ("box_in", "at_heat"):
        return task.early_s, task.late_s
    return early_s, late_s


def _latest(lines: list[Line]) -> datetime:
    """Return when a block ends at worst."""
    last = lines[-1]
    late_s = (last.high - last.begins).total_seconds() if last.high else 0.0
    return last.ends + timedelta(seconds=late_s)


def _noted(
    lines: list[Line],
    begin: datetime,
    wished: datetime,
    by_hand: Mapping[str, datetime],
    hours: Hours,
    is_held: bool,
) -> list[Line]:
    """Return lines that say why they are not where they were put."""
    asked = by_hand.get(lines[0].task.key)
    is_same_day = hours.day(begin) == hours.day(wished)
    if begin > wished:
        lines = [replace(line, note="") for line in lines]
        is_lit = any(line.task.is_lit for line in lines)
        why = (SHOP_OPENS if asked is not None else "") if is_same_day else MOVED_ON if is_lit else ""
        lines[0] = replace(lines[0], note=why)
    elif asked is not None and asked < begin:
        lines[0] = replace(lines[0], note=TOO_EARLY)
    if not is_held:
        return lines
    return [
        replace(line, note=HELD_BACK) if line.task.key in by_hand and number else line
        for number, line in enumerate(lines)
    ]


def _stop(block: tuple[Task, ...], wished: datetime, hours: Hours) -> Stop:
    lines = _in_a_row(block, wished, {})
    day = hours.day(wished)
    return Stop(
        block[0].block,
        wished,
        (_latest(lines) - lines[0].begins).total_seconds(),
        (hours.leaving(day) - hours.opening(day)).total_seconds(),
    )
