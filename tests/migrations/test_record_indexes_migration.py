"""A filled logbook from before its long lists were indexed keeps its rows and finds them by the indexes."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from tests.migrations.older import insert, row_of, to_form
from webapp.store.engine import open_store
from webapp.store.migrate import bring_up_to_date

NOW = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)
STAMP = "2026-04-03 12:00:00.000000"
CHANGE = {"id": 7, "happened_at": STAMP, "device": "tablet", "table_name": "bath", "record_id": 3,
          "action": "added", "before": "{}", "after": '{"name": "tub"}'}  # fmt: skip
ASKED = {
    "SELECT * FROM change WHERE table_name = 'bath' AND record_id IN (3, 4)": "ix_change_record",
    "SELECT batch_id FROM step WHERE kind IN ('box_in', 'soak') AND deleted_at IS NULL": "ix_step_kind",
}


def test_a_filled_older_logbook_keeps_its_change_record_and_finds_it_by_index(tmp_path: Path) -> None:
    with closing(open_store(tmp_path)) as store:
        bring_up_to_date(store, NOW, upgrade=to_form("0014"))
        with store.writer.begin() as connection:
            insert(connection, "change", CHANGE)
        before = row_of(store, "change")
        assert bring_up_to_date(store, NOW) is not None
        assert row_of(store, "change") == before == CHANGE
        with closing(sqlite3.connect(store.file)) as fresh:  # an older connection explains by what it knew
            for query, index in ASKED.items():
                plan = fresh.execute(f"EXPLAIN QUERY PLAN {query}").fetchall()
                assert index in str(plan[0])
