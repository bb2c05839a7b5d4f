"""A spreadsheet's text file read into rows, however it was saved: its letters, its separators, its quotes.

Every refusal says in words what is wrong with the file and how to save it instead.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from webapp.services.table_text import FORMULA_STARTS, SHIELD, unshielded

MOST_BYTES = 5 * 1024 * 1024
MOST_ROWS = 20_000  # a row is some twenty records: more would keep everybody else's saves waiting
MOST_COLUMNS = 60
SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas"}
SAVE_AS_CSV = "Open it in the spreadsheet, choose Save as, and pick CSV (text)."
OTHER_FILES = {
    b"PK\x03\x04": "a spreadsheet's own file or a zip, not text",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet's own file, not text",
    b"%PDF": "a PDF, not a table",
    b"\x1f\x8b": "a packed file, not text",
    b"\xff\xd8\xff": "a photo, not a table",
    b"\x89PNG": "a picture, not a table",
}


class SheetRefused(Exception):
    """What is wrong with a file as a whole, and what to do."""


@dataclass(frozen=True)
class Row:
    """One row by the number that the spreadsheet gives it, a text for each heading."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A table: its headings, its rows that hold anything, and how the file was written."""

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    letters: str
    separator: str


def read_sheet(content: bytes, known_headings: Collection[str]) -> Sheet:
    """Return the table in a file, or raise `SheetRefused`; known headings help to tell the separator."""
    text, letters = _decoded(content)
    separator, text = _separator(text, known_headings)
    records = list(_records(text, separator))
    head = next((index for index, record in enumerate(records) if any(record)), None)
    if head is None:
        raise SheetRefused(
            "The file is empty. Fill in its first row with headings, and a row for each coupon."
        )
    headings = records[head]
    while headings and not headings[-1]:
        headings.pop()
    if len(headings) > MOST_COLUMNS:
        raise SheetRefused(f"The file has {len(headings)} columns; up to {MOST_COLUMNS} can be read.")
    rows = [
        _row(number, record, len(headings))
        for number, record in enumerate(records[head + 1 :], start=head + 2)
        if any(record)
    ]
    if not rows:
        raise SheetRefused("The file has headings and no row beneath them.")
    if len(rows) > MOST_ROWS:
        raise SheetRefused(
            f"The file has {len(rows):,} rows; {MOST_ROWS:,} can be brought in at once. Split it in two."
        )
    return Sheet(tuple(headings), tuple(rows), letters, SEPARATORS[separator])


def _decoded(content: bytes) -> tuple[str, str]:
    """Return a file's text and what its letters are called."""
    if len(content) > MOST_BYTES:
        raise SheetRefused(f"The file is larger than {MOST_BYTES // 1024**2} MB. Split it in two.")
    for start, words in OTHER_FILES.items():
        if content.startswith(start):
            raise SheetRefused(f"This is {words}. {SAVE_AS_CSV}")
    for encoding, name in _encodings(content):
        try:
            text = content.decode(encoding).removeprefix("\ufeff")
        except UnicodeDecodeError:
            continue
        if any(character < " " and character not in "\t\r\n" for character in text):
            break
        return text, name
    raise SheetRefused(f"This is not a table saved as text. {SAVE_AS_CSV}")


def _encodings(content: bytes) -> list[tuple[str, str]]:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return [("utf-16", "UTF-16")]
    return [("utf-8", "UTF-8"), ("cp1252", "Windows letters"), ("latin-1", "Latin-1")]


def _separator(text: str, known: Collection[str]) -> tuple[str, str]:
    """Return what parts the cells, by which makes the most known headings; and the rest of the text."""
    first = text.split("\n", 1)[0].strip('" \r')
    if first.lower().startswith("sep=") and first[4:5] in SEPARATORS:
        return first[4:5], text.partition("\n")[2]
    start = next((line for line in text.splitlines() if line.strip()), "")

    def worth(separator: str) -> tuple[int, int]:
        cells = [_clean(cell).casefold() for cell in next(csv.reader([start], delimiter=separator), [])]
        return sum(any(cell.startswith(name) for name in known) for cell in cells), len(cells)

    return max(SEPARATORS, key=worth), text


def _records(text: str, separator: str) -> Iterator[list[str]]:
    number = 0
    try:
        for number, record in enumerate(
            csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True), start=1
        ):
            if number > 2 * MOST_ROWS:
                raise SheetRefused(f"The file has more than {2 * MOST_ROWS:,} lines. Split it in two.")
            yield [_clean(cell) for cell in record]
    except csv.Error as error:
        raise SheetRefused(
            f"Row {number + 1} cannot be read: a quotation mark is not closed, or stands inside a cell. "
            f"Put it right, or save the table anew as CSV ({error})."
        ) from error


def _clean(cell: str) -> str:
    bare = cell.strip()
    is_shielded = bare.startswith(SHIELD) and bare[1:].startswith(FORMULA_STARTS)
    return unshielded(bare) if is_shielded else bare


def _row(number: int, record: list[str], width: int) -> Row:
    if any(record[width:]):
        raise SheetRefused(
            f"Row {number} has more cells than there are headings ({len(record)}, and {width} headings). "
            "If a number is written with a comma, part the cells with semicolons or put it in quotes."
        )
    return Row(number, tuple([*record, *[""] * width][:width]))
