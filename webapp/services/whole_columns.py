"""How a table of the logbook stands in a CSV file: its headings with units, its cells, and back.

Beside each typed number stands the text as typed, for whoever reads the file; `typed (JSON)` holds the
same exactly. An empty cell is no value; an empty text where none might stand is a lone shield.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import JSON, Boolean, Column, DateTime, Float, Integer, String, Table, TypeDecorator
from sqlalchemy.types import TypeEngine

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


def kind_of(column: Column[Any]) -> TypeEngine[Any]:
    """Return what a column holds in the file: our own tables wrap some types."""
    held = column.type
    return held.impl_instance if isinstance(held, TypeDecorator) else held


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


def cells(columns: Sequence[CsvColumn], row: Mapping[str, Any]) -> list[str]:
    """Return a row as the cells of its file."""
    return [_cell_of(column, row) for column in columns]


def _cell_of(told: CsvColumn, row: Mapping[str, Any]) -> str:
    if told.column is None:
        typed = row["typed"]
        return shielded(str(typed.get(told.typed_of) or "")) if isinstance(typed, dict) else ""
    return _cell(told.column, row[told.column.name])


def _cell(column: Column[Any], value: Any) -> str:
    if value is None:
        return ""
    if isinstance(kind_of(column), JSON):
        return shielded(json.dumps(value, ensure_ascii=False, allow_nan=False))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return repr(value)
    return SHIELD if value == "" and column.nullable else shielded(value)


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
