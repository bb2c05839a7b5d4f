"""A shop of the second form keeps all it says of itself; hours that nobody typed stay unset."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, time
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import Store, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import Change, Shop
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
OLD_SHOP = {
    "id": 1, "version": 4, "created_at": STAMP, "updated_at": STAMP, "note": "kept", "name": "Hill forge",
    "zone": "Europe/Berlin", "temperature_unit": "F", "length_unit": "in", "is_demo": 0,
}  # fmt: skip


@pytest.fixture
def migrated(tmp_path: Path) -> Iterator[Store]:
    store = open_store(tmp_path)
    bring_up_to_date(store, NOW, upgrade=to_form("0002"))
    with store.writer.begin() as connection:
        insert(connection, "shop", OLD_SHOP)
    bring_up_to_date(store, NOW)
    yield store
    store.close()


def test_an_older_shop_keeps_its_row_and_says_of_its_hours_nothing(migrated: Store) -> None:
    assert current_revision(migrated) == newest_revision()
    row = row_of(migrated, "shop")
    assert {name: row[name] for name in OLD_SHOP} == OLD_SHOP
    with Session(migrated.reader) as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        assert (shop.opens_at, shop.leaves_at, shop.starts_at, shop.address) == (None, None, None, "")


def test_hours_are_changed_with_a_line_in_the_change_record(migrated: Store) -> None:
    with write(migrated, Actor("test bench"), NOW) as work:
        work.change(work.get(Shop, 1), opens_at=time(6, 30), leaves_at=time(21, 15))
    with Session(migrated.reader) as session:
        change = session.get(Change, 1)
        assert change is not None
        assert change.before == {"opens_at": None, "leaves_at": None}
        assert change.after == {"opens_at": "06:30:00", "leaves_at": "21:15:00"}


def test_the_file_itself_refuses_a_shop_that_is_left_before_it_opens(migrated: Store) -> None:
    backwards = text("UPDATE shop SET opens_at = '08:00:00.000000', leaves_at = '07:00:00.000000'")
    with pytest.raises(IntegrityError, match="opens_before_leaving"), migrated.writer.begin() as connection:
        connection.execute(backwards)
