"""Two to four batches beside one another: what they ran with, how they came out, what differs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from sqlmodel import Session, col, select

from webapp.charts import Chart
from webapp.forms.logbook import LARGEST_ID
from webapp.services.argument_sides import seal_of
from webapp.services.batch_rows import BatchRows, load_batch, row_id, steps_of_piece
from webapp.services.box_rows import fill_of
from webapp.services.compare_charts import Compared, course_chart, piece_of
from webapp.services.logbook import packed_words
from webapp.services.own_lines import say_own
from webapp.services.reading_words import KIND_WORDS, say_reading
from webapp.services.showing import Showing, say_duration
from webapp.services.step_rules import CLOCK_FROM_WORDS, STATE_WORDS
from webapp.store.tables import Bar, Batch, Step

FEWEST, MOST = 2, 4
ADDRESS = "/logbook/compare"
NOT_NOTED = "–"
CHOOSE = "Tick two to four batches in the logbook, or type one more number here."


@dataclass(frozen=True)
class Cell:
    """What one batch says to a line, with where it leads, if anywhere."""

    text: str
    href: str = ""


@dataclass(frozen=True)
class Line:
    """One line of the table: what it is about, a cell a batch, whether they differ."""

    label: str
    cells: tuple[Cell, ...]
    differs: bool


@dataclass(frozen=True)
class Side:
    """One batch at the head of its column, with the way to leave it out."""

    number: int
    href: str
    day: str
    without_href: str


@dataclass(frozen=True)
class CompareView:
    """The page; `problem` says why there is nothing to compare, and what to do."""

    sides: tuple[Side, ...] = ()
    lines: tuple[Line, ...] = ()
    readings: tuple[Line, ...] = ()
    course: Chart | None = None
    problem: str = ""
    numbers: tuple[int, ...] = ()
    panel_href: str = ""
    can_add: bool = True


def compare_batches(session: Session, asked: Sequence[str], now: datetime, showing: Showing) -> CompareView:
    """Return the batches of some numbers beside one another, or what is wrong with the numbers."""
    compared, problem = compared_of(session, asked)
    numbers = tuple(one.number for one in compared)
    if problem:
        return CompareView(problem=problem, numbers=numbers[: MOST - 1], can_add=True)
    rows = [one.rows for one in compared]
    bars = {row_id(bar): bar for bar in session.exec(select(Bar))}
    return CompareView(
        sides=tuple(_side(one, numbers, showing) for one in compared),
        lines=(
            *(_line(label, [say(one, bars, showing) for one in rows]) for label, say in LINES.items()),
            *_own_lines(rows),
        ),
        readings=_readings(rows, showing),
        course=course_chart(compared, bars, now, showing),
        numbers=numbers,
        panel_href=_href(numbers, f"{ADDRESS}/worked-out"),
        can_add=len(numbers) < MOST,
    )


def compared_of(session: Session, asked: Sequence[str]) -> tuple[tuple[Compared, ...], str]:
    """Return the batches of some typed numbers, and what is wrong with the numbers, if anything."""
    typed = tuple(dict.fromkeys(text.strip().lstrip("#").strip() for text in asked if text.strip()))
    wanted = {text: int(text) for text in typed if text.isascii() and text.isdecimal() and len(text) < 16}
    known = {
        batch.number: row_id(batch)
        for batch in session.exec(
            select(Batch).where(col(Batch.number).in_(set(wanted.values())), col(Batch.deleted_at).is_(None))
        )
        if batch.number <= LARGEST_ID
    }
    strange = [text[:20] for text in typed if wanted.get(text) not in known]
    numbers = tuple(dict.fromkeys(wanted[text] for text in typed if wanted.get(text) in known))
    problem = _problem(numbers, strange)
    shown = numbers if not problem else numbers[:MOST]
    return tuple(Compared(number, load_batch(session, known[number])) for number in shown), problem


def _problem(numbers: Sequence[int], strange: Sequence[str]) -> str:
    if strange:
        listed = ", ".join(f"“{text}”" for text in strange[:MOST])
        return f"There is no batch {listed} in this logbook. {CHOOSE}"
    if len(numbers) < FEWEST:
        return f"It takes two batches to compare, and {len(numbers) or 'none'} is named. {CHOOSE}"
    if len(numbers) > MOST:
        return (
            f"{len(numbers)} batches are too many to read side by side; four go. Tick fewer in the logbook."
        )
    return ""


def _href(numbers: Iterable[int], address: str = ADDRESS) -> str:
    return f"{address}?{urlencode([('b', number) for number in numbers])}"


def _side(one: Compared, numbers: Sequence[int], showing: Showing) -> Side:
    rest = [number for number in numbers if number != one.number]
    without = _href(rest) if len(rest) >= FEWEST else ""
    return Side(one.number, f"/batches/{one.rows.batch.id}", showing.day(one.rows.batch.day), without)


def _line(label: str, texts: Sequence[str]) -> Line:
    cells = tuple(Cell(text or NOT_NOTED) for text in texts)
    return Line(label, cells, len({cell.text for cell in cells}) > 1)


Bars = dict[int, Bar]
Say = Callable[[BatchRows, Bars, Showing], str]


def _step(rows: BatchRows, kind: str) -> Step | None:
    """Return a step of the batch, else of the piece that is compared."""
    piece = piece_of(rows)
    steps = [*rows.steps, *(steps_of_piece(rows, piece) if piece else ())]
    return next((step for step in steps if step.kind == kind), None)


def _heat(rows: BatchRows, _bars: Bars, showing: Showing) -> str:
    soak = _step(rows, "soak")
    return showing.temperature(soak.temperature_K, soak.temperature_spread_K) if soak else ""


def _hours(rows: BatchRows, _bars: Bars, _showing: Showing) -> str:
    soak = _step(rows, "soak")
    return say_duration(soak.seconds, soak.seconds_spread) if soak and soak.seconds else ""


def _clock(rows: BatchRows, _bars: Bars, _showing: Showing) -> str:
    soak = _step(rows, "soak")
    return CLOCK_FROM_WORDS[soak.settings.get("clock_from", "at_heat")] if soak else ""


def _left(rows: BatchRows, _bars: Bars, _showing: Showing) -> str:
    drawn = _step(rows, "drawn")
    if drawn is None:
        return "cooled in the box" if _step(rows, "slow_cool") or _step(rows, "box_out") else ""
    return "drawn hot into the bath" if _step(rows, "reheat") is None else "drawn hot"


def _reheat(rows: BatchRows, _bars: Bars, showing: Showing) -> str:
    return _hot(rows, "reheat", showing)


def _hot(rows: BatchRows, kind: str, showing: Showing) -> str:
    """Return how long and how hot a reheat or a temper was."""
    step = _step(rows, kind)
    if step is None:
        return "none"
    heat = showing.temperature(step.temperature_K, step.temperature_spread_K)
    return f"{say_duration(step.seconds)} at {heat}" if step.seconds else heat


def _bath(rows: BatchRows, _bars: Bars, _showing: Showing) -> str:
    step = _step(rows, "quench")
    return (rows.bath_names.get(step.bath_id or 0) or "") if step else "none"


def _temper(rows: BatchRows, _bars: Bars, showing: Showing) -> str:
    return _hot(rows, "temper", showing)


def _steel(rows: BatchRows, bars: Bars, _showing: Showing) -> str:
    names = (bars[item.bar_id].name for item in rows.items if item.bar_id in bars)
    return ", ".join(dict.fromkeys(names))


LINES: dict[str, Say] = {
    "How it went": lambda rows, _bars, _showing: STATE_WORDS[rows.batch.state],
    "What was in it": lambda rows, _bars, _showing: packed_words(rows.items),
    "Steel": _steel,
    "Box": lambda rows, _bars, _showing: rows.box.name,
    "Closed with": lambda rows, _bars, _showing: seal_of(rows),
    "Pack": lambda rows, _bars, _showing: {"gap": "a gap above the part"}.get(
        fill_of(rows.box, rows.steps), "filled to the lid"
    ),
    "Mix": lambda rows, _bars, _showing: rows.mix.name,
    "Forge": lambda rows, _bars, _showing: rows.forge.name,
    "Heat known by": lambda rows, _bars, _showing: rows.heat.name,
    "Soak clock from": _clock,
    "Heat": _heat,
    "Hours": _hours,
    "Out of the box": _left,
    "Reheat": _reheat,
    "Bath": _bath,
    "Temper": _temper,
    "What happened": lambda rows, _bars, _showing: (
        ", ".join(event.kind for event in rows.events) or "nothing noted"
    ),
    "Note": lambda rows, _bars, _showing: " ".join(
        (rows.batch.given_up_why or rows.batch.left_out_why or rows.batch.note).split()
    ),
}


def _own_lines(rows: Sequence[BatchRows]) -> Iterable[Line]:
    """Yield what the batches say to the shop's own lines, those that none answers left out."""
    for line in rows[0].own_lines:
        texts = ["".join(words for _, words in say_own([line], "batch", one.batch)) for one in rows]
        if any(texts):
            yield _line(line.label, texts)


def _readings(rows: Sequence[BatchRows], showing: Showing) -> tuple[Line, ...]:
    """Return what was read in each batch, a line a kind of reading, all pieces of a batch together."""
    said: dict[str, list[list[str]]] = {}
    for place, one in enumerate(rows):
        for item in one.items:
            for reading in one.readings.get(row_id(item), ()):
                kind = said.setdefault(KIND_WORDS[reading.kind], [[] for _ in rows])
                aside = " (set aside)" if reading.left_out_why or item.left_out_why else ""
                kind[place].append(f"{item.mark or item.name}: {say_reading(reading, showing)}{aside}")
    return tuple(_line(kind, ["; ".join(own) for own in cells]) for kind, cells in said.items())
