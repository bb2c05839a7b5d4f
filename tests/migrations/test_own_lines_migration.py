"""A filled older logbook keeps its rows when lines of a shop's own come, and has none of them yet."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from tests.migrations.older import insert, row_of, to_form
from tests.migrations.test_steel_marks_migration import ADDED, RECORD, ROWS
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import current_revision, newest_revision

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
PART = {
    "name": "pin", "bar_id": 1, "shape": "rod", "size_m": 0.012, "bore_packed": 0, "duties": "[]",
    "depth_definition": "rim", "wanted_depth_low_m": 0.0004, "wanted_depth_high_m": 0.0008, "grind_m": 0,
    "soft_area": "", "soft_kept": "", "typed": '{"size_m": "12 mm"}',
}  # fmt: skip
LINE = {
    "about": "batch", "label": "Charcoal from", "kind": "words", "unit": "", "choices": "[]", "is_copied": 1,
    "is_retired": 0,
}  # fmt: skip


def test_a_filled_older_logbook_keeps_every_row_and_has_no_own_line(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    bring_up_to_date(store, NOW, upgrade=to_form("0018"))
    rows = (*ROWS, ("part", PART))
    with store.writer.begin() as connection:
        for table, own in rows:
            insert(connection, table, RECORD | own | ADDED.get(table, {}))
    before = {table: row_of(store, table) for table, _ in rows}
    assert bring_up_to_date(store, NOW) is not None
    assert current_revision(store) == newest_revision()
    for table, old in before.items():
        kept = old | ({"own_lines": "{}"} if table in ("part", "bar", "batch", "item") else {})
        assert {name: row_of(store, table)[name] for name in kept} == kept, table
    with store.writer.begin() as connection:
        insert(connection, "ownline", RECORD | LINE)
    for wrong in ({"about": "tongs"}, {"kind": "sound"}):
        with pytest.raises(IntegrityError, match="_word"), store.writer.begin() as connection:
            insert(connection, "ownline", RECORD | LINE | wrong)
    store.close()
