"""Every coupon of a fit, its readings beside what the other fires foretell, and whether it counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp
from typing import Any

from model.units import show_length_m
from webapp.services.forge_charts import FitRows
from webapp.services.reading_words import KIND_WORDS, say_reading
from webapp.services.showing import Showing
from webapp.services.whole_book import grouped
from webapp.store.tables import Batch, Item, Reading

TELLING = ("hardness", "files", "one_file", "depth", "traverse", "spark")
Own = Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class CouponRow:
    """One coupon or part: what it ran in, what was read, and the switch that leaves it out."""

    words: str
    href: str
    detail: str
    readings: tuple[str, ...]
    is_odd: bool
    out_why: str
    is_batch_out: bool
    version: int
    out_href: str
    in_href: str


def coupon_rows(
    predictions: Sequence[Mapping[str, Any]],
    rows: FitRows,
    names: Mapping[str, Mapping[int, str]],
    odd: Mapping[int, str],
    showing: Showing,
) -> tuple[CouponRow, ...]:
    """Return a row for every piece with a reading that can teach, the newest batch first."""
    foretold = grouped(predictions, lambda row: str(row["key"]))
    telling = [one for one in rows.readings.values() if one.kind in TELLING]
    by_item = grouped(telling, lambda reading: reading.item_id)
    found = [
        _row(rows.items[item_id], own, foretold, rows, names, odd, showing)
        for item_id, own in by_item.items()
    ]
    return tuple(row for _, row in sorted(found, key=lambda pair: pair[0], reverse=True))


def _row(
    item: Item,
    readings: Sequence[Reading],
    foretold: Mapping[str, Own],
    rows: FitRows,
    names: Mapping[str, Mapping[int, str]],
    odd: Mapping[int, str],
    showing: Showing,
) -> tuple[tuple[int, str], CouponRow]:
    batch: Batch = rows.batches[item.batch_id]
    ran_in = (names["mix"].get(batch.mix_id, ""), names["box"].get(batch.box_id, ""), showing.day(batch.day))
    row = CouponRow(
        words=f"{batch.number} {item.mark} {item.name}".replace("  ", " "),
        href=f"/items/{item.id}",
        detail=" · ".join(filter(None, ran_in)),
        readings=tuple(_said(reading, foretold.get(str(reading.id), ()), showing) for reading in readings),
        is_odd=batch.fire_id in odd,
        out_why=item.left_out_why or batch.left_out_why,
        is_batch_out=bool(batch.left_out_why),
        version=item.version,
        out_href=f"/items/{item.id}/set-aside?to=forge",
        in_href=f"/items/{item.id}/take-in?to=forge",
    )
    return (batch.number, item.mark), row


def _said(reading: Reading, own: Own, showing: Showing) -> str:
    """Return one reading in words, with what the other fires foretell of it where they do."""
    words = f"{KIND_WORDS[reading.kind].lower()} {say_reading(reading, showing)}"
    if len(own) != 1 or own[0].get("foretold") is None:
        return words
    foretold = own[0]["foretold"]
    if reading.kind == "depth":
        return f"{words}, foretold {show_length_m(max(foretold, 0.0), showing.length_unit)}"
    if reading.kind == "bend":
        return f"{words}, first crack foretold at {exp(foretold):.0f}°"
    unit = reading.unit if reading.kind == "hardness" else "HRC"
    return (
        f"{words}, foretold {foretold:.0f} {unit}"
        if unit == "HV"
        else f"{words}, foretold {foretold:.1f} {unit}"
    )
