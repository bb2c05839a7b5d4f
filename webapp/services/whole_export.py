"""Everything of the logbook to take along: as one JSON document, or as a folder of tables in a zip.

Both hold the same: every row of every table, those in the bin and the change record too, with the ids they
bear. Both read back to the same logbook (`read_back.py`). Pictures are files and not in it; their list is.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Table, text
from sqlalchemy import select as select_columns
from sqlmodel import Session

from model import MODEL_VERSION
from webapp.services.whole_columns import cells, csv_columns
from webapp.store.tables import FormUse, metadata
from webapp.store.unit_of_work import plain_value

EXPORT_SCHEMA = 1
LEFT_OUT = (FormUse.__tablename__,)  # one-use form ids are no record of the shop's
ABOUT_FILE = "about.json"
BYTE_ORDER_MARK = "\ufeff"  # tells a spreadsheet that the text is UTF-8


def everything(session: Session, now: datetime) -> dict[str, Any]:
    """Return every record of the logbook as JSON can hold it, those in the bin and all changes too."""
    tables = {table.name: _rows(session, table) for table in kept_tables()}
    return {**about(session, now), "tables": tables}


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


def _rows(session: Session, table: Table) -> list[dict[str, Any]]:
    query = select_columns(table).order_by(*table.primary_key)
    return [
        {name: plain_value(value) for name, value in row.items()} for row in session.execute(query).mappings()
    ]


def everything_as_tables(session: Session, now: datetime) -> bytes:
    """Return every record of the logbook as a zip of CSV files, one a table, units in the headings."""
    told = about(session, now)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        _put(archive, ABOUT_FILE, json.dumps(told, indent=1), now)
        for table in kept_tables():
            _put(archive, f"{table.name}.csv", BYTE_ORDER_MARK + _csv_of(session, table), now)
    return out.getvalue()


def _csv_of(session: Session, table: Table) -> str:
    columns = csv_columns(table)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.heading for column in columns])
    writer.writerows(cells(columns, row) for row in _rows(session, table))
    return out.getvalue()


def _put(archive: zipfile.ZipFile, name: str, content: str, now: datetime) -> None:
    entry = zipfile.ZipInfo(name, now.astimezone(UTC).timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    archive.writestr(entry, content.encode())
