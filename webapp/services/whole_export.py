"""Everything of the logbook to take along: as one JSON document, or as a folder of tables in a zip.

Both hold the same: every row of every table, those in the bin and the change record too, with the ids they
bear. Both read back to the same logbook (`read_back.py`). Pictures are files and not in it; their list is.
Neither is ever held whole: both go out row by row.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import IO, Any

from pydantic_core import to_json
from sqlalchemy import Table, text
from sqlmodel import Session

from model import MODEL_VERSION
from webapp.forms.logbook_output import ExportAnswer
from webapp.services.stored_rows import stored_rows
from webapp.services.whole_csv import csv_pieces
from webapp.services.whole_json import row_pieces
from webapp.store.tables import FormUse, metadata

EXPORT_SCHEMA = 1
LEFT_OUT = (FormUse.__tablename__,)  # one-use form ids are no record of the shop's
ABOUT_FILE = "about.json"
LARGE_LOGBOOK = 512 * 1024**2
"""Bytes of a database above which a table's file may be too long for a zip's short form."""


def document_pieces(session: Session, now: datetime) -> Iterator[bytes]:
    """Give every record of the logbook as one JSON document, as `ExportAnswer` describes it."""
    head = ExportAnswer.model_validate({**about(session, now), "tables": {}})
    yield head.model_dump_json(by_alias=True).encode().removesuffix(b"}}")
    before = b""
    for table in kept_tables():
        yield before + to_json(table.name) + b":["
        yield from row_pieces(table, stored_rows(session.connection(), table))
        yield b"]"
        before = b","
    yield b"}}"


def about(session: Session, now: datetime) -> dict[str, Any]:
    """Return what tells how to read an export: its schema and the logbook's form, and when it was made."""
    return {
        "schema": EXPORT_SCHEMA,
        "revision": session.execute(text("SELECT version_num FROM alembic_version")).scalar_one(),
        "model_version": MODEL_VERSION,
        "exported_at": now.astimezone(UTC).isoformat(),
    }


def kept_tables() -> list[Table]:
    """Return the tables that are records of the shop, each after those it refers to."""
    return [table for table in metadata.sorted_tables if table.name not in LEFT_OUT]


def write_tables(session: Session, now: datetime, out: IO[bytes]) -> None:
    """Write every record of the logbook as a zip of CSV files, one a table, units in the headings."""
    told = about(session, now)
    size = session.execute(text("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size"))
    is_large = size.scalar_one() > LARGE_LOGBOOK
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        _put(archive, ABOUT_FILE, [json.dumps(told, indent=1)], now)
        for table in kept_tables():
            pieces = csv_pieces(table, stored_rows(session.connection(), table))
            _put(archive, f"{table.name}.csv", pieces, now, is_large)


def _put(
    archive: zipfile.ZipFile, name: str, pieces: Iterable[str], now: datetime, is_large: bool = False
) -> None:
    entry = zipfile.ZipInfo(name, now.astimezone(UTC).timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    with archive.open(entry, "w", force_zip64=is_large) as member:
        for piece in pieces:
            member.write(piece.encode())
