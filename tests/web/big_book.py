"""A logbook of ten thousand batches with all that hangs on them, made of the fitted demo and kept for all.

Every sixteen batches are the demo's sixteen again, some days later, with everything that leads to them:
pieces, steps, readings, heat noted, events, photos, gas, plans, the change record. What a shop replaces as
the years go (parts, bars, boxes, mixes, baths) is there many times over and goes round.
"""

from __future__ import annotations

import shutil
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

from sqlalchemy import Connection

from tests.conftest import A_SPRING_DAY
from tests.web.drawn_photos import as_camera, disc
from tests.web.fitted_demo import copy_fitted_demo, mark_of_source
from tests.web.stretched_fit import stretch_fit
from webapp.store.engine import open_store
from webapp.store.photo_files import keep_photo
from webapp.store.word_index import drop_words, ensure_words

BATCHES, ITEMS, READINGS = 10_000, 30_000, 100_000
BATCHES_A_BLOCK, DAYS_A_BLOCK = 16, 4

OF_A_BLOCK = (
    "plan", "plansupplies", "fire", "gasweighing", "batch", "item", "step", "heatnote", "event", "reading",
    "photo", "change",
)  # fmt: skip
REPLACED = {"bar": 60, "part": 50, "box": 20, "mix": 10, "bath": 5}  # how often each stands in the book
LEADS_TO = {
    "fire_id": "fire", "batch_id": "batch", "item_id": "item", "reading_id": "reading", "plan_id": "plan",
    "bar_id": "bar", "part_id": "part", "box_id": "box", "mix_id": "mix", "bath_id": "bath",
    "from_item_id": "item", "as_batch_id": "batch",
}  # fmt: skip
DAYS = ("day",)
MOMENTS = ("started_at", "noted_at", "happened_at", "measured_at", "created_at", "updated_at")


@dataclass(frozen=True)
class BigBook:
    """How large a book is: how many blocks of sixteen batches, and the moment that it is read."""

    blocks: int

    @property
    def now(self) -> datetime:
        """The evening of the last block."""
        return A_SPRING_DAY + timedelta(days=DAYS_A_BLOCK * (self.blocks - 1))

    def newest(self, demo_id: int, span: int) -> int:
        """Return the id that a record of the demo has in the last block."""
        return demo_id + (self.blocks - 1) * span


