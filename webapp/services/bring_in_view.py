"""A table that was sent, as its page shows it: what each column is taken for, its first rows, its faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import cast

from sqlmodel import Session

from webapp.forms.ask import Choice, Doubtful, Units
from webapp.forms.bring_in import ORDERS, SURE, BringInAsked, query_of
from webapp.forms.readings import AFTER
from webapp.services.batch_values import offered_values
from webapp.services.bring_in import brought_before, rehearse
from webapp.services.choices import Choices, PickView, batch_choices, item_choices
from webapp.services.old_columns import KNOWN, LABELS, Column, known_headings, understand
from webapp.services.old_days import Order, usual_order
from webapp.services.old_rows import HowRead, OldRow, Problem, read_rows
from webapp.services.sheet_text import Sheet, read_sheet
from webapp.services.showing import Showing, plural

ROWS_SHOWN = 8
PROBLEMS_SHOWN = 40
SAMPLES = 3
NAMED = ("box_id", "mix_id", "heat_instrument_id", "forge_id", "bar_id", "bath_id")
ASKED_ONCE = ("box_id", "mix_id", "heat_instrument_id", "forge_id", "bar_id")
NEEDED = ("day",)
UNNAMED = "table"


@dataclass(frozen=True)
class RowView:
    """One row as it would be kept."""

    number: int
    day: str
    ran_with: str
    soak: str
    then: str
    coupon: str
    readings: str
    is_wrong: bool


@dataclass(frozen=True)
class BringInView:
    """The page of one table before it is put in."""

    file_name: str
    read_as: str
    here: str
    query: str
    columns: tuple[PickView, ...]
    picks: tuple[PickView, ...]
    strangers: tuple[PickView, ...]
    rows: tuple[RowView, ...]
    more_rows: int
    counts: str
    problems: tuple[Problem, ...]
    more_problems: int
    warning: str

    @property
    def can_be_kept(self) -> bool:
        """Whether nothing stands in the way."""
        return not self.problems


@dataclass(frozen=True)
class Looked:
    """A table read as asked: its rows, how, and everything that is wrong."""

    sheet: Sheet
    how: HowRead
    rows: tuple[OldRow, ...]
    problems: tuple[Problem, ...]


def read_table(session: Session, content: bytes, asked: BringInAsked, units: Units, today: date) -> Looked:
    """Read a table as asked; raises `SheetRefused` where it is none."""
    sheet = read_sheet(content, known_headings())
    how = _how(session, sheet, asked, units, today)
    missing = [LABELS[name] for name in NEEDED if name not in how.by_field]
    if missing:
        words = f"No column is taken for the {missing[0].lower()}. Pick it below."
        return Looked(sheet, how, (), (Problem(0, missing[0], words),))
    rows = tuple(read_rows(sheet.rows, how))
    return Looked(sheet, how, rows, tuple(problem for row in rows for problem in row.problems))


def tried_out(session: Session, looked: Looked, now: datetime) -> Looked:
    """Return a table with what the logbook would refuse of it, where its cells alone are in order."""
    return (
        looked
        if looked.problems
        else replace(looked, problems=rehearse(session, looked.rows, looked.how, now))
    )


def _how(session: Session, sheet: Sheet, asked: BringInAsked, units: Units, today: date) -> HowRead:
    columns = understand(sheet.headings, {p: f for p, f in asked.columns.items() if f in LABELS or not f})
    days = next((column.place for column in columns if column.field == "day"), None)
    found = usual_order(row.cells[days] for row in sheet.rows) if days is not None else "day"
    choices = _choices(session)
    return HowRead(
        columns=columns,
        units=units,
        today=today,
        order=cast(Order, asked.order or found),
        sure=asked.sure,
        usual=_usual(session, choices)
        | {n: v for n, v in asked.usual.items() if _is_one(choices.get(n, ()), v)},
        choices=choices,
        meant={(n, w): v for (n, w), v in asked.meant.items() if _is_one(choices.get(n, ()), v)},
    )


def _choices(session: Session) -> Choices:
    return {
        name: found
        for name, found in {**batch_choices(session), **item_choices(session)}.items()
        if name in NAMED
    }


def _is_one(choices: Sequence[Choice], value: str) -> bool:
    return any(choice.value == value for choice in choices)


def _usual(session: Session, choices: Choices) -> dict[str, str]:
    """Return what stands for rows that do not say: what the last batch ran with, and the first bar."""
    offered = {name: str(value) for name, value in offered_values(session).items() if name in ASKED_ONCE}
    bars = choices["bar_id"]
    return offered | ({"bar_id": bars[0].value} if bars else {})


def view_table(
    session: Session, looked: Looked, asked: BringInAsked, key: str, showing: Showing
) -> BringInView:
    """Return the page of a table that was sent."""
    sheet, how, rows, problems = looked.sheet, looked.how, looked.rows, looked.problems
    wrong = {problem.row for problem in problems}
    before = brought_before(session, key)
    told = f"This very file was brought in before, on {showing.day(before.created_at)}." if before else ""
    return BringInView(
        file_name=asked.file_name or UNNAMED,
        read_as=f"{sheet.letters}, cells parted by {sheet.separator}",
        here=f"/bring-in/{key}",
        query=query_of(_as_read(asked, how)),
        columns=tuple(_column_view(column, sheet) for column in how.columns),
        picks=_picks(how),
        strangers=_strangers(rows, how, asked),
        rows=tuple(
            _row_view(row, how.choices, showing, row.row.number in wrong) for row in rows[:ROWS_SHOWN]
        ),
        more_rows=max(len(sheet.rows) - ROWS_SHOWN, 0),
        counts=counts_of(rows),
        problems=problems[:PROBLEMS_SHOWN],
        more_problems=max(len(problems) - PROBLEMS_SHOWN, 0),
        warning=told,
    )


def _as_read(asked: BringInAsked, how: HowRead) -> BringInAsked:
    """Return all that was asked or found out, so that what is kept is read as what was shown."""
    columns = {column.place: column.field for column in how.columns}
    return replace(asked, order=how.order, columns=columns, usual=how.usual, meant=how.meant)


def _column_view(column: Column, sheet: Sheet) -> PickView:
    samples = [row.cells[column.place] for row in sheet.rows if row.cells[column.place]][:SAMPLES]
    choices = (Choice("", "Not used"), *(Choice(known.field, known.label) for known in KNOWN))
    unit = f", in {column.unit}" if column.unit else ""
    shown = ", ".join(sample[:30] for sample in samples)
    return PickView(f"c.{column.place}", column.heading, choices, column.field, (shown or "empty") + unit)


def _picks(how: HowRead) -> tuple[PickView, ...]:
    orders = tuple(Choice(value, words) for value, words in ORDERS)
    sures = tuple(Choice(value, words) for value, words in SURE)
    once = tuple(
        PickView(
            f"u.{name}",
            f"{LABELS[name]}, where a row does not say",
            tuple(how.choices[name]),
            how.usual.get(name, ""),
        )
        for name in ASKED_ONCE
        if how.choices.get(name)
    )
    return (
        PickView("order", "Dates are written with", orders, how.order),
        PickView("sure", "Heats and hours are", sures, how.sure),
        *once,
    )


def _strangers(rows: Sequence[OldRow], how: HowRead, asked: BringInAsked) -> tuple[PickView, ...]:
    """Return a list to pick from for each word that names nothing here, and for those that were picked."""
    words = dict.fromkeys([*asked.meant, *(word for row in rows for word in row.strangers)])
    return tuple(
        PickView(
            f"m.{name}.{word}",
            f"{LABELS[name]}: “{word}”",
            (Choice("", "Not picked yet"), *(choice for choice in how.choices[name] if choice.value)),
            how.meant.get((name, word), ""),
        )
        for name, word in words
        if name in how.choices
    )


def counts_of(rows: Sequence[OldRow]) -> str:
    """Return what rows hold in words, as in 2 batches with 3 coupons and 5 readings."""
    batches = len({row.label or f"#{row.row.number}" for row in rows})
    coupons = sum(row.coupon is not None for row in rows)
    readings = sum(_count_readings(row) for row in rows)
    told = (plural(batches, "batch", "batches"), plural(coupons, "coupon"), plural(readings, "reading"))
    return f"{told[0]} with {told[1]} and {told[2]}"


def _count_readings(row: OldRow) -> int:
    form = row.reading.value if row.reading else None
    return 0 if form is None else (form.hardness is not None) + (form.depth_m is not None)


def _row_view(old: OldRow, choices: Choices, showing: Showing, is_wrong: bool) -> RowView:
    form = old.batch.value if old.batch else None
    if form is None:
        same = "as the row of its batch" if old.batch is None else ""
        return RowView(
            old.row.number, same, "", "", "", _coupon(old, choices, showing), _read(old, showing), is_wrong
        )
    named = {name: _label(choices, name, getattr(form, name)) for name in ("box_id", "mix_id", "bath_id")}
    then = [f"reheated to {_heat(form.reheat_K, showing)}" if form.reheat_K else ""]
    then += [f"quenched in {named['bath_id']}" if form.bath_id else "not quenched"]
    then += [f"tempered at {_heat(form.temper_K, showing)}" if form.temper_K else ""]
    return RowView(
        old.row.number,
        showing.day(form.day),
        f"{named['box_id']}, {named['mix_id']}",
        f"{_hours(form.soak_s)} at {_heat(form.temperature_K, showing)}",
        ", ".join(words for words in then if words),
        _coupon(old, choices, showing),
        _read(old, showing),
        is_wrong,
    )


def _heat(heat: Doubtful, showing: Showing) -> str:
    if heat.value is None:
        return "a heat nobody knows"
    return ("about " if heat.sure == "about" else "") + showing.temperature(heat.value)


def _hours(time: Doubtful) -> str:
    if time.value is None:
        return "nobody knows how long"
    return f"{'about ' if time.sure == 'about' else ''}{time.value / 3600:.3g} h"


def _coupon(old: OldRow, choices: Choices, showing: Showing) -> str:
    form = old.coupon.value if old.coupon else None
    if form is None:
        return ""
    mark = f"{form.mark}, " if form.mark else ""
    return f"{mark}{form.shape} {showing.size(form.size_m)}, {_label(choices, 'bar_id', form.bar_id)}"


def _read(old: OldRow, showing: Showing) -> str:
    form = old.reading.value if old.reading else None
    if form is None:
        return ""
    after = next(choice.label for choice in AFTER if choice.value == form.after).lower()
    hardness = f"{form.hardness:g} {form.unit}" if form.hardness is not None else ""
    depth = showing.length(form.depth_m) + " deep" if form.depth_m is not None else ""
    return f"{', '.join(words for words in (hardness, depth) if words)}, after {after}"


def _label(choices: Choices, name: str, value: int | None) -> str:
    return next((choice.label for choice in choices.get(name, ()) if choice.value == str(value)), "")
