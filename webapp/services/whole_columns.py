"""How a table of the logbook stands in a CSV file: its headings with units, its cells, and back.

Beside each typed number stands the text as typed, for whoever reads the file; `typed (JSON)` holds the
same exactly. An empty cell is no value; an empty text where none might stand is a lone shield.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

from sqlalchemy import JSON, Boolean, Column, DateTime, Float, Integer, String, Table

from webapp.services.stored_rows import (
    KEPT,
    SHORT_TEXT,
    LongText,
    StoredRow,
    kind_of,
    plain_by,
    plain_json,
    write_json,
)
from webapp.services.table_text import SHIELD, shielded, unshielded

# the unit by how a column's name ends; the longest ending wins
UNITS = {
    "_m": "m", "_m3": "m3", "_K": "K", "_s": "s", "seconds": "s", "seconds_spread": "s", "_kg": "kg",
    "_Pa": "Pa", "_percent": "%", "_wt": "wt%", "_HRC": "HRC", "_px": "px", "_bytes": "bytes",
    "_per_kg": "money/kg",
}  # fmt: skip
SPOKEN = ("seconds", "percent", "bytes", "kg")  # endings that stay part of the words


@dataclass(frozen=True)
class CsvColumn:
    """One column of a CSV file; `column` is None where it only repeats what was typed of `typed_of`."""

    heading: str
    column: Column[Any] | None = None
    typed_of: str = ""


def csv_columns(table: Table) -> list[CsvColumn]:
    """Return the columns of a table's file, each typed number followed by the number as typed."""
    found = []
    for column in table.columns:
        found.append(CsvColumn(heading(column), column))
        if "typed" in table.columns and isinstance(kind_of(column), Float) and "spread" not in column.name:
            found.append(CsvColumn(f"{heading(column)}, as typed", typed_of=column.name))
    return found


def heading(column: Column[Any]) -> str:
    """Return a column's name in words, its unit behind it."""
    by_type = {JSON: "JSON", DateTime: "UTC"}
    told = (unit for kind, unit in by_type.items() if isinstance(kind_of(column), kind))
    unit = next(told, None) or _unit(column.name)
    return f"{_words(column.name)} ({unit})" if unit else _words(column.name)


def _unit(name: str) -> str:
    bare = name.replace("_spread_K", "_K")
    endings = [ending for ending in UNITS if bare.endswith(ending)]
    return UNITS[max(endings, key=len)] if endings else ""


def _words(name: str) -> str:
    words = name.split("_")
    kept = [word for word in words if f"_{word}" not in UNITS or word in SPOKEN]
    return " ".join(kept)


@dataclass(frozen=True)
class CsvCell:
    """How one cell comes of a row as the database keeps it: from which place in it, and by what."""

    place: int
    write: Callable[[Any], str]
    is_all: bool = True  # not only a part of what stands there


def csv_cells(table: Table, columns: Sequence[CsvColumn]) -> list[CsvCell]:
    """Return how the cells of a table's file come of its rows."""
    places = {name: place for place, name in enumerate(table.columns.keys())}
    return [
        CsvCell(places["typed"], partial(_as_typed, told.typed_of), is_all=False)
        if told.column is None
        else CsvCell(places[told.column.name], _writer_of(told.column))
        for told in columns
    ]


def cells(how: Sequence[CsvCell], row: StoredRow) -> list[str]:
    """Return a row as the cells of its file."""
    return [cell.write(row[cell.place]) for cell in how]


def _as_typed(name: str, kept: str | LongText) -> str:
    if kept == "{}":
        return ""
    typed = plain_json(kept)
    return shielded(str(typed.get(name) or "")) if isinstance(typed, dict) else ""


def _writer_of(column: Column[Any]) -> Callable[[Any], str]:
    """Return what writes a column's kept value; an empty cell is no value."""
    if isinstance(kind_of(column), JSON):
        return _json_cell
    if isinstance(kind_of(column), Boolean):
        return lambda kept: "" if kept is None else "yes" if kept else "no"
    if isinstance(kind_of(column), Integer | Float):
        plain_number = plain_by(column)
        return lambda kept: "" if kept is None else repr(plain_number(kept))
    plain = plain_by(column)
    empty = SHIELD if column.nullable else ""
    return lambda kept: "" if kept is None else shielded(plain(kept)) or empty


def _json_cell(kept: str | None) -> str:
    if kept is None:
        return ""
    return _short_json_cell(kept) if len(kept) <= SHORT_TEXT else _json_text(kept)


def _json_text(kept: str) -> str:
    value = plain_json(kept)
    return "" if value is None else shielded(write_json(value))


_short_json_cell = lru_cache(KEPT)(_json_text)


def value_of(column: Column[Any], cell: str) -> Any:
    """Return what a cell stands for, as JSON would hold it; raises ValueError."""
    is_text = isinstance(kind_of(column), String)
    if cell == "":
        return "" if is_text and not column.nullable else None
    if isinstance(kind_of(column), JSON):
        return json.loads(unshielded(cell))
    if isinstance(kind_of(column), Boolean):
        return {"yes": True, "no": False}[cell]
    if isinstance(kind_of(column), Integer):
        return int(cell)
    if isinstance(kind_of(column), Float):
        return float(cell)
    return unshielded(cell)
