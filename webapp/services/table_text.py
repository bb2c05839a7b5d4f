"""Tables as text that a spreadsheet opens, and back: no cell is run as a formula, none is changed by it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

# A spreadsheet takes a cell that begins so for a formula; some take the wide forms too.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
SHIELD = "'"


def table_text(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Return a table as CSV: numbers bare, texts that a spreadsheet would run as a formula made harmless."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


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
