"""A filled logbook from before photos keeps all it holds, and takes photos of a piece or of a batch."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import Store, open_store
from webapp.store.errors import Refused
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision
from webapp.store.tables import Photo
from webapp.store.unit_of_work import Actor, write

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept", "typed": "{}"}
NO_TYPED = {name: value for name, value in RECORD.items() if name != "typed"}
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("forge", RECORD | {"name": "long one", "fuel": "propane", "inside_length_m": 0.4, "inside_width_m": 0.2,
        "inside_height_m": 0.2, "hot_end": "even"}),
    ("instrument", RECORD | {"name": "tip", "role": "heat", "method": "thermocouple", "spread": 7.0,
        "settings": "{}"}),
    ("box", RECORD | {"name": "tube", "shape": "round", "inner_length_m": 0.2, "inner_width_m": 0.1,
        "inner_height_m": 0.1, "wall_m": 0.003, "seal": "fireclay", "fill": "filled"}),
    ("mix", RECORD | {"name": "tin", "charcoal": "lump", "grain_m": 0.005, "substance": "soda ash",
        "substance_percent": 5, "fresh_share": 1}),
    ("bar", RECORD | {"name": "rack 1", "carbon_low_wt": 0.15, "carbon_high_wt": 0.2, "screening": "{}"}),
    ("fire", NO_TYPED | {"forge_id": 1, "heat_instrument_id": 1}),
    ("batch", RECORD | {"number": 1, "state": "measured", "fire_id": 1, "box_id": 1, "mix_id": 1,
        "day": "2026-04-03", "given_up_why": "", "left_out_why": ""}),
    ("item", RECORD | {"batch_id": 1, "kind": "coupon", "name": "pin", "mark": "A", "count": 1, "bar_id": 1,
        "shape": "rod", "size_m": 0.012, "bore_packed": 0, "place": "middle", "layer": "", "is_pin": 1,
        "own_path": 0, "left_out_why": "", "life": 1, "remedy": "{}", "scrapped_why": ""}),
    ("reading", RECORD | {"item_id": 1, "kind": "depth", "after": "quench", "life": 1, "place": "middle",
        "surface": "as it came", "removed_m": 0, "value": 0.0006, "unit": "m", "details": '{"how": "break"}',
        "measured_at": STAMP, "left_out_why": ""}),
)  # fmt: skip
PICTURE: dict[str, Any] = {"sha256": "0a" * 32, "size_bytes": 90_000, "width_px": 2000, "height_px": 1500}


@pytest.fixture
def older(tmp_path: Path) -> Iterator[Store]:
    store = open_store(tmp_path)
    bring_up_to_date(store, NOW, upgrade=to_form("0007"))
    with store.writer.begin() as connection:
        for table, row in ROWS:
            insert(connection, table, row)
    yield store
    store.close()


def test_a_filled_older_logbook_keeps_every_row(older: Store) -> None:
    before = {table: row_of(older, table) for table, _ in ROWS}
    assert bring_up_to_date(older, NOW) is not None
    assert current_revision(older) == newest_revision()
    after = {table: row_of(older, table) for table, _ in ROWS}
    assert {table: {name: after[table][name] for name in row} for table, row in before.items()} == before
    with Session(older.reader) as session:
        assert list(session.exec(select(Photo))) == []


def test_a_photo_is_of_one_thing_and_has_a_picture(older: Store) -> None:
    bring_up_to_date(older, NOW)
    with write(older, Actor("test bench"), NOW) as work:
        work.add(Photo(item_id=1, reading_id=1, **PICTURE))
        work.add(Photo(batch_id=1, **PICTURE))
    for sets, rule in (
        ("batch_id = 1, item_id = 1", "one_owner"),
        ("batch_id = NULL, item_id = NULL", "one_owner"),
        ("sha256 = 'x'", "hash_length"),
        ("width_px = 0", "has_size"),
    ):
        with pytest.raises(IntegrityError, match=rule), older.writer.begin() as connection:
            connection.execute(text(f"UPDATE photo SET {sets} WHERE id = 1"))
    with pytest.raises(Refused, match="not in the logbook"), write(older, Actor("test bench"), NOW) as work:
        work.add(Photo(item_id=9, **PICTURE))
