"""Tables as text that a spreadsheet opens, and back: no cell is run as a formula, none is changed by it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import Any

# A spreadsheet takes a cell that begins so for a formula; some take the wide forms too.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
SHIELD = "'"
BYTE_ORDER_MARK = "\ufeff"  # tells a spreadsheet that the text is UTF-8
PIECE = 64 * 1024  # characters, some hundred rows


def table_text(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Return a table as CSV: numbers bare, texts that a spreadsheet would run as a formula made harmless."""
    return "".join(table_pieces(columns, rows))


def table_pieces(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Give the same a piece at a time, so that a long table is never held whole."""
    return lines(chain([columns], ([_cell(value) for value in row] for row in rows)))


def lines(rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Give rows of cells as lines of CSV, some hundred at a time."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow(row)
        if out.tell() >= PIECE:
            yield out.getvalue()
            out.seek(0)
            out.truncate()
    yield out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, int | float):
        return f"{value:.10g}" if isinstance(value, float) else str(value)
    return shielded(str(value))


def shielded(text: str) -> str:
    """Return a text that no spreadsheet runs; one that begins with the shield gets another, to come back."""
    return SHIELD + text if text.startswith((SHIELD, *FORMULA_STARTS)) else text


def unshielded(cell: str) -> str:
    """Return the text that a shielded cell stands for."""
    return cell.removeprefix(SHIELD)
