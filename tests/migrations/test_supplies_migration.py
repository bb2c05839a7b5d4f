"""A filled logbook of the third form keeps its mixes, parts and plans when supplies and soft areas come."""

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
from webapp.store.errors import Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import GasWeighing, PartPrice, Prices
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept", "typed": '{"size_m": "10"}'}
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("bar", {"name": "rod", "carbon_low_wt": 0.1, "carbon_high_wt": 0.2, "screening": "{}"}),
    ("mix", {"name": "plain", "charcoal": "lump", "grain_m": 0.005, "substance": "", "substance_percent": 0,
        "fresh_share": 1}),
    ("part", {"name": "pin", "bar_id": 1, "shape": "rod", "size_m": 0.012, "bore_packed": 0,
        "duties": '["wear"]',
        "depth_definition": "rim",
        "wanted_depth_low_m": 0.0004, "wanted_depth_high_m": 0.0008, "grind_m": 0}),
)  # fmt: skip
ADDED: dict[str, dict[str, Any]] = {
    "mix": {"litre_kg": None},
    "part": {"soft_area": "", "soft_kept": "", "soft_stock_m": None},
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


def fill(store: Store) -> None:
    with store.writer.begin() as connection:
        for table, own in ROWS:
            insert(connection, table, RECORD | own)


@pytest.fixture
def migrated(store: Store) -> Store:
    bring_up_to_date(store, NOW, upgrade=to_form("0003"))
    fill(store)
    bring_up_to_date(store, NOW)
    return store


def test_a_filled_older_logbook_keeps_every_row_and_says_of_none_what_it_does_not_know(store: Store) -> None:
    bring_up_to_date(store, NOW, upgrade=to_form("0003"))
    fill(store)
    before = {table: row_of(store, table) for table, _ in ROWS}
    assert bring_up_to_date(store, NOW) is not None
    assert current_revision(store) == newest_revision()
    for table, old in before.items():
        new = row_of(store, table)
        assert {name: new[name] for name in old} == old, table
        assert ADDED.get(table, {}).items() <= new.items(), table


def test_the_new_tables_take_prices_and_refuse_a_price_of_a_part_that_is_not_there(migrated: Store) -> None:
    with write(migrated, Actor("test bench"), NOW) as work:
        work.add(Prices(id=1, money="crowns", gas_per_kg=3.5))
        work.add(PartPrice(part_id=1, plain_bar=0.5))
    with (
        pytest.raises(Refused, match="not in the logbook"),
        write(migrated, Actor("test bench"), NOW) as work,
    ):
        work.add(GasWeighing(fire_id=99, before_kg=20.0))


def test_a_stock_that_no_part_can_have_is_refused_by_the_file_itself(migrated: Store) -> None:
    beyond = text("UPDATE part SET soft_stock_m = -1")
    with pytest.raises(IntegrityError, match="soft_stock_m_range"), migrated.writer.begin() as connection:
        connection.execute(beyond)
