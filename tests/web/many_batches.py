"""A logbook of very many batches, written straight into its tables."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, insert

from webapp.store.engine import Store
from webapp.store.tables import Bar, Batch, Bath, Box, Fire, Forge, Instrument, Item, Mix, Reading, Shop, Step
from webapp.store.word_index import drop_words, ensure_words

FIRST_DAY = date(2020, 1, 6)
WRITTEN = datetime(2020, 1, 6, 12, tzinfo=UTC)
ITEMS_A_BATCH, READINGS_AN_ITEM = 3, 2
STATES = ("measured", "measured", "measured", "hardened", "given_up")
RECORD: dict[str, Any] = {"version": 1, "created_at": WRITTEN, "updated_at": WRITTEN, "note": ""}


def fill(store: Store, batches: int) -> None:
    """Write that many batches with three coupons and six readings each."""
    numbers = range(1, batches + 1)
    items = [(number, place) for number in numbers for place in range(ITEMS_A_BATCH)]
    with store.lock, store.writer.begin() as connection:
        for table, rows in (
            *_shop(),
            (Fire, [{"id": n, "forge_id": 1, "heat_instrument_id": 1} for n in numbers]),
            (Batch, [_batch(n) for n in numbers]),
            (Item, [_item(n, place) for n, place in items]),
            (Step, [_step(n, kind) for n in numbers for kind in ("soak", "quench")]),
            (Reading, [_reading(n, place, kind) for n, place in items for kind in ("depth", "hardness")]),
        ):
            empty: dict[str, Any] = {
                name: {} for name in ("typed", "own_lines") if name in table.model_fields
            }
            connection.execute(insert(table), [RECORD | empty | row for row in rows])


def grow(store: Store, times: int) -> None:
    """Make a book many times as long: each copy of its batches comes after the one before.

    A third and a fourth reading of coupons come with them, so that a thousand batches become ten thousand
    with 30,000 coupons and 100,000 readings in two seconds. The index of words is built at the end.
    """
    with store.lock, store.writer.begin() as connection:
        drop_words(connection)
        _measure_more(connection)
        spans = {table: _span(connection, table) for table in OF_A_BATCH}
        for table in OF_A_BATCH:
            for copy in range(1, times):
                _copy(connection, table, spans, copy)
    ensure_words(store)


OF_A_BATCH = ("fire", "batch", "item", "step", "reading")
LEADS_TO = {"fire_id": "fire", "batch_id": "batch", "item_id": "item"}


def _measure_more(connection: Connection) -> None:
    """Read every coupon a third time, and the first of each batch a fourth."""
    columns = _columns(connection, "reading")
    for condition in ("kind = 'depth'", f"kind = 'depth' AND item_id % {ITEMS_A_BATCH} = 1"):
        taken = ", ".join({"id": "NULL", "kind": "'chips'"}.get(name, f'"{name}"') for name in columns)
        connection.exec_driver_sql(f"INSERT INTO reading SELECT {taken} FROM reading WHERE {condition}")


def _columns(connection: Connection, table: str) -> list[str]:
    return [row[1] for row in connection.exec_driver_sql(f'PRAGMA table_info("{table}")')]


def _span(connection: Connection, table: str) -> int:
    return int(connection.exec_driver_sql(f"SELECT max(id) FROM {table}").scalar_one())


def _copy(connection: Connection, table: str, spans: dict[str, int], copy: int) -> None:
    """Put a copy of a table's first rows behind the last, each row leading to the copy of what it led to."""

    def taken(name: str) -> str:
        owner = table if name in ("id", "number") else LEADS_TO.get(name)
        if owner:
            return f'"{name}" + {copy * spans[owner]}'
        return f"date(day, '+{copy * spans['batch']} days')" if name == "day" else f'"{name}"'

    columns = ", ".join(taken(name) for name in _columns(connection, table))
    connection.exec_driver_sql(
        f"INSERT INTO {table} SELECT {columns} FROM {table} WHERE id <= {spans[table]}"
    )


def _shop() -> list[tuple[type[Any], list[dict[str, Any]]]]:
    inside = {"inner_length_m": 0.2, "inner_width_m": 0.1, "inner_height_m": 0.1}
    forge = {"inside_length_m": 0.5, "inside_width_m": 0.3, "inside_height_m": 0.3}
    return [
        (Shop, [{"id": 1, "name": "Long-lived shop", "label_sheet": {}}]),
        (Forge, [{"id": 1, "name": "Forge", "fuel": "propane", **forge}]),
        (Instrument, [{"id": 1, "name": "Probe", "role": "heat", "method": "thermocouple", "spread": 7.0,
                      "settings": {}}]),
        (Box, [{"id": n, "name": f"Box {n}", "wall_m": 0.003, "seal": "fireclay", **inside} for n in (1, 2)]),
        (Mix, [{"id": n, "name": f"Mix {n}", "charcoal": "lump", "grain_m": 0.005, "substance": "none",
                "substance_percent": 0.0} for n in (1, 2, 3)]),
        (Bath, [{"id": n, "name": f"Bath {n}", "medium": "water"} for n in (1, 2)]),
        (Bar, [{"id": n, "name": f"Bar {n}", "grade": "1018", "carbon_low_wt": 0.15, "carbon_high_wt": 0.2,
                "screening": {}}
               for n in (1, 2)]),
    ]  # fmt: skip


def _batch(n: int) -> dict[str, Any]:
    return {
        "id": n, "number": n, "state": STATES[n % 5], "fire_id": n, "box_id": 1 + n % 2, "mix_id": 1 + n % 3,
        "day": FIRST_DAY + timedelta(days=n), "note": f"gauge pins, order {n}" if n % 7 == 0 else "",
        "given_up_why": "the gas ran out" if STATES[n % 5] == "given_up" else "",
    }  # fmt: skip


def _item(n: int, place: int) -> dict[str, Any]:
    item_id = (n - 1) * ITEMS_A_BATCH + place + 1
    return {
        "id": item_id, "batch_id": n, "kind": "coupon", "name": "Standard pin", "mark": "ABC"[place],
        "bar_id": 1 + n % 2, "shape": "rod", "size_m": 0.01, "remedy": {},
    }  # fmt: skip


def _step(n: int, kind: str) -> dict[str, Any]:
    soak = {"temperature_K": 1193.15, "seconds": 14400.0, "settings": {"clock_from": "at_heat"}}
    quench = {"temperature_K": None, "seconds": None, "settings": {}}
    own = soak if kind == "soak" else quench
    return {"batch_id": n, "kind": kind, "bath_id": 1 + n % 2 if kind == "quench" else None, **own}


def _reading(n: int, place: int, kind: str) -> dict[str, Any]:
    value = 0.0003 + 0.00001 * ((7 * n + place) % 60) if kind == "depth" else 58.0 + (5 * n + place) % 9
    return {
        "item_id": (n - 1) * ITEMS_A_BATCH + place + 1, "kind": kind, "value": value,
        "unit": "m" if kind == "depth" else "HRC", "details": {"how": "break"} if kind == "depth" else {},
        "measured_at": WRITTEN + timedelta(days=n),
    }  # fmt: skip
