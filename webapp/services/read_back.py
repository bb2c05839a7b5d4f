"""A whole export read back into a new logbook: all of it or nothing, with the ids that its rows bore.

The rows go into a database of the form the export was made from, which is then brought up to date as any
old logbook is; only when it checks out does it take its place in the data folder.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import partial
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    Float,
    Integer,
    String,
    Table,
    Time,
    select,
)
from sqlalchemy.exc import DatabaseError

from webapp.services.export_files import ExportFile, open_export
from webapp.store.backup import copy_database
from webapp.store.engine import LOGBOOK_FILE, Store, open_store
from webapp.store.errors import CannotOpen, Refused
from webapp.store.migrate import bring_up_to_date, refuse_newer, run_alembic
from webapp.store.reflected import record_tables

LARGEST_WHOLE = 2**63 - 1
ROWS_AT_ONCE = 500


@dataclass(frozen=True)
class ReadBack:
    """What was read back: rows in all, batches, and photos whose pictures are files of their own."""

    rows: int
    batches: int
    photos: int


def read_back(file: Path, folder: Path, now: datetime) -> ReadBack:
    """Make the logbook of a data folder that holds none yet from a whole export."""
    told = open_export(file)
    revision = told.about["revision"]
    refuse_newer(revision)
    refuse_logbook(folder)
    aside = TemporaryDirectory(prefix="reading-back-", dir=folder)
    with aside as path, closing(open_store(Path(path))) as store:
        bring_up_to_date(store, now, partial(run_alembic, revision=revision))
        counts = insert_all(store, told)
        bring_up_to_date(store, now)
        copy_database(store.file, folder / LOGBOOK_FILE)
    return ReadBack(sum(counts.values()), counts.get("batch", 0), counts.get("photo", 0))


def refuse_logbook(folder: Path) -> None:
    """Raise `CannotOpen` if the folder holds a logbook with anything in it."""
    if not (folder / LOGBOOK_FILE).exists():
        return
    with closing(open_store(folder)) as store, store.reader.connect() as connection:
        tables = record_tables(connection)
        filled = [table for table in tables if connection.execute(select(table).limit(1)).first() is not None]
    if filled:
        raise CannotOpen(
            f"{folder} holds a logbook already; it was not touched. Choose an empty folder with --data."
        )


def insert_all(store: Store, told: ExportFile) -> dict[str, int]:
    """Put every row of an export into an empty logbook of its form, in one transaction."""
    counts = {}
    try:
        with store.writer.connect() as connection, connection.begin():
            connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")  # a piece may name a later one
            for table in record_tables(connection):
                counts[table.name] = 0
                numbered = enumerate(told.rows(table), start=1)
                while rows := [_row(table, row, n) for n, row in islice(numbered, ROWS_AT_ONCE)]:
                    connection.execute(table.insert(), rows)
                    counts[table.name] += len(rows)
    except DatabaseError as error:
        raise Refused(f"The export holds what no logbook may ({error.orig}). Nothing was kept.") from error
    return counts


def _row(table: Table, row: Any, number: int) -> dict[str, Any]:
    """Return a row as the database takes it; refuse other columns, and what cannot stand in one."""
    where = f"Table {table.name}, row {number}"
    if not isinstance(row, Mapping) or set(row) != set(table.columns.keys()):
        raise Refused(f"{where}: its columns are not those of this logbook. Nothing was kept.")
    return {column.name: _stored(column, row[column.name], where) for column in table.columns}


def _stored(column: Column[Any], value: Any, where: str) -> Any:
    if value is None and column.nullable:
        return None
    try:
        return _of_kind(column, value)
    except (ValueError, TypeError) as error:
        shown = str(value)[:40].encode(errors="replace").decode()
        raise Refused(f"{where}, {column.name}: '{shown}' cannot stand there. Nothing was kept.") from error


def _of_kind(column: Column[Any], value: Any) -> Any:
    """Return a value as its column takes it; raises ValueError or TypeError."""
    match column.type:
        case JSON():
            return _want(value, dict, list)
        case Boolean():
            return _want(value, bool)
        case Float():
            number = float(_want(_not_yes_or_no(value), int, float))
            if not math.isfinite(number):
                raise ValueError(value)
            return number
        case Integer():
            whole = _want(_not_yes_or_no(value), int)
            if abs(whole) > LARGEST_WHOLE:
                raise ValueError(value)
            return whole
        case DateTime():
            moment = datetime.fromisoformat(value)
            if moment.tzinfo is None:
                raise ValueError(value)
            return moment.astimezone(UTC).replace(tzinfo=None)
        case Date():
            return date.fromisoformat(value)
        case Time():
            return time.fromisoformat(value)
        case String():
            return _want(value, str).encode().decode()  # half a character is no text
        case _:
            raise TypeError(column.type)


def _want(value: Any, *kinds: type[Any]) -> Any:
    if not isinstance(value, kinds):
        raise TypeError(value)
    return value


def _not_yes_or_no(value: Any) -> Any:
    if isinstance(value, bool):
        raise TypeError(value)
    return value
