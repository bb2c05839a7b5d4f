"""A filled logbook of the first form keeps its pieces, steps and readings when they get a life."""

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
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("bar", {"name": "rod", "carbon_low_wt": 0.1, "carbon_high_wt": 0.2, "screening": "{}"}),
    ("forge", {"name": "big", "fuel": "propane", "hot_end": "even"}
        | {f"inside_{side}_m": 0.4 for side in ("length", "width", "height")}),
    ("instrument", {"name": "eye", "role": "heat", "method": "colour", "spread": 30.0, "settings": "{}"}),
    ("box", {"name": "pipe", "shape": "round", "wall_m": 0.004, "seal": "clay", "fill": "filled"}
        | {f"inner_{side}_m": 0.1 for side in ("length", "width", "height")}),
    ("mix", {"name": "plain", "charcoal": "lump", "grain_m": 0.005, "substance": "", "substance_percent": 0,
        "fresh_share": 1}),
    ("fire", {"forge_id": 1, "heat_instrument_id": 1}),
    ("batch", {"number": 1, "state": "hardened", "fire_id": 1, "box_id": 1, "mix_id": 1, "day": "2026-04-03",
        "given_up_why": "", "left_out_why": ""}),
    ("item", {"batch_id": 1, "kind": "coupon", "name": "pin", "mark": "A", "count": 1, "bar_id": 1,
        "shape": "rod", "size_m": 0.01, "bore_packed": 0, "place": "middle", "layer": "", "is_pin": 1,
        "own_path": 1, "left_out_why": ""}),
    ("step", {"item_id": 1, "kind": "quench", "order": 1, "seconds_spread": 0, "temperature_spread_K": 0,
        "settings": "{}"}),
    ("reading", {"item_id": 1, "kind": "hardness", "after": "quench", "place": "middle", "surface": "ground",
        "removed_m": 0.0001, "value": 61.5, "unit": "HRC", "details": "{}", "measured_at": STAMP,
        "left_out_why": ""}),
)  # fmt: skip
UNTYPED = ("fire",)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    yield opened
    opened.close()


def fill(store: Store) -> None:
    with store.writer.begin() as connection:
        for table, own in ROWS:
            row = RECORD | own | ({} if table in UNTYPED else {"typed": '{"size_m": "10"}'})
            insert(connection, table, row)


def test_pieces_steps_and_readings_of_a_filled_older_logbook_begin_their_first_life(store: Store) -> None:
    bring_up_to_date(store, NOW, upgrade=to_form("0001"))
    assert current_revision(store) == "0001"
    fill(store)
    before = {table: row_of(store, table) for table, _ in ROWS}
    assert bring_up_to_date(store, NOW) is not None
    assert current_revision(store) == newest_revision()
    added = {
        "item": {"from_item_id": None, "life": 1, "remedy": "{}", "scrapped_why": ""},
        "step": {"life": 1},
        "reading": {"life": 1},
    }
    for table, old in before.items():
        new, kept = row_of(store, table), old | added.get(table, {})
        # later forms may have added to it
        assert {name: new[name] for name in kept} == kept, table


def test_a_piece_cannot_come_from_one_that_is_not_there(store: Store) -> None:
    bring_up_to_date(store, NOW, upgrade=to_form("0001"))
    fill(store)
    bring_up_to_date(store, NOW)
    lead_nowhere = text("UPDATE item SET from_item_id = 99")
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), store.writer.begin() as connection:
        connection.execute(lead_nowhere)
