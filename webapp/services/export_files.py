"""An export read again, JSON or zip of tables: what is in it, row by row, before anything of it is kept."""

from __future__ import annotations

import csv
import io
import json
import sys
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NoReturn, Protocol

from sqlalchemy import Table

from webapp.services.whole_columns import csv_columns, value_of
from webapp.services.whole_export import ABOUT_FILE, EXPORT_SCHEMA
from webapp.store.engine import plain_trouble
from webapp.store.errors import CannotOpen, LogbookNewer, Refused

MOST_BYTES = 1024**3
ZIP_START = b"PK\x03\x04"
BAD_MEMBER = (KeyError, zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError)
HOW_TO_GET_ONE = "Take one along from the Logbook page: Everything, as JSON or as tables."


class ExportFile(Protocol):
    """An export: what it says of itself, and the rows of each of its tables by column."""

    about: Mapping[str, Any]

    def rows(self, table: Table) -> Iterator[Any]:
        """Give the rows of one table, or raise `Refused`."""


def open_export(file: Path) -> ExportFile:
    """Return the export in a file, or raise `CannotOpen` or `Refused` with what is wrong."""
    try:
        if file.stat().st_size > MOST_BYTES:
            raise Refused(f"{file} is larger than {MOST_BYTES // 1024**2} MB, too large for an export.")
        content = file.read_bytes()
    except OSError as error:
        raise CannotOpen(f"{file} cannot be read: {plain_trouble(error)}.") from error
    told: ExportFile = ZipExport(content) if content.startswith(ZIP_START) else JsonExport(content)
    schema = told.about.get("schema")
    if isinstance(schema, int) and schema > EXPORT_SCHEMA:
        raise LogbookNewer("This export was made by a newer casewright. Install that one, then try again.")
    if schema != EXPORT_SCHEMA or not isinstance(told.about.get("revision"), str):
        raise Refused(f"This is no whole export of a logbook. {HOW_TO_GET_ONE}")
    return told


class JsonExport:
    """The one document of everything."""

    def __init__(self, content: bytes) -> None:
        """Read it whole."""
        told = _json(content, "The file")
        self.about: Mapping[str, Any] = told if isinstance(told, dict) else {}
        self._tables = self.about.get("tables")

    def rows(self, table: Table) -> Iterator[Any]:
        """Give the rows of one table."""
        rows = self._tables.get(table.name) if isinstance(self._tables, dict) else None
        if not isinstance(rows, list):
            raise Refused(f"The export has no list of the table {table.name}. {HOW_TO_GET_ONE}")
        return iter(rows)


class ZipExport:
    """The zip of tables."""

    def __init__(self, content: bytes) -> None:
        """Open it and read what it says of itself."""
        try:
            self._archive = zipfile.ZipFile(io.BytesIO(content))
        except zipfile.BadZipFile as error:
            raise Refused(f"The zip is damaged or cut short. {HOW_TO_GET_ONE}") from error
        if sum(entry.file_size for entry in self._archive.infolist()) > MOST_BYTES:
            raise Refused(f"The zip unpacks to more than {MOST_BYTES // 1024**2} MB, too much for an export.")
        told = _json(self._content(ABOUT_FILE), ABOUT_FILE)
        self.about: Mapping[str, Any] = told if isinstance(told, dict) else {}

    def rows(self, table: Table) -> Iterator[Any]:
        """Give the rows of one table."""
        name = f"{table.name}.csv"
        known = {column.heading: column for column in csv_columns(table)}
        lines = self._lines(name)
        headings = next(lines, [])
        if sorted(headings) != sorted(known):
            raise Refused(f"{name}: the headings are not those that casewright wrote. Leave row 1 as it was.")
        columns = [known[heading] for heading in headings]
        for number, line in enumerate(lines, start=2):
            if len(line) != len(columns):
                raise Refused(f"{name}, row {number}: {len(line)} cells where {len(columns)} belong.")
            yield {
                told.column.name: _value(told.column, cell, f"{name}, row {number}, {told.heading}")
                for told, cell in zip(columns, line, strict=True)
                if told.column is not None
            }

    def _content(self, name: str) -> bytes:
        try:
            return self._archive.read(name)
        except BAD_MEMBER as error:
            raise _unreadable(name) from error

    def _lines(self, name: str) -> Iterator[list[str]]:
        """Give the lines of a table one by one, so that it is never unpacked whole."""
        csv.field_size_limit(min(sys.maxsize, MOST_BYTES))
        try:
            with self._archive.open(name) as file, io.TextIOWrapper(file, "utf-8-sig", newline="") as text:
                yield from csv.reader(text, strict=True)
        except (UnicodeDecodeError, csv.Error) as error:
            raise Refused(f"{name} is not a table as casewright writes it ({error}).") from error
        except BAD_MEMBER as error:
            raise _unreadable(name) from error


def _unreadable(name: str) -> Refused:
    return Refused(f"The zip has no {name} that can be read. {HOW_TO_GET_ONE}")


def _value(column: Any, cell: str, where: str) -> Any:
    try:
        return value_of(column, cell)
    except (ValueError, KeyError, RecursionError) as error:
        raise Refused(f"{where}: '{cell[:40]}' cannot stand there.") from error


def _json(content: bytes, name: str) -> Any:
    try:
        return json.loads(content, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise Refused(f"{name} is not JSON as casewright writes it. {HOW_TO_GET_ONE}") from error


def _no_number(name: str) -> NoReturn:
    raise ValueError(name)
