"""A filled logbook from before tables were brought in and reminders keeps its rows, and then takes both."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlmodel import select

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import open_store, read
from webapp.store.errors import Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import BroughtIn, Reminder
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept", "typed": "{}"}


def test_a_filled_older_logbook_keeps_its_rows_and_takes_tables_and_reminders(tmp_path: Path) -> None:
    with closing(open_store(tmp_path)) as store:
        bring_up_to_date(store, NOW, upgrade=to_form("0012"))
        with store.writer.begin() as connection:
            insert(connection, "bath", RECORD | {"name": "tub", "medium": "oil", "temperature_K": 300.0,
                "agitation": "still"})  # fmt: skip
        before = row_of(store, "bath")
        assert bring_up_to_date(store, NOW) is not None
        assert row_of(store, "bath") == before
        with write(store, Actor("test bench"), NOW) as work:
            work.add(BroughtIn(file_name="old.csv", sha256="0" * 64, rows=2, batch_ids=[3, 4]))
        with pytest.raises(Refused, match="note_length"), write(store, Actor("test bench"), NOW) as work:
            work.add(BroughtIn(file_name="x", sha256="1", rows=1, note="x" * 100_001))
        for wrong in ({"after_uses": 0}, {"after_uses": 2}, {}):
            with pytest.raises(Refused, match="ck_reminder"), write(store, Actor("test bench"), NOW) as work:
                work.add(Reminder(what="oil", done_on=NOW.date(), **wrong))
        with write(store, Actor("test bench"), NOW) as work:
            work.add(Reminder(what="oil", list_key="baths", thing_id=1, after_uses=20, done_on=NOW.date()))
        with read(store) as session:
            assert [row.batch_ids for row in session.exec(select(BroughtIn))] == [[3, 4]]
