"""A table that was sent, as its page shows it: what each column is taken for, its first rows, its faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

from sqlmodel import Session

from webapp.forms.ask import Choice, Doubtful
from webapp.forms.bring_in import ORDERS, SURE, BringInAsked, query_of
from webapp.forms.kit import Form
from webapp.forms.readings import AFTER
from webapp.services.bring_in import brought_before
from webapp.services.bring_in_look import ASKED_ONCE, ROWS_SHOWN, Looked
from webapp.services.choices import Choices, PickView
from webapp.services.old_columns import Column, Headings
from webapp.services.old_rows import HowRead, OldRow, Problem
from webapp.services.sheet_text import Sheet
from webapp.services.showing import Showing

PROBLEMS_SHOWN = 40
ROWS_NAMED = 5
STRANGERS_SHOWN = 20
SAMPLES = 3
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
class ProblemView:
    """One problem with the rows that have it."""

    rows: str
    words: str


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
    more_strangers: int
    rows: tuple[RowView, ...]
    more_rows: int
    counts: str
    problems: tuple[ProblemView, ...]
    counted: str
    more_problems: int
    warning: str

    @property
    def can_be_kept(self) -> bool:
        """Whether nothing stands in the way."""
        return not self.problems


def view_table(
    session: Session, looked: Looked, asked: BringInAsked, key: str, showing: Showing
) -> BringInView:
    """Return the page of a table that was sent."""
    sheet, how, problems = looked.sheet, looked.how, looked.problems
    wrong = {problem.row for problem in problems}
    alike = _alike(problems)
    before = brought_before(session, key)
    told = f"This very file was brought in before, on {showing.day(before.created_at)}." if before else ""
    return BringInView(
        file_name=asked.file_name or UNNAMED,
        read_as=f"{sheet.letters}, cells parted by {sheet.separator}",
        here=f"/bring-in/{key}",
        query=query_of(_as_read(asked, how)),
        columns=tuple(_column_view(column, sheet, how.known) for column in how.columns),
        picks=_picks(how),
        strangers=_strangers(looked, asked),
        more_strangers=max(len(looked.strangers) - STRANGERS_SHOWN, 0),
        rows=tuple(_row_view(row, how, showing, row.row.number in wrong) for row in looked.first),
        more_rows=max(len(sheet.rows) - ROWS_SHOWN, 0),
        counts=looked.counts,
        problems=tuple(alike[:PROBLEMS_SHOWN]),
        counted=_counted(len(problems), len(alike)),
        more_problems=max(len(alike) - PROBLEMS_SHOWN, 0),
        warning=told,
    )


def _alike(problems: Sequence[Problem]) -> list[ProblemView]:
    """Return problems with the rows that have the same one, so that a word said often is told once."""
    rows: dict[tuple[str, str], list[int]] = {}
    for problem in problems:
        rows.setdefault((problem.heading, problem.words), []).append(problem.row)
    return [ProblemView(_rows(found, heading), words) for (heading, words), found in rows.items()]


def _rows(found: Sequence[int], heading: str) -> str:
    """Return rows in words with their column, as in Rows 2, 9, 16 and 126 more, Box."""
    if found[0] == 0:
        return ""
    named = [str(row) for row in found[:ROWS_NAMED]]
    if len(found) > ROWS_NAMED:
        named.append(f"{len(found) - ROWS_NAMED:,} more")
    rows = f"{', '.join(named[:-1])} and {named[-1]}" if len(named) > 1 else named[0]
    column = f", {heading}" if heading else ""
    return f"{'Rows' if len(found) > 1 else 'Row'} {rows}{column}"


def _counted(problems: int, kinds: int) -> str:
    """Return how many problems there are, where rows share them or not all are shown."""
    if problems == kinds <= PROBLEMS_SHOWN:
        return ""
    of = f", {kinds:,} different ones" if kinds < problems else ""
    shown = f"; the first {PROBLEMS_SHOWN}" if kinds > PROBLEMS_SHOWN else ""
    return f"{problems:,} problems{of}{shown}:"


def _as_read(asked: BringInAsked, how: HowRead) -> BringInAsked:
    """Return all that was asked or found out, so that what is kept is read as what was shown."""
    columns = {column.place: column.field for column in how.columns}
    return replace(asked, order=how.order, columns=columns, usual=how.usual, meant=how.meant)


def _column_view(column: Column, sheet: Sheet, known: Headings) -> PickView:
    filled = (row.cells[column.place] for row in sheet.rows if row.cells[column.place])
    samples = list(islice(filled, SAMPLES))
    named = {
        field: f"{label} (your own line)" if field in known.own else label
        for field, label in known.labels.items()
    }
    choices = (Choice("", "Not used"), *(Choice(field, label) for field, label in named.items()))
    unit = f", in {column.unit}" if column.unit else ""
    shown = ", ".join(sample[:30] for sample in samples)
    return PickView(f"c.{column.place}", column.heading, choices, column.field, (shown or "empty") + unit)


def _picks(how: HowRead) -> tuple[PickView, ...]:
    orders = tuple(Choice(value, words) for value, words in ORDERS)
    sures = tuple(Choice(value, words) for value, words in SURE)
    once = tuple(
        PickView(
            f"u.{name}",
            f"{how.known.labels[name]}, where a row does not say",
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


def _strangers(looked: Looked, asked: BringInAsked) -> tuple[PickView, ...]:
    """Return a list to pick from for each word that names nothing here, and for those that were picked."""
    how = looked.how
    words = dict.fromkeys([*asked.meant, *looked.strangers[:STRANGERS_SHOWN]])
    return tuple(
        PickView(
            f"m.{name}.{word}",
            f"{how.known.labels[name]}: “{word}”",
            (Choice("", "Not picked yet"), *(choice for choice in how.choices[name] if choice.value)),
            how.meant.get((name, word), ""),
        )
        for name, word in words
        if name in how.choices
    )


def _row_view(old: OldRow, how: HowRead, showing: Showing, is_wrong: bool) -> RowView:
    form, choices = old.batch.value if old.batch else None, how.choices
    coupon, read = _coupon(old, how, showing), _read(old, showing)
    if form is None:
        same = "as the row of its batch" if old.batch is None else ""
        return RowView(old.row.number, same, "", "", "", coupon, read, is_wrong)
    named = {name: _label(choices, name, getattr(form, name)) for name in ("box_id", "mix_id", "bath_id")}
    then = [f"reheated to {_heat(form.reheat_K, showing)}" if form.reheat_K else ""]
    then += [f"quenched in {named['bath_id']}" if form.bath_id else "not quenched"]
    then += [f"tempered at {_heat(form.temper_K, showing)}" if form.temper_K else ""]
    return RowView(
        old.row.number,
        showing.day(form.day),
        ", ".join((named["box_id"], named["mix_id"], *_own(form, how.known))),
        f"{_hours(form.soak_s)} at {_heat(form.temperature_K, showing)}",
        ", ".join(words for words in then if words),
        coupon,
        read,
        is_wrong,
    )


def _own(form: Form, known: Headings) -> list[str]:
    """Return what a row says to the shop's own lines, in words."""
    said = {field: getattr(form, field, None) for field in known.own}
    units = {field: f" {line.unit}" if line.unit else "" for field, line in known.own.items()}
    return [
        f"{known.labels[field]}: {value:g}{units[field]}"
        if isinstance(value, float)
        else f"{known.labels[field]}: {value}"
        for field, value in said.items()
        if value not in (None, "")
    ]


def _heat(heat: Doubtful, showing: Showing) -> str:
    if heat.value is None:
        return "a heat nobody knows"
    return ("about " if heat.sure == "about" else "") + showing.temperature(heat.value)


def _hours(time: Doubtful) -> str:
    if time.value is None:
        return "nobody knows how long"
    return f"{'about ' if time.sure == 'about' else ''}{time.value / 3600:.3g} h"


def _coupon(old: OldRow, how: HowRead, showing: Showing) -> str:
    form = old.coupon.value if old.coupon else None
    if form is None:
        return ""
    mark = f"{form.mark}, " if form.mark else ""
    size = f"{mark}{form.shape} {showing.size(form.size_m)}"
    return ", ".join((size, _label(how.choices, "bar_id", form.bar_id), *_own(form, how.known)))


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
