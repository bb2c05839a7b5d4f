"""Rows of an old table read by the same forms that ask for an old batch, a coupon and its first reading."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TypeVar

from webapp.forms.answers import Raw
from webapp.forms.ask import Choice, Units
from webapp.forms.batches import WriteUpForm
from webapp.forms.items import SHAPES, CouponForm
from webapp.forms.kit import Form, FormState, read_form
from webapp.forms.own_lines import YES_NO, OwnQuestion, with_own_lines
from webapp.forms.readings import AFTER, SCALES, FirstReadingForm, scale_taken
from webapp.forms.steps import CLOCK_FROM, THEN
from webapp.services.old_columns import COUPON, READING, SCALE_WORDS, WRITE_UP, Column, Headings
from webapp.services.old_days import Order, read_day
from webapp.services.readings import usual_after
from webapp.services.sheet_text import Row

F = TypeVar("F", bound=Form)
DOUBTFUL = ("temperature_K", "soak_s", "reheat_K", "temper_K", "temper_s")
LONG_ENOUGH = ("temperature_K", "soak_s")  # empty: nobody knows, and the usual one stands with a wide doubt
ABOUT = re.compile(r"(?:about|approx\.?|around|ca\.?|circa|c\.|~|\u2248)\s*", re.IGNORECASE)
NOT_NOTED = ("-", "\u2013", "\u2014", "n/a", "?")
NONE_WORDS = (*NOT_NOTED, "none", "no", "not quenched")
YES_WORDS, NO_WORDS = ("yes", "y", "x", "true", "1"), ("no", "n", "false", "0")
OWN_CHOICES = {
    "clock_from": CLOCK_FROM,
    "then": THEN,
    "shape": SHAPES,
    "after": AFTER,
    "unit": tuple(Choice(scale, scale) for scale in SCALES),
}
MOST_NAMED = 12


@dataclass(frozen=True)
class Problem:
    """What is wrong in one cell, and what may stand there; `heading` is empty for the row as a whole."""

    row: int
    heading: str
    words: str


@dataclass(frozen=True)
class HowRead:
    """How a table is read: its columns, its dates, how sure its numbers are, and what stands for all rows."""

    columns: Sequence[Column]
    units: Units
    today: date
    known: Headings = field(default_factory=Headings)
    order: Order = "day"
    sure: str = "about"
    usual: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[Choice]] = field(default_factory=dict)
    meant: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """What a word of the file stands for, picked by hand: (field, word) -> value."""

    @cached_property
    def by_field(self) -> dict[str, Column]:
        """Return the columns that are used."""
        return {column.field: column for column in self.columns if column.field}

    @cached_property
    def of_batch(self) -> tuple[str, ...]:
        """Return the fields that a batch is asked, the shop's own lines among them."""
        return (*WRITE_UP, *self.known.fields_of(self.known.of_batch))

    @cached_property
    def of_coupon(self) -> tuple[str, ...]:
        """Return the fields that a coupon is asked."""
        return (*COUPON, *self.known.fields_of(self.known.of_piece))

    @cached_property
    def batch_form(self) -> type[WriteUpForm]:
        """Return the form of an old batch with the shop's own lines."""
        return with_own_lines(WriteUpForm, self.known.of_batch)

    @cached_property
    def coupon_form(self) -> type[CouponForm]:
        """Return the form of a coupon with the shop's own lines."""
        return with_own_lines(CouponForm, self.known.of_piece)

    def heading_of(self, name: str) -> str:
        """Return what the file, or else the app, calls a field."""
        column = self.by_field.get(name)
        return column.heading if column else self.known.labels.get(name, "")


@dataclass
class OldRow:
    """One row as it would be kept: the forms it fills, and what is wrong with it."""

    row: Row
    label: str
    raw: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    said: set[str] = field(default_factory=set)
    """Fields that the row tells of, understood or not: nothing else stands for them."""
    strangers: list[tuple[str, str]] = field(default_factory=list)
    """Words that name nothing in the shop: (field, word)."""
    batch: FormState[WriteUpForm] | None = None
    coupon: FormState[CouponForm] | None = None
    reading: FormState[FirstReadingForm] | None = None


def read_rows(rows: Sequence[Row], how: HowRead) -> Iterator[OldRow]:
    """Yield every row as it would be kept; rows of one batch name are one batch."""
    heads: dict[str, OldRow] = {}
    for row in rows:
        old = _read_cells(row, how)
        head = heads.get(old.label) if old.label else None
        if head is None:
            if old.label:
                heads[old.label] = OldRow(old.row, old.label, old.raw)
            _read_batch(old, how)
        else:
            _hold_to_head(old, head, how)
        _read_coupon(old, head or old, how)
        yield old


def _read_cells(row: Row, how: HowRead) -> OldRow:
    texts = {name: row.cells[column.place] for name, column in how.by_field.items()}
    old = OldRow(row, texts.pop("batch", ""))
    for name, text in texts.items():
        if text and not _is_none(name, text.casefold(), how):
            old.said.add(name)
            _read_cell(old, name, text, how)
    return old


def _is_none(name: str, word: str, how: HowRead) -> bool:
    """Return whether a cell says that there was none; below a line of one's own, no is an answer."""
    return name != "note" and word in (NOT_NOTED if name in how.known.own else NONE_WORDS)


