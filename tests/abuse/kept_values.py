"""Every value that a logbook holds: whether a number in it is none."""

from __future__ import annotations

import json
import math
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any


def values_that_are_no_numbers(file: Path) -> list[str]:
    """Return where a column of numbers, or a number in a column of JSON, holds what is no finite number.

    SQLite turns a NaN into an empty field and keeps infinities; text in a column of numbers is as wrong.
    """
    found = []
    with closing(sqlite3.connect(file)) as book:
        for table, column, kind in columns(book):
            for row_id, value in book.execute(f'SELECT rowid, "{column}" FROM "{table}"'):
                if value is not None and not is_sound(value, kind):
                    found.append(f"{table}.{column} of row {row_id} is {value!r}")
    return found


def columns(book: sqlite3.Connection) -> list[tuple[str, str, str]]:
    """Return every column of numbers and of JSON as (table, column, kind)."""
    tables = [row[0] for row in book.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
    return [
        (table, row[1], row[2])
        for table in tables
        for row in book.execute(f'PRAGMA table_info("{table}")')
        if row[2] in ("FLOAT", "INTEGER", "JSON", "BOOLEAN")
    ]


def is_sound(value: Any, kind: str) -> bool:
    if kind == "JSON":
        return all_finite(json.loads(value))
    return isinstance(value, int | float) and math.isfinite(value)


def all_finite(value: Any) -> bool:
    """Tell whether every number in a JSON value is one; Python reads NaN and Infinity as such."""
    if isinstance(value, dict):
        return all(all_finite(part) for part in value.values())
    if isinstance(value, list):
        return all(all_finite(part) for part in value)
    return not isinstance(value, float) or math.isfinite(value)


def is_whole(file: Path) -> bool:
    """Tell whether SQLite finds nothing wrong with a database, nor with what its rows refer to."""
    with closing(sqlite3.connect(file)) as book:
        whole = book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return whole and not book.execute("PRAGMA foreign_key_check").fetchall()
