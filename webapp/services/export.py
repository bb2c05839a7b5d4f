"""Batches and readings as tables for a spreadsheet."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import UTC
from typing import Any

from sqlalchemy import select as select_columns
from sqlalchemy.orm import Bundle
from sqlmodel import Session, col

from webapp.forms.logbook import LogbookQuery
from webapp.services.batch_rows import aware
from webapp.services.fitting import newest_summary
from webapp.services.logbook_rows import LogRow, every_batch
from webapp.services.own_lines import lines_about, own_cells, own_headings
from webapp.services.table_text import table_pieces
from webapp.store.tables import Bar, Batch, Instrument, Item, Reading, Record, Step

ROWS_AT_ONCE = 200

BATCH_COLUMNS = (
    "batch", "day", "state", "box", "mix", "heat known by", "bath", "soak clock from",
    "soak temperature (K)", "soak temperature give or take (K)", "soak time (s)",
    "soak time give or take (s)", "soak as typed", "coupons", "parts", "readings",
    "least case depth by eye (m)", "greatest case depth by eye (m)", "least hardness (HRC)",
    "greatest hardness (HRC)", "odd one out", "given up because", "set aside because", "note",
)  # fmt: skip
READING_COLUMNS = (
    "reading", "batch", "day", "piece", "mark", "name", "kind of piece", "steel", "shape", "size (m)",
    "bore (m)", "size as typed", "place in the box", "kind of reading", "read after", "read at", "surface",
    "taken off before (m)", "read with", "value", "unit of value", "at least", "at most", "more (JSON)",
    "as typed", "measured at (UTC)", "used by the newest fit", "not used because", "note",
)  # fmt: skip

# what of a reading, its piece and its batch is told
TOLD = (
    (Reading, ("id", "kind", "after", "place", "surface", "removed_m", "value", "unit", "low", "high",
               "details", "typed", "measured_at", "left_out_why", "note")),
    (Item, ("id", "mark", "name", "kind", "shape", "size_m", "bore_m", "typed", "place", "left_out_why",
            "own_lines")),
    (Batch, ("number", "day", "left_out_why")),
)  # fmt: skip


def batches_csv(session: Session, query: LogbookQuery) -> Iterator[str]:
    """Give the batches that are asked for as a table, one a line, a piece at a time."""
    own = lines_about(session, "batch")
    rows = ((*_batch_cells(row), *own_cells(own, row.batch)) for row in every_batch(session, query))
    return table_pieces((*BATCH_COLUMNS, *own_headings(own)), rows)


def _batch_cells(row: LogRow) -> Sequence[Any]:
    batch, soak = row.batch, row.soak
    coupons = sum(item.kind == "coupon" for item in row.items)
    parts = sum(item.count for item in row.items if item.kind == "part")
    return (
        batch.number, batch.day.isoformat(), batch.state, row.box.name, row.mix.name, row.heat.name,
        row.bath.name if row.bath else "", *_soak_cells(soak), coupons, parts, row.readings,
        *(row.depth_m or ("", "")), *(row.hardness_HRC or ("", "")),
        row.odd, batch.given_up_why, batch.left_out_why, batch.note,
    )  # fmt: skip


def _soak_cells(soak: Step | None) -> Sequence[Any]:
    if soak is None:
        return ("",) * 6
    clock_from = soak.settings.get("clock_from", "")
    heat, time = (soak.temperature_K, soak.temperature_spread_K), (soak.seconds, soak.seconds_spread)
    return (clock_from, *heat, *time, as_typed(soak.typed))


def readings_csv(session: Session) -> Iterator[str]:
    """Give every reading as a table, one a line, oldest first, a piece at a time."""
    query = (
        select_columns(*(_some_of(*told) for told in TOLD), col(Bar.name), col(Instrument.name))
        .select_from(Reading)
        .join(Item, col(Item.id) == Reading.item_id)
        .join(Batch, col(Batch.id) == Item.batch_id)
        .join(Bar, col(Bar.id) == Item.bar_id)
        .outerjoin(Instrument, col(Instrument.id) == Reading.instrument_id)
        .where(*(col(kind.deleted_at).is_(None) for kind in (Reading, Item, Batch)))
        .order_by(col(Batch.number), col(Item.id), col(Reading.id))
        .execution_options(yield_per=ROWS_AT_ONCE)
    )
    newest = newest_summary(session)
    summary = newest.summary if newest is not None else {}
    used, why = set(summary.get("used", ())), summary.get("left_out", {})
    own = lines_about(session, "piece")
    cells = (
        (
            *_piece_cells(reading, item, batch, bar),
            *_reading_cells(reading, tester),
            *_fate(reading, item, batch, used, why),
            *own_cells(own, item),
        )
        for reading, item, batch, bar, tester in session.execute(query)
    )
    return table_pieces((*READING_COLUMNS, *own_headings(own)), cells)


def _some_of(kind: type[Record], names: Sequence[str]) -> Any:
    """Return some columns of a table, to be read as a record without one being made."""
    return Bundle(kind.__name__, *(getattr(kind, name) for name in names))


def _piece_cells(reading: Any, item: Any, batch: Any, bar: str) -> Sequence[Any]:
    return (
        reading.id, batch.number, batch.day.isoformat(), item.id, item.mark, item.name, item.kind, bar,
        item.shape, item.size_m, item.bore_m, as_typed(item.typed), item.place,
    )  # fmt: skip


def _reading_cells(reading: Any, tester: str | None) -> Sequence[Any]:
    details = json.dumps(reading.details, ensure_ascii=False) if reading.details else ""
    return (
        reading.kind, reading.after, reading.place, reading.surface, reading.removed_m, tester,
        reading.value, reading.unit, reading.low, reading.high, details, as_typed(reading.typed),
        aware(reading.measured_at).astimezone(UTC).isoformat(),
    )  # fmt: skip


def _fate(
    reading: Any, item: Any, batch: Any, used: Collection[str], why: Mapping[str, str]
) -> Sequence[Any]:
    """Return whether the newest fit used a reading, why not, and its note."""
    set_aside = reading.left_out_why or item.left_out_why or batch.left_out_why
    key = str(reading.id)
    return ("yes" if key in used else "no", set_aside or why.get(key, ""), reading.note)


def as_typed(typed: Mapping[str, Any]) -> str:
    """Return what was typed of a record's numbers, in the order of its form."""
    return "; ".join(str(text) for text in typed.values() if text)
