"""A whole table as CSV, a piece at a time: some hundred rows, or a part of a cell that is very long."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from sqlalchemy import Table

from webapp.services.json_pieces import JsonPieces
from webapp.services.stored_rows import LongText, StoredRow, has_long, write_json
from webapp.services.table_text import BYTE_ORDER_MARK, lines
from webapp.services.whole_columns import CsvCell, cells, csv_cells, csv_columns

TO_BE_QUOTED = re.compile('[",\r\n]')
AS_KEPT = JsonPieces(write_json, ", ", ": ")


def csv_pieces(table: Table, rows: Iterable[StoredRow]) -> Iterator[str]:
    """Give a table's file, its headings first."""
    columns = csv_columns(table)
    how = csv_cells(table, columns)
    yield BYTE_ORDER_MARK
    yield from lines([[column.heading for column in columns]])
    for is_long, some in groupby(rows, has_long):
        if is_long:
            for row in some:
                yield from _long_line(how, row)
        else:
            yield from lines(cells(how, row) for row in some)


def _long_line(how: Sequence[CsvCell], row: StoredRow) -> Iterator[str]:
    """Give a line with a very long JSON text in it; such a text holds quotes or commas, so it is quoted."""
    for number, cell in enumerate(how):
        yield "," if number else ""
        kept = row[cell.place]
        if isinstance(kept, LongText) and cell.is_all:
            with kept.reader() as read:
                yield '"'
                yield from (piece.replace('"', '""') for piece in AS_KEPT.of(read))
                yield '"'
        else:
            yield _quoted(cell.write(kept))
    yield "\r\n"


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if TO_BE_QUOTED.search(cell) else cell
