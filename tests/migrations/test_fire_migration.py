"""A filled logbook of the fourth form keeps its shop, forge, mixes and weighings when their settings come."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import Store, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept"}
TYPED = {"typed": '{"lit_s": "3 h"}'}
SHOP = {
    "id": 1, "name": "Hill forge", "zone": "UTC", "temperature_unit": "C", "length_unit": "mm", "is_demo": 0,
}  # fmt: skip
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("forge", {"name": "big", "fuel": "propane", "inside_length_m": 0.4, "inside_width_m": 0.2,
        "inside_height_m": 0.2, "hot_end": "even", **TYPED}),
    ("instrument", {"name": "eye", "role": "heat", "method": "colour", "spread": 30, "settings": "{}",
        **TYPED}),
    ("fire", {"forge_id": 1, "heat_instrument_id": 1}),
    ("gasweighing", {"fire_id": 1, "before_kg": 21.4, "after_kg": 18.4, "lit_s": 10800, **TYPED}),
    ("mix", {"name": "plain", "charcoal": "lump", "grain_m": 0.005, "substance": "", "substance_percent": 0,
        "fresh_share": 1, "litre_kg": 0.3, **TYPED}),
)  # fmt: skip
ADDED: dict[str, dict[str, Any]] = {
    "forge": {"jet_m": None},
    "mix": {"water_percent": None},
    "gasweighing": {
        "gauge_Pa": None, "valve": "", "second_lit_s": None, "second_gauge_Pa": None, "second_valve": "",
    },
}  # fmt: skip


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


def migrated(store: Store, opens: str, leaves: str) -> dict[str, dict[str, Any]]:
    """Bring a filled logbook of the fourth form up to date; return its rows as they were."""
    bring_up_to_date(store, NOW, upgrade=to_form("0004"))
    hours = {"opens_at": f"{opens}:00.000000", "leaves_at": f"{leaves}:00.000000"}
    with store.writer.begin() as connection:
        for table, own in (("shop", SHOP | hours), *ROWS):
            insert(connection, table, RECORD | own)
    before = {table: row_of(store, table) for table, _ in (("shop", SHOP), *ROWS)}
    assert bring_up_to_date(store, NOW) is not None
    assert current_revision(store) == newest_revision()
    return before


def test_every_row_stays_and_says_nothing_of_what_it_does_not_know(store: Store) -> None:
    before = migrated(store, "06:30", "21:00")
    for table, old in before.items():
        new = row_of(store, table)
        assert {name: new[name] for name in old} == old, table
        assert ADDED.get(table, {}).items() <= new.items(), table


def test_hours_as_they_came_are_unset_so_that_a_schedule_asks(store: Store) -> None:
    migrated(store, "08:00", "18:00")
    shop = row_of(store, "shop")
    assert (shop["opens_at"], shop["leaves_at"], shop["starts_at"]) == (None, None, None)


def test_the_file_itself_refuses_a_second_setting_that_burned_before_it_was_lit(store: Store) -> None:
    migrated(store, "06:30", "21:00")
    beyond = text("UPDATE gasweighing SET second_lit_s = -1")
    with pytest.raises(IntegrityError, match="second_lit_s_range"), store.writer.begin() as connection:
        connection.execute(beyond)
