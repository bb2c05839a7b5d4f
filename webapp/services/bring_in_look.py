"""A table that was sent, gone through row by row: what it holds, and everything that is wrong with it.

Only its first rows are held as they were read, so that memory hangs on what is kept and not on how long
the table is; nothing of it is in the logbook yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import cast

from sqlmodel import Session

from webapp.forms.ask import Choice, Units
from webapp.forms.bring_in import BringInAsked
from webapp.forms.own_lines import YES_NO, YES_OR_NO, OwnQuestion
from webapp.services.batch_values import offered_values
from webapp.services.bring_in import KeptRow, PuttingIn, kept_row
from webapp.services.choices import Choices, batch_choices, item_choices
from webapp.services.old_columns import Headings, known_headings, understand
from webapp.services.old_days import Order, usual_order
from webapp.services.old_rows import HowRead, OldRow, Problem, read_rows
from webapp.services.own_lines import questions_about
from webapp.services.sheet_text import Sheet, read_sheet
from webapp.services.showing import plural
from webapp.store.errors import Refused
from webapp.store.many_rows import TriedRows
from webapp.store.unit_of_work import Actor, UnitOfWork

ROWS_SHOWN = 8
NAMED = ("box_id", "mix_id", "heat_instrument_id", "forge_id", "bar_id", "bath_id")
ASKED_ONCE = ("box_id", "mix_id", "heat_instrument_id", "forge_id", "bar_id")
NEEDED = ("day",)


@dataclass
class Looked:
    """A table read as asked: how, its first rows, what it holds, and everything that is wrong.

    `kept` is what the logbook would keep of it, row by row, where that was asked for.
    """

    sheet: Sheet
    how: HowRead
    first: list[OldRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    strangers: list[tuple[str, str]] = field(default_factory=list)
    kept: list[KeptRow] = field(default_factory=list)
    counts: str = ""


def headings_of(session: Session) -> Headings:
    """Return the columns that are understood in this shop."""
    return Headings(questions_about(session, "batch"), questions_about(session, "piece"))


def look_through(
    session: Session, content: bytes, asked: BringInAsked, units: Units, now: datetime, today: date
) -> Looked:
    """Go through a table as asked; raises `SheetRefused` where it is none."""
    known = headings_of(session)
    sheet = read_sheet(content, known_headings(known))
    looked = Looked(sheet, _how(session, sheet, asked, units, today, known))
    missing = [known.labels[name] for name in NEEDED if name not in looked.how.by_field]
    if missing:
        words = f"No column is taken for the {missing[0].lower()}. Pick it below."
        looked.problems.append(Problem(0, missing[0], words))
        return looked
    try:
        _try_out(session, looked, now)
    except Refused as problem:
        looked.problems.append(Problem(0, "", str(problem)))
    return looked


def _try_out(session: Session, looked: Looked, now: datetime) -> None:
    """Read each row and try whether the logbook would take it, without a word kept."""
    work = UnitOfWork(session, Actor("a rehearsal"), now)
    putting = PuttingIn(work, TriedRows(work), looked.how)
    counted = Counted()
    strangers: dict[tuple[str, str], None] = {}
    for old in read_rows(looked.sheet.rows, looked.how):
        if len(looked.first) < ROWS_SHOWN:
            looked.first.append(old)
        strangers.update(dict.fromkeys(old.strangers))
        counted.count(old)
        looked.problems += old.problems or _tried(old, putting, looked.kept)
    looked.strangers = list(strangers)
    looked.counts = counted.words


def _tried(old: OldRow, putting: PuttingIn, kept: list[KeptRow]) -> Iterator[Problem]:
    row = kept_row(old)
    if row is not None:
        kept.append(row)
        yield from putting.put(row)


@dataclass
class Counted:
    """What the rows hold so far."""

    labels: set[str] = field(default_factory=set)
    coupons: int = 0
    readings: int = 0

    def count(self, old: OldRow) -> None:
        """Count one row."""
        self.labels.add(old.label or f"#{old.row.number}")
        self.coupons += old.coupon is not None
        form = old.reading.value if old.reading else None
        self.readings += 0 if form is None else (form.hardness is not None) + (form.depth_m is not None)

    @property
    def words(self) -> str:
        """Return it in words, as in 2 batches with 3 coupons and 5 readings."""
        batches = plural(len(self.labels), "batch", "batches")
        return f"{batches} with {plural(self.coupons, 'coupon')} and {plural(self.readings, 'reading')}"


def _how(
    session: Session, sheet: Sheet, asked: BringInAsked, units: Units, today: date, known: Headings
) -> HowRead:
    chosen = {place: name for place, name in asked.columns.items() if name in known.labels or not name}
    columns = understand(sheet.headings, chosen, known)
    days = next((column.place for column in columns if column.field == "day"), None)
    found = usual_order(row.cells[days] for row in sheet.rows) if days is not None else "day"
    choices = _choices(session, known)
    usual = {name: value for name, value in asked.usual.items() if _is_one(choices.get(name, ()), value)}
    return HowRead(
        columns=columns,
        units=units,
        today=today,
        known=known,
        order=cast(Order, asked.order or found),
        sure=asked.sure,
        usual=_usual(session, choices) | usual,
        choices=choices,
        meant={(n, w): v for (n, w), v in asked.meant.items() if _is_one(choices.get(n, ()), v)},
    )


def _choices(session: Session, known: Headings) -> Choices:
    found = {**batch_choices(session), **item_choices(session)}
    own = {name: picked for name, line in known.own.items() if (picked := _picked_from(line))}
    return {name: choices for name, choices in found.items() if name in NAMED} | own


def _picked_from(line: OwnQuestion) -> tuple[Choice, ...]:
    """Return what a line of the shop's own is picked from; nothing for words and numbers."""
    answers = YES_OR_NO if line.kind == YES_NO else line.choices
    return tuple(Choice(one, one) for one in answers)


def _is_one(choices: Sequence[Choice], value: str) -> bool:
    return any(choice.value == value for choice in choices)


def _usual(session: Session, choices: Choices) -> dict[str, str]:
    """Return what stands for rows that do not say: what the last batch ran with, and the first bar."""
    offered = {name: str(value) for name, value in offered_values(session).items() if name in ASKED_ONCE}
    bars = choices["bar_id"]
    return offered | ({"bar_id": bars[0].value} if bars else {})
