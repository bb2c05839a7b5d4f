"""A schedule in the words of the shop: its days, its lines, and what would do where a fire does not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby
from urllib.parse import urlencode

from webapp.services.schedule import (
    HELD_BACK,
    MOVED_ON,
    SHOP_OPENS,
    TOO_EARLY,
    Hours,
    Laid,
    Line,
    Stop,
    lay_out,
)
from webapp.services.schedule_hours import LEAVES, OPENS
from webapp.services.schedule_tasks import FIRE, HARDEN, MOST_FIRES, MINUTE_s, Run, tasks_of
from webapp.services.schedule_words import SAID, cautions_at
from webapp.services.shop_cautions import Caution, cautions_named
from webapp.services.showing import Showing, say_duration
from webapp.zone import field_text, to_wall

LONGER_TOLD_s = 5 * MINUTE_s
COOL = "cool"
HELD_HOT = ("at_heat", "reheat", "temper_in")


@dataclass(frozen=True)
class LineView:
    """One line: when, what, what to tick, what can hurt; and what its own form carries along."""

    key: str
    time: str
    band: str
    title: str
    work: str
    lasts: str
    note: str
    checks: tuple[str, ...]
    cautions: tuple[Caution, ...]
    is_lit: bool
    is_moved: bool
    field: str
    carried: tuple[tuple[str, str], ...]
    back_href: str


@dataclass(frozen=True)
class DayView:
    """One day of a schedule."""

    title: str
    lines: tuple[LineView, ...]


@dataclass(frozen=True)
class Way:
    """What would do where a fire does not fit; `href` is empty where it is not one tap."""

    words: str
    href: str = ""


@dataclass(frozen=True)
class StopView:
    """Why the rest has no time, and what would do."""

    title: str
    why: str
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class Asked:
    """What an address asks: start, lines moved by hand, over how many fires; and what else it carries."""

    start: datetime
    by_hand: Mapping[str, datetime]
    fires: int
    address: str
    carried: tuple[tuple[str, str], ...] = ()


def view_days(laid: Laid, asked: Asked, medium: str, hours: Hours, showing: Showing) -> tuple[DayView, ...]:
    """Return the lines of a schedule by day."""
    grouped = groupby(laid.lines, key=lambda line: hours.day(line.begins))
    return tuple(
        DayView(
            f"{day:%A}, {showing.day(day)}",
            tuple(_line(line, asked, medium, hours, showing) for line in lines),
        )
        for day, lines in grouped
    )


def _line(line: Line, asked: Asked, medium: str, hours: Hours, showing: Showing) -> LineView:
    task, said = line.task, SAID[line.task.kind]
    others = query_of(replace(asked, by_hand=_without(asked.by_hand, task.key)), hours)
    lasts_s = (line.ends - line.begins).total_seconds()
    return LineView(
        key=task.key,
        time=showing.time(line.begins),
        band=_band(line, hours, showing),
        title=said.title,
        work=said.work,
        lasts=f"{say_duration(lasts_s)}" if lasts_s >= MINUTE_s else "",
        note=_note(line, lasts_s, hours, showing),
        checks=(*task.more_checks, *said.checks),
        cautions=cautions_named(*cautions_at(task, medium)),
        is_lit=task.is_lit,
        is_moved=task.key in asked.by_hand,
        field=field_text(line.begins, hours.zone),
        carried=others,
        back_href=f"{asked.address}?{urlencode(others)}",
    )


def _band(line: Line, hours: Hours, showing: Showing) -> str:
    """Return between which times a line begins, or when a cooling box is cold; empty where that is sure."""
    if line.task.kind == COOL and line.task.late_s > 0.0:
        ends = line.begins + timedelta(seconds=line.task.seconds)
        low, high = ends - timedelta(seconds=line.task.early_s), ends + timedelta(seconds=line.task.late_s)
        said = [_time_and_day(moment, hours.day(line.begins), hours, showing) for moment in (ends, low, high)]
        return f"cold to the hand about {said[0]} ({said[1]} to {said[2]})"
    if line.low is None or line.high is None:
        return ""
    return f"between {showing.time(line.low)} and {showing.time(line.high)}"


def _time_and_day(moment: datetime, begins_on: date, hours: Hours, showing: Showing) -> str:
    """Return a time, with its day where that is another one."""
    days = (hours.day(moment) - begins_on).days
    later = {0: "", 1: " the next day"}.get(days, f" on {showing.day(hours.day(moment))}")
    return f"{showing.time(moment)}{later}"


def _without(by_hand: Mapping[str, datetime], key: str) -> dict[str, datetime]:
    return {name: moment for name, moment in by_hand.items() if name != key}


def query_of(asked: Asked, hours: Hours) -> tuple[tuple[str, str], ...]:
    """Return what an address carries to ask the same again."""
    fires = (("fires", str(asked.fires)),) if asked.fires > 1 else ()
    moved = tuple((key, field_text(moment, hours.zone)) for key, moment in asked.by_hand.items())
    return (*asked.carried, ("start", field_text(asked.start, hours.zone)), *fires, *moved)


def _note(line: Line, lasts_s: float, hours: Hours, showing: Showing) -> str:
    """Return why a line is not where it was put, or that something stays hot longer than planned."""
    if line.note == TOO_EARLY:
        return f"Not sooner than {showing.time(line.begins)}: what comes before it is not done."
    if line.note == MOVED_ON:
        return f"Not the day before: it would not be over when you leave at {hours.leaves_at:%H:%M}."
    if line.note == SHOP_OPENS:
        return f"The shop opens at {hours.opens_at:%H:%M}."
    if line.note == HELD_BACK:
        return "It stays with its block: later, and something would be lit after you leave."
    longer_s = lasts_s - line.task.seconds
    if line.task.kind in HELD_HOT and longer_s >= LONGER_TOLD_s:
        return f"{say_duration(longer_s)} longer in the heat than planned. Plan it again for what that does."
    return ""


def view_stop(
    stop: Stop, run: Run, hotter: Sequence[tuple[str, float]], asked: Asked, hours: Hours, showing: Showing
) -> StopView:
    """Return why a block has no place, and what would do; `hotter` is other heats with their soak [s]."""
    needs = say_duration(stop.needs_s)
    what = {HARDEN: "Reheat, quench and temper take"}.get(
        stop.block,
        "From light-up to the end of the soak takes" if stop.block.startswith(FIRE) else "It takes",
    )
    return StopView(
        f"It does not fit between {hours.opens_at:%H:%M} and {hours.leaves_at:%H:%M}",
        f"{what} up to {needs}, and your day has {say_duration(stop.has_s)}. A lit fire is never left alone, "
        "so from here on there are no times.",
        tuple(_ways(stop, run, hotter, asked, hours, showing)),
    )


def _ways(
    stop: Stop, run: Run, hotter: Sequence[tuple[str, float]], asked: Asked, hours: Hours, showing: Showing
) -> list[Way]:
    day = hours.day(stop.begins)
    opening, leaving = hours.opening(day), hours.leaving(day)
    needs = timedelta(seconds=stop.needs_s)
    ways = []
    # in whole minutes, the next one that is enough
    early, late = leaving - needs, opening + needs + timedelta(seconds=MINUTE_s - 1)
    if hours.day(early) == day:
        ways.append(_with_hours(f"Start earlier: open at {showing.time(early)}.", OPENS, early, asked, hours))
    if hours.day(late) == day:
        ways.append(_with_hours(f"Stay longer: leave at {showing.time(late)}.", LEAVES, late, asked, hours))
    if stop.block.startswith(FIRE):
        ways.extend(_hotter(run, hotter, hours))
        ways.extend(_split(run, asked, hours))
    return ways or [Way("No one day is long enough: take turns at the fire, or a thinner case.")]


def _with_hours(words: str, name: str, at: datetime, asked: Asked, hours: Hours) -> Way:
    """Return other hours for this one run, as one tap; an earlier opening starts the day with it."""
    others = tuple(pair for pair in asked.carried if pair[0] != name)
    carried = (*others, (name, f"{to_wall(at, hours.zone):%H:%M}"))
    start = min(asked.start, at) if hours.day(at) == hours.day(asked.start) else asked.start
    again = replace(asked, start=start if name == OPENS else asked.start, carried=carried)
    return Way(words, f"{asked.address}?{urlencode(query_of(again, hours))}")


def _hotter(run: Run, hotter: Sequence[tuple[str, float]], hours: Hours) -> list[Way]:
    """Return the coolest of the hotter soaks that fit."""
    for heat, soak_s in hotter:
        if _fits(replace(run, soak_s=soak_s, fires=1), hours):
            return [
                Way(f"Hotter: at {heat} about {say_duration(soak_s)} would do. Plan it again at that heat.")
            ]
    return []


def _split(run: Run, asked: Asked, hours: Hours) -> list[Way]:
    """Return the fewest fires over which the soak fits."""
    for fires in range(run.fires + 1, MOST_FIRES + 1):
        if _fits(replace(run, fires=fires), hours):
            pairs = query_of(replace(asked, fires=fires, by_hand={}), hours)
            words = (
                f"Split the soak over {fires} fires on {fires} days: the box stays shut between them, and "
            )
            return [Way(words + "each fire warms it up anew.", f"{asked.address}?{urlencode(pairs)}")]
    return []


def _fits(run: Run, hours: Hours) -> bool:
    noon = datetime.fromisoformat("2026-01-05T12:00:00+00:00")
    return lay_out(tasks_of(run), hours.opening(hours.day(noon)), {}, hours).stop is None