BIG, SMALL = BigBook(BATCHES // BATCHES_A_BLOCK), BigBook(2)


@cache
def big_book(book: BigBook = BIG) -> Path:
    """Return the data folder of a book, made once for all processes under the mark of the source."""
    ready = Path(gettempdir()) / f"casewright-book-{book.blocks}-{mark_of_source()}"
    if not ready.exists():
        with TemporaryDirectory(prefix="book-", dir=gettempdir()) as place:
            made = Path(place) / "data"
            make_book(made, book)
            with suppress(OSError):  # another process was as quick
                made.rename(ready)
    return ready


def copy_big_book(folder: Path, book: BigBook = BIG) -> None:
    """Put a copy of a book into a data folder."""
    shutil.copytree(big_book(book), folder, dirs_exist_ok=True)


def make_book(folder: Path, book: BigBook) -> None:
    """Write a book into an empty folder."""
    copy_fitted_demo(folder)
    with closing(open_store(folder)) as store:
        picture = keep_photo(folder, as_camera(disc()), as_camera(disc((320, 240), 100.0, 20.0)))
        with store.lock, store.writer.begin() as connection:
            connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
            drop_words(connection)
            enrich(connection, picture)
            spans = {table: span_of(connection, table) for table in (*OF_A_BLOCK, *REPLACED)}
            for table, times in REPLACED.items():
                repeat(connection, table, spans, min(times, book.blocks))
            for table in OF_A_BLOCK:
                repeat(connection, table, spans, book.blocks)
            finish_old_batches(connection, spans)
            stretch_fit(connection, book.blocks, spans)
        ensure_words(store)


def enrich(connection: Connection, picture: str) -> None:
    """Give the demo's batches what a long-lived shop has more: pieces, readings, notes, photos, reminders."""
    more(connection, "item", "id IN (4, 12, 20, 28)", mark="'D'", steel_sign="'4'")
    more(connection, "reading", "kind IN ('depth', 'hardness')")
    more(
        connection,
        "reading",
        "kind = 'depth' AND id < 70",
        kind="'chips'",
        value="NULL",
        details="'{\"seen\": false}'",
    )
    at = "SELECT 1, '2026-04-01 09:00:00', '2026-04-01 09:00:00', ''"
    record = "version, created_at, updated_at, note"
    for statement in (
        f"INSERT INTO heatnote ({record}, fire_id, instrument_id, noted_at, temperature_K, typed) "
        f"{at}, id, heat_instrument_id, '2026-03-01 09:00:00', 1190.15, '{{}}' FROM fire",
        f"INSERT INTO photo ({record}, item_id, sha256, size_bytes, width_px, height_px, caption, measured) "
        f"{at}, id, '{picture}', 40000, 900, 600, 'broken face', '{{}}' FROM item WHERE id IN (1, 35)",
        f"INSERT INTO reminder ({record}, what, list_key, thing_id, after_uses, done_on) "
        f"{at}, 'Look at the seam', 'boxes', id, 20, '2025-10-01' FROM box",
        f"INSERT INTO shopchange ({record}, kind, changed_on, forge_id, typed) "
        f"{at}, 'relined', '2025-12-01', 1, '{{}}'",
    ):
        connection.exec_driver_sql(statement)


def finish_old_batches(connection: Connection, spans: dict[str, int]) -> None:
    """Leave open only what the newest blocks left open: a shop measures what it hardens, in the end."""
    newest = span_of(connection, "batch") - 3 * spans["batch"]
    connection.exec_driver_sql(
        f"UPDATE batch SET state = 'measured' WHERE state = 'hardened' AND id <= {newest}"
    )


def more(connection: Connection, table: str, condition: str, **other: str) -> None:
    """Write some rows of a table once more, with other values in some columns."""
    names = columns_of(connection, table)
    taken = ", ".join({"id": "NULL", **other}.get(name, f'"{name}"') for name in names)
    connection.exec_driver_sql(f"INSERT INTO {table} SELECT {taken} FROM {table} WHERE {condition}")


def repeat(connection: Connection, table: str, spans: dict[str, int], times: int) -> None:
    """Put copies of a table's rows behind the last, each leading to the copies of what it led to."""
    names = columns_of(connection, table)
    taken = ", ".join(in_copy(table, name, spans) for name in names)
    is_replayed = "AND table_name NOT IN ('plan', 'fit')" if table == "change" else ""
    connection.exec_driver_sql(
        f"WITH RECURSIVE copy(k) AS (VALUES (1) UNION ALL SELECT k + 1 FROM copy WHERE k + 1 < {times}) "
        f"INSERT INTO {table} SELECT {taken} FROM copy, {table} "
        f"WHERE {times} > 1 AND id <= {spans[table]} {is_replayed} ORDER BY k, id"
    )


def in_copy(table: str, name: str, spans: dict[str, int]) -> str:
    """Return what stands in a column of the k-th copy of a row."""
    leads_to = table if name in ("id", "number") else LEADS_TO.get(name)
    if table == "change" and name == "record_id":
        steps = " ".join(_when(one, span) for one, span in spans.items())
        return f'"{name}" + k * CASE table_name {steps} ELSE 0 END'
    if leads_to in spans:
        goes_round = f"(k % {REPLACED[leads_to]})" if leads_to in REPLACED and table != leads_to else "k"
        return f'"{name}" + {spans[leads_to]} * {goes_round}'
    if name == "name" and table in REPLACED:
        return "name || ' ' || (k + 1)"
    if name in DAYS:
        return f"date(\"{name}\", '+' || ({DAYS_A_BLOCK} * k) || ' days')"
    if name in MOMENTS:
        return f"strftime('%Y-%m-%d %H:%M:%f000', \"{name}\", '+' || ({DAYS_A_BLOCK} * k) || ' days')"
    return f'"{name}"'


def _when(table: str, span: int) -> str:
    return f"WHEN '{table}' THEN {0 if table in REPLACED else span}"


def columns_of(connection: Connection, table: str) -> list[str]:
    """Return the names of a table's columns."""
    return [row[1] for row in connection.exec_driver_sql(f'PRAGMA table_info("{table}")')]


def span_of(connection: Connection, table: str) -> int:
    """Return how many ids of a table are taken."""
    return int(connection.exec_driver_sql(f"SELECT max(id) FROM {table}").scalar_one())
