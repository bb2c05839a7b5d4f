"""Rows of a table as its database keeps them, one at a time, and what a kept value is as JSON holds it.

Whole tables go out by these: no record is built of a row, so that ten thousand batches take no more memory
than ten. A very long JSON text (the belief of an old logbook) stays a text: `json_pieces` goes through it.
"""

from __future__ import annotations

import json
import math
from codecs import getincrementaldecoder
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    ColumnElement,
    Date,
    DateTime,
    Float,
    LargeBinary,
    Table,
    Time,
    TypeDecorator,
    case,
    cast,
    func,
    type_coerce,
)
from sqlalchemy import select as select_columns
from sqlalchemy.engine import Connection
from sqlalchemy.types import NullType, TypeEngine

from webapp.services.json_reader import DECODER, JsonReader
from webapp.store.errors import Refused

LONG_TEXT = 256 * 1024
SHORT_TEXT = 64
KEPT = 4096
NO_NUMBER = "A number is missing or without end where a plain number must stand."

StoredRow = Sequence[Any]


@dataclass(frozen=True)
class LongText:
    """A JSON text that is too long to be taken out whole: where it stands, to be read from there."""

    connection: Connection
    table: str
    column: str
    row_id: Any

    @contextmanager
    def reader(self) -> Iterator[JsonReader]:
        """Open it to be read."""
        driver: Any = self.connection.connection.driver_connection
        decode = getincrementaldecoder("utf-8")().decode
        with driver.blobopen(self.table, self.column, self.row_id, readonly=True) as blob:
            yield JsonReader(lambda length: decode(blob.read(length)))

    def whole(self) -> Any:
        """Unpack it whole after all."""
        with self.reader() as read:
            return read.value()


def stored_rows(connection: Connection, table: Table) -> Iterator[StoredRow]:
    """Give the rows of a table by its key, each value as the database keeps it."""
    own = {column.name for column in table.columns if isinstance(kind_of(column), JSON)}
    taken = (_short(column) if column.name in own else column for column in table.columns)
    query = select_columns(*(type_coerce(one, NullType()).label(None) for one in taken))
    jsons = [(place, name) for place, name in enumerate(table.columns.keys()) if name in own]
    key = table.columns.keys().index("id")
    for row in connection.execute(query.order_by(table.columns["id"])):
        if any(isinstance(row[place], int) for place, _ in jsons):
            yield _with_long(connection, table.name, row, row[key], jsons)
        else:
            yield row


def _short(column: Column[Any]) -> ColumnElement[Any]:
    """Return a JSON text, or a number where it is too long."""
    length = func.length(cast(column, LargeBinary))
    return case((length > LONG_TEXT, 1), else_=type_coerce(column, NullType()))


def _with_long(
    connection: Connection, table: str, row: StoredRow, row_id: Any, jsons: Sequence[tuple[int, str]]
) -> StoredRow:
    found = list(row)
    for place, name in jsons:
        if isinstance(row[place], int):
            found[place] = LongText(connection, table, name, row_id)
    return found


def has_long(row: StoredRow) -> bool:
    """Tell whether a row holds a text too long to be taken out whole."""
    return any(isinstance(value, LongText) for value in row)


def kind_of(column: Column[Any]) -> TypeEngine[Any]:
    """Return what a column holds in the file: our own tables wrap some types."""
    held = column.type
    return held.impl_instance if isinstance(held, TypeDecorator) else held


def plain_by(column: Column[Any]) -> Callable[[Any], Any]:
    """Return what makes a kept value of a column, not nothing, one that JSON can hold."""
    for kind, plain in PLAIN.items():
        if isinstance(kind_of(column), kind):
            return plain
    return _as_it_is


@lru_cache(KEPT)
def _moment(kept: str) -> str:
    moment = datetime.fromisoformat(kept)
    return (moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC)).isoformat()


def _day(kept: str) -> str:
    return date.fromisoformat(kept).isoformat()


def _hour(kept: str) -> str:
    return time.fromisoformat(kept).isoformat()


def _finite(kept: float) -> float:
    if not math.isfinite(kept):
        raise Refused(NO_NUMBER)
    return kept


def plain_json(kept: str | LongText) -> Any:
    """Return what a JSON text holds, to be read and not to be changed: short ones are unpacked once."""
    if isinstance(kept, LongText):
        return kept.whole()
    return _short_json(kept) if len(kept) <= SHORT_TEXT else DECODER.decode(kept)


def write_json(value: Any) -> str:
    """Return a value as the database keeps it, as JSON."""
    try:
        return ENCODER.encode(value)
    except ValueError as error:
        raise Refused(NO_NUMBER) from error


ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)
_short_json = lru_cache(KEPT)(DECODER.decode)


def _as_it_is(kept: Any) -> Any:
    return kept


PLAIN: dict[type[TypeEngine[Any]], Callable[[Any], Any]] = {
    JSON: plain_json, DateTime: _moment, Date: _day, Time: _hour, Boolean: bool, Float: _finite,
}  # fmt: skip
