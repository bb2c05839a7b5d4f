"""The rows of a whole table as JSON, one at a time, or in parts where a row holds a very long text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from pydantic_core import to_json
from sqlalchemy import Table

from webapp.services.json_pieces import JsonPieces
from webapp.services.stored_rows import LongText, StoredRow, has_long, plain_by, write_json

NOT_JSON = (b"NaN", b"Infinity")


def json_of(value: Any) -> bytes:
    """Return a value as the interface writes it; refuse numbers that JSON has no word for."""
    written = to_json(value)
    if any(word in written for word in NOT_JSON):  # most often in a text
        write_json(value)
    return written


COMPACT = JsonPieces(lambda value: json_of(value).decode(), ",", ":")


Field = tuple[str, Callable[[Any], Any]]


def row_pieces(table: Table, rows: Iterable[StoredRow]) -> Iterator[bytes]:
    """Give a table's rows as JSON objects with commas between."""
    fields: list[Field] = [(column.name, plain_by(column)) for column in table.columns]
    before = b""
    for row in rows:
        if has_long(row):
            yield before
            yield from _long_row(fields, row)
        else:
            yield before + json_of(_plain(fields, row))
        before = b","


def _plain(fields: Sequence[Field], row: StoredRow) -> dict[str, Any]:
    return {
        name: None if kept is None else plain(kept) for (name, plain), kept in zip(fields, row, strict=True)
    }


def _long_row(fields: Sequence[Field], row: StoredRow) -> Iterator[bytes]:
    """Give a row with a very long JSON text in it, which is never unpacked whole."""
    before = b"{"
    for (name, plain), kept in zip(fields, row, strict=True):
        yield before + json_of(name) + b":"
        if isinstance(kept, LongText):
            with kept.reader() as read:
                yield from (piece.encode() for piece in COMPACT.of(read))
        else:
            yield json_of(None if kept is None else plain(kept))
        before = b","
    yield b"}"
