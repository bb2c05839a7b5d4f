"""The charts of one batch for its printed page: the fire as it was told, the case and skin of each piece."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from model.units import HOUR_s, from_si
from webapp.charts import Axis, Chart, Column, Line, Points, Rule, Table
from webapp.services.batch_rows import BatchRows, aware, row_id
from webapp.services.proved_jobs import hardness_HRC
from webapp.services.reading_words import say_reading, say_where
from webapp.services.showing import Showing, plural
from webapp.services.step_rules import STEP_WORDS
from webapp.store.tables import Item, Part, Reading

HELD = ("soak", "reheat", "temper")
NOTED = "Noted"


@dataclass(frozen=True)
class _Told:
    """A heat that was told: when, what it was, in the shop's degrees."""

    moment: datetime
    what: str
    hours: float
    degrees: float


@dataclass(frozen=True)
class _Seen:
    """A reading of a piece, and its value as drawn."""

    item: Item
    row: Reading
    value: float

    @property
    def name(self) -> str:
        """Return what the piece is called."""
        return f"{self.item.mark} {self.item.name}".strip()


@dataclass(frozen=True)
class _Kind:
    """A kind of reading as it is drawn: its words, unit, decimals, value, and what is wanted of it."""

    key: str
    title: str
    unit: str
    digits: int
    value_of: Callable[[Reading], float | None]
    rules: tuple[Rule, ...]


def batch_charts(rows: BatchRows, showing: Showing) -> tuple[Chart, ...]:
    """Return the charts that a batch has the numbers for."""
    part = next((rows.parts[item.part_id] for item in rows.items if item.part_id in rows.parts), None)
    unit = showing.length_unit

    def depth(row: Reading) -> float | None:
        return None if row.value is None else from_si(row.value, unit, "length")

    case = _Kind("depth", "Case depth by eye", unit, 3 if unit == "in" else 2, depth, _window(part, showing))
    skin = _Kind("hardness", "Hardness", "HRC", 1, hardness_HRC, _skin(part))
    found = (_fire(rows, showing), *(_by_piece(rows, showing, kind) for kind in (case, skin)))
    return tuple(chart for chart in found if chart is not None)


def _window(part: Part | None, showing: Showing) -> tuple[Rule, ...]:
    """Return the case that the batch's part wants before grinding, as two lines."""
    if part is None or part.depth_definition != "rim":
        return ()
    ends = (("wanted: at least", part.wanted_depth_low_m), ("wanted: at most", part.wanted_depth_high_m))
    return tuple(
        Rule(words, from_si(end + part.grind_m, showing.length_unit, "length")) for words, end in ends
    )


def _skin(part: Part | None) -> tuple[Rule, ...]:
    wanted = part.wanted_hardness_HRC if part else None
    return () if wanted is None else (Rule("wanted", wanted),)


def _fire(rows: BatchRows, showing: Showing) -> Chart | None:
    """Return the heats that were told by the hours since the box went in; None where no time is known."""
    began = next((step.started_at for step in rows.steps if step.kind == "box_in"), None)
    if began is None:
        return None
    holds = list(_holds(rows, aware(began), showing))
    notes = [
        _told(note.noted_at, NOTED, note.temperature_K, aware(began), showing) for note in rows.heat_notes
    ]
    told = sorted([*(end for hold in holds for end in hold), *notes], key=lambda one: one.moment)
    if not told:
        return None
    unit = f"°{showing.temperature_unit}"
    lines = tuple(
        Line(hold[0].what, [one.hours for one in hold], [one.degrees for one in hold], "ember")
        for hold in holds
    )
    head = (Column("What", False), Column("When", False), Column("Hours in"), Column(f"Heat, {unit}"))
    table = tuple(
        (one.what, showing.moment(one.moment, rows.batch.day), f"{one.hours:.1f}", f"{one.degrees:.0f}")
        for one in told
    )
    return Chart(
        "batch-fire",
        "The fire as it was told",
        f"{len(told)} heats told, the hottest {max(one.degrees for one in told):.0f} {unit}.",
        Axis("Since the box went in", "h", low=0.0, digits=1),
        Axis("Heat", unit, digits=0),
        Table("Heats told", head, table),
        lines=lines,
        points=(Points(NOTED, [one.hours for one in notes], [one.degrees for one in notes]),)
        if notes
        else (),
    )


def _as_points(notes: list[_Told]) -> tuple[Points, ...]:
    if not notes:
        return ()
    return (Points(NOTED, [one.hours for one in notes], [one.degrees for one in notes]),)


def _holds(rows: BatchRows, began: datetime, showing: Showing) -> list[tuple[_Told, ...]]:
    """Return the beginning and end of each hold whose time is known; one end where its length is not."""
    found = []
    for step in rows.steps:
        if step.kind not in HELD or step.started_at is None or step.temperature_K is None:
            continue
        moments = [aware(step.started_at)]
        moments += [moments[0] + timedelta(seconds=step.seconds)] if step.seconds else []
        words = STEP_WORDS[step.kind]
        found.append(tuple(_told(moment, words, step.temperature_K, began, showing) for moment in moments))
    return found


def _told(moment: datetime, what: str, heat_K: float, began: datetime, showing: Showing) -> _Told:
    hours = (aware(moment) - began).total_seconds() / HOUR_s
    return _Told(aware(moment), what, hours, from_si(heat_K, showing.temperature_unit, "temperature"))


def _by_piece(rows: BatchRows, showing: Showing, kind: _Kind) -> Chart | None:
    """Return the readings of one kind, piece by piece; None where there are none."""
    seen = [
        _Seen(item, row, value)
        for item in rows.items
        for row in rows.readings.get(row_id(item), [])
        if row.kind == kind.key and not row.left_out_why and (value := kind.value_of(row)) is not None
    ]
    if not seen:
        return None
    pieces = list(dict.fromkeys(one.name for one in seen))
    x = [1.0 + pieces.index(one.name) for one in seen]
    table = tuple((one.name, say_reading(one.row, showing), say_where(one.row, showing)) for one in seen)
    values = [one.value for one in seen]
    low, high = (f"{end:.{kind.digits}f}" for end in (min(values), max(values)))
    return Chart(
        f"batch-{kind.key}",
        kind.title,
        f"{kind.title} of {plural(len(pieces), 'piece')}, {low} to {high} {kind.unit}.",
        Axis("Piece", low=0.5, high=len(pieces) + 0.5, names=tuple(pieces)),
        Axis(kind.title, kind.unit, digits=kind.digits),
        Table(kind.title, (Column("Piece", False), Column("Read"), Column("Where", False)), table),
        points=(Points("one reading", x, values, words=[", ".join(row) for row in table]),),
        rules=kind.rules,
    )
