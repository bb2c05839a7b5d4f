"""A filled logbook of the form before keeps all it holds when dated changes come, and has none of them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import Store, open_store
from webapp.store.errors import Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import Change, ShopChange
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept", "typed": "{}"}
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("forge", {"name": "long one", "fuel": "propane", "inside_length_m": 0.4, "inside_width_m": 0.2,
        "inside_height_m": 0.2, "hot_end": "even"}),
    ("instrument", {"name": "tip", "role": "heat", "method": "thermocouple", "spread": 7.0,
        "settings": "{}"}),
    ("bath", {"name": "oil", "medium": "oil", "temperature_K": 330.0, "agitation": "moderate"}),
    ("mix", {"name": "tin", "charcoal": "lump", "grain_m": 0.005, "substance": "soda ash",
        "substance_percent": 5, "fresh_share": 1, "litre_kg": 0.3}),
)  # fmt: skip


@pytest.fixture
def older(tmp_path: Path) -> Iterator[Store]:
    store = open_store(tmp_path)
    bring_up_to_date(store, NOW, upgrade=to_form("0006"))
    with store.writer.begin() as connection:
        for table, own in ROWS:
            insert(connection, table, RECORD | own)
    yield store
    store.close()


def test_a_filled_older_logbook_keeps_every_row(older: Store) -> None:
    before = {table: row_of(older, table) for table, _ in ROWS}
    assert bring_up_to_date(older, NOW) is not None
    assert current_revision(older) == newest_revision()
    assert {table: row_of(older, table) for table, _ in ROWS} == before
    with Session(older.reader) as session:
        assert session.get(ShopChange, 1) is None


def test_a_change_is_kept_with_its_day_and_a_line_in_the_change_record(older: Store) -> None:
    bring_up_to_date(older, NOW)
    with write(older, Actor("test bench"), NOW) as work:
        work.add(ShopChange(kind="heat_moved", changed_on=date(2026, 3, 1), instrument_id=1))
    with Session(older.reader) as session:
        kept, change = session.get(ShopChange, 1), session.get(Change, 1)
        assert kept is not None
        assert change is not None
        assert kept.changed_on == date(2026, 3, 1)
        assert change.after["changed_on"] == "2026-03-01"


def test_the_file_itself_refuses_a_change_of_nothing_of_two_things_and_of_one_that_is_not_there(
    older: Store,
) -> None:
    bring_up_to_date(older, NOW)
    with write(older, Actor("test bench"), NOW) as work:
        work.add(ShopChange(kind="heat_moved", changed_on=date(2026, 3, 1), instrument_id=1))
    for sets in ("instrument_id = NULL", "bath_id = 1"):
        with pytest.raises(IntegrityError, match="one_thing"), older.writer.begin() as connection:
            connection.execute(text(f"UPDATE shopchange SET {sets}"))
    with pytest.raises(Refused, match="not in the logbook"), write(older, Actor("test bench"), NOW) as work:
        work.add(ShopChange(kind="relined", changed_on=date(2026, 3, 1), forge_id=9))
