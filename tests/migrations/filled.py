"""A row in every table of a logbook of any form, made from what the file itself says that it takes."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from tests.migrations.older import to_form
from webapp.store.engine import Store, open_store
from webapp.store.migrate import bring_up_to_date

NOT_OURS = ("alembic_version", "sqlite_sequence")
NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
MOMENT = "2026-01-02 12:00:00.000000"
BY_TYPE = {
    "INTEGER": 1,
    "BOOLEAN": 1,
    "FLOAT": 1.0,
    "JSON": "{}",
    "DATETIME": MOMENT,
    "DATE": "2026-01-02",
    "TIME": "08:00:00.000000",
}
# where two columns hang together by a rule of the table
TOGETHER: dict[str, dict[str, Any]] = {
    "shop": {"opens_at": "08:00:00.000000", "leaves_at": "17:00:00.000000"},
    "part": {"shape": "plate", "size_m": 0.02, "bore_m": None},
    "item": {"shape": "plate", "size_m": 0.02, "bore_m": None},
    "step": {"item_id": None},
    "photo": {"item_id": None, "sha256": "a" * 64},
    "shopchange": {"instrument_id": None, "box_id": None, "mix_id": None, "bath_id": None},
}


def filled(folder: Path, form: str) -> Store:
    """Make a logbook of an older form with a row in every table."""
    store = open_store(folder)
    bring_up_to_date(store, NOW, upgrade=to_form(form))
    with store.writer.begin() as connection:
        counts = fill_every_table(connection)
    assert set(counts.values()) == {1}
    return store


def fill_every_table(connection: Connection) -> dict[str, int]:
    """Put a row into each table that has none and return how many each holds."""
    waiting = [table for table in tables_of(connection) if not count(connection, table)]
    made: set[str] = set(tables_of(connection)) - set(waiting)
    while waiting:
        ready = [table for table in waiting if parents_of(connection, table) <= made | {table}]
        assert ready, f"these tables refer to one another in a circle: {waiting}"
        for table in ready:
            _fill(connection, table)
        made |= set(ready)
        waiting = [table for table in waiting if table not in made]
    return {table: count(connection, table) for table in tables_of(connection)}


def tables_of(connection: Connection) -> list[str]:
    listed = connection.exec_driver_sql(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' ORDER BY name"
    )
    return [name for (name,) in listed if name not in NOT_OURS and not name.startswith("sqlite_")]


def count(connection: Connection, table: str) -> int:
    return int(connection.exec_driver_sql(f'SELECT count(*) FROM "{table}"').scalar_one())


def parents_of(connection: Connection, table: str) -> set[str]:
    return {row[2] for row in connection.exec_driver_sql(f'PRAGMA foreign_key_list("{table}")')}


def _fill(connection: Connection, table: str) -> None:
    sql = connection.exec_driver_sql("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).scalar_one()
    row: dict[str, Any] = {}
    for _, name, kind, *_ in connection.exec_driver_sql(f'PRAGMA table_info("{table}")'):
        row[name] = _value(sql, name, kind)
    row |= {name: value for name, value in TOGETHER.get(table, {}).items() if name in row}
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" for _ in row)
    connection.exec_driver_sql(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', tuple(row.values()))


def _value(sql: str, name: str, kind: str) -> Any:
    """Return something that a column takes, by its type and its own check."""
    words = re.search(rf'"{name}" IN \((.*?)\)', sql)
    if words:
        return next(word for word in re.findall(r"'(.*?)'", words[1]) if word)
    limits = re.search(rf'"{name}" BETWEEN (\S+) AND ([^\s)]+)', sql)
    if limits:
        return min(max(1.0, float(limits[1])), float(limits[2]))
    return BY_TYPE.get(kind.partition("(")[0].upper(), f"words of {name}")


def values_of(connection: Connection) -> dict[tuple[str, str], list[Any]]:
    """Return what stands in each column of each table."""
    found = {}
    for table in tables_of(connection):
        for _, name, *_ in connection.exec_driver_sql(f'PRAGMA table_info("{table}")').fetchall():
            rows = connection.exec_driver_sql(f'SELECT "{name}" FROM "{table}" ORDER BY 1').fetchall()
            found[table, name] = [row[0] for row in rows]
    return found
