"""A filled older logbook keeps its rows when marks in the steel come, and batches made as another."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
RECORD = {"version": 3, "created_at": STAMP, "updated_at": STAMP, "note": "kept"}
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("shop", {"id": 1, "name": "forge", "zone": "UTC", "temperature_unit": "C", "length_unit": "mm",
        "is_demo": 0, "address": "http://bench:8350", "opens_at": "08:00:00.000000"}),
    ("bar", {"name": "rod", "carbon_low_wt": 0.1, "carbon_high_wt": 0.2, "screening": "{}", "typed": "{}"}),
    ("forge", {"name": "big", "fuel": "propane", "hot_end": "even", "typed": "{}"}
        | {f"inside_{side}_m": 0.4 for side in ("length", "width", "height")}),
    ("instrument", {"name": "eye", "role": "heat", "method": "colour", "spread": 30.0, "settings": "{}",
        "typed": "{}"}),
    ("box", {"name": "pipe", "shape": "round", "wall_m": 0.004, "seal": "clay", "fill": "filled",
        "typed": "{}"} | {f"inner_{side}_m": 0.1 for side in ("length", "width", "height")}),
    ("mix", {"name": "plain", "charcoal": "lump", "grain_m": 0.005, "substance": "", "substance_percent": 0,
        "fresh_share": 1, "typed": "{}"}),
    ("fire", {"forge_id": 1, "heat_instrument_id": 1}),
    ("batch", {"number": 1, "state": "planned", "fire_id": 1, "box_id": 1, "mix_id": 1, "day": "2026-04-03",
        "given_up_why": "", "left_out_why": "", "typed": "{}"}),
    ("item", {"batch_id": 1, "kind": "coupon", "name": "pin", "mark": "A", "count": 1, "bar_id": 1,
        "shape": "rod", "size_m": 0.01, "bore_packed": 0, "place": "middle", "layer": "", "is_pin": 1,
        "own_path": 0, "left_out_why": "", "life": 1, "remedy": "{}", "scrapped_why": "", "typed": "{}"}),
)  # fmt: skip
ADDED = {
    "item": {"steel_mark": "", "steel_sign": "", "steel_place": ""},
    "shop": {"mark_habit": "", "label_sheet": "{}"},
    "batch": {"as_batch_id": None},
}


def test_a_filled_older_logbook_keeps_every_row_and_notes_no_mark(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    bring_up_to_date(store, NOW, upgrade=to_form("0007"))
    with store.writer.begin() as connection:
        for table, own in ROWS:
            insert(connection, table, RECORD | own)
    before = {table: row_of(store, table) for table, _ in ROWS}
    assert bring_up_to_date(store, NOW) is not None
    assert current_revision(store) == newest_revision()
    for table, old in before.items():
        new, kept = row_of(store, table), old | ADDED.get(table, {})
        # later forms may have added to it
        assert {name: new[name] for name in kept} == kept, table
    for change in ("UPDATE item SET steel_mark = 'paint'", "UPDATE shop SET mark_habit = 'paint'"):
        with pytest.raises(IntegrityError, match="_word"), store.writer.begin() as connection:
            connection.execute(text(change))
    store.close()