def _read_cell(old: OldRow, name: str, text: str, how: HowRead) -> None:
    if name == "day":
        day = read_day(text, how.order)
        if day is None:
            allowed = "31.3.2025 or 3/31/2025" if how.order == "month" else "31.3.2025 or 31/3/2025"
            _blame(old, name, f"'{text[:30]}' is no date. Allowed: 2025-03-31, {allowed}, 31 Mar 2025.", how)
        else:
            old.raw[name] = day.isoformat()
    elif name in how.known.own:
        _read_own(old, name, text, how.known.own[name], how)
    elif name in OWN_CHOICES or name in how.choices:
        _pick(old, name, text, how)
    else:
        unit = how.by_field[name].unit
        bare = ABOUT.sub("", text, count=1) if name in DOUBTFUL else text
        old.raw[name] = f"{bare} {unit}" if unit and bare[-1:].isdigit() and name != "hardness" else bare
        if name in DOUBTFUL:
            old.raw[f"{name}_sure"] = "about" if bare != text else how.sure


def _read_own(old: OldRow, name: str, text: str, line: OwnQuestion, how: HowRead) -> None:
    """Take a cell below a line of the shop's own: words and numbers as written, else one of its list."""
    word = text.casefold()
    if line.kind == YES_NO:
        text = "yes" if word in YES_WORDS else "no" if word in NO_WORDS else text
    if name in how.choices:
        _pick(old, name, text, how)
    else:
        old.raw[name] = text


def _pick(old: OldRow, name: str, text: str, how: HowRead) -> None:
    choices = OWN_CHOICES.get(name) or how.choices[name]
    word = text.casefold()
    picked = how.meant.get((name, word)) or _value_of(word, choices)
    if name == "unit" and picked is None:
        picked = SCALE_WORDS.get(word)
    if picked is not None:
        old.raw[name] = picked
        return
    if name not in OWN_CHOICES and (name, word) not in old.strangers:
        old.strangers.append((name, word))
    named = [choice.label for choice in choices if choice.value]
    allowed = ", ".join(named[:MOST_NAMED]) + (" and others" if len(named) > MOST_NAMED else "")
    _blame(old, name, f"'{text[:40]}' is not known here. Allowed: {allowed or 'nothing yet'}.", how)


def _value_of(word: str, choices: Sequence[Choice]) -> str | None:
    """Return the choice that a word names: its whole name, else the only name that holds it."""
    real = [choice for choice in choices if choice.value]
    for choice in real:
        if word in (choice.label.casefold(), choice.value.casefold() if not choice.value.isdigit() else ""):
            return choice.value
    holding = [choice.value for choice in real if word in choice.label.casefold()]
    return holding[0] if len(holding) == 1 else None


def _blame(old: OldRow, name: str, words: str, how: HowRead) -> None:
    old.problems.append(Problem(old.row.number, how.heading_of(name), words))


def _read_batch(old: OldRow, how: HowRead) -> None:
    """Fill the form of an old batch; an empty heat or time is one that nobody knows."""
    raw = {name: how.usual[name] for name in WRITE_UP if name in how.usual and name not in old.said}
    asked = {*how.of_batch, "note"}
    raw |= {name: text for name, text in old.raw.items() if name.removesuffix("_sure") in asked}
    raw |= {f"{name}_sure": "unknown" for name in LONG_ENOUGH if name not in old.said}
    if old.label:
        raw["note"] = f"Batch {old.label} in the old table. {raw.get('note', '')}".strip()
    old.batch = _filled(how.batch_form, raw, old, how)


def _hold_to_head(old: OldRow, head: OldRow, how: HowRead) -> None:
    """Blame cells of a later row of a batch that say otherwise than its first row."""
    for name in how.of_batch:
        if name in old.raw and old.raw[name] != head.raw.get(name):
            words = f"Row {head.row.number} of the same batch says otherwise. Make them agree, or clear this."
            _blame(old, name, words, how)


def _read_coupon(old: OldRow, head: OldRow, how: HowRead) -> None:
    """Fill the forms of a coupon and its first reading, where the row tells of one."""
    coupon = {name: old.raw[name] for name in how.of_coupon if name in old.raw}
    reading = {name: old.raw[name] for name in READING if name in old.raw}
    is_read = "hardness" in reading or "depth_m" in reading
    if not coupon and not is_read:
        return
    usual = {name: how.usual[name] for name in COUPON if name in how.usual and name not in old.said}
    note = {"note": old.raw["note"]} if "note" in old.raw and head is not old else {}
    old.coupon = _filled(how.coupon_form, usual | coupon | note | {"steel_mark": "none"}, old, how)
    if is_read:
        column = how.by_field.get("hardness")
        scale = how.usual.get("unit", "HRC") if column is None or not column.unit else column.unit
        raw = {"after": _after(head), "unit": scale, **_when_read(head, how)} | reading
        old.reading = _filled(FirstReadingForm, scale_taken(raw), old, how)


def _when_read(head: OldRow, how: HowRead) -> dict[str, str]:
    """Return the day of the batch as that of its readings; those of today are taken now."""
    day = head.raw.get("day", "")
    return {"at": f"{day}T12:00"} if day and day < how.today.isoformat() else {}


def _after(head: OldRow) -> str:
    """Return what a reading of an old batch would be after: the last thing that its row tells of."""
    steps = {"bath_id": "quench", "temper_K": "temper"}
    return usual_after([kind for name, kind in steps.items() if name in head.raw])


def _filled(form: type[F], raw: Raw, old: OldRow, how: HowRead) -> FormState[F]:
    state = read_form(form, raw, how.units)
    blamed = {problem.heading for problem in old.problems}
    for name, words in state.errors.items():
        column = how.by_field.get(name)
        if column is None or column.heading not in blamed:
            _blame(old, name, words, how)
    return state
