"""Worked out against measured: every reading of a fit as a point about the line where both are equal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor
from typing import Any

from model.units import from_si
from webapp.charts import POINT_SHAPES, Axis, Chart, Column, Line, Points, Table
from webapp.services.reading_words import say_reading
from webapp.services.showing import Showing
from webapp.services.whole_book import grouped
from webapp.store.tables import Batch, Item, Reading

MOST_SHOWN = 160  # readings, of some twenty batches; older ones are in the table that is taken along
ODD_READING = 3.0  # sds from what the other fires foretell
COLUMNS = (
    Column("Piece", number=False),
    Column("Read", number=False),
    Column("Worked out"),
    Column("Nine of ten", number=False),
    Column("How it fits", number=False),
)


@dataclass(frozen=True)
class Told:
    """One reading with what the fit makes of it; values in the unit that is shown."""

    batch: int
    words: str
    read: str
    href: str
    measured: float | None
    middle: float
    low: float
    high: float
    unit: str
    digits: int
    is_depth: bool
    is_odd: bool
    verdict: str

    @property
    def row(self) -> tuple[str, ...]:
        """Return it as a row of the table."""
        unit = f" {self.unit}" if self.unit else ""
        middle, low, high = (f"{value:.{self.digits}f}" for value in (self.middle, self.low, self.high))
        return self.words, self.read, f"{middle}{unit}", f"{low} to {high}", self.verdict


@dataclass(frozen=True)
class FitRows:
    """The logbook's rows that a fit used, by id."""

    readings: Mapping[int, Reading]
    items: Mapping[int, Item]
    batches: Mapping[int, Batch]


def newest_told(summary: Mapping[str, Any]) -> set[int]:
    """Return the newest readings that a fit speaks of: as many as a page can show."""
    told = {int(key) for key in (*summary.get("used", ()), *summary.get("left_out", ()))}
    return set(sorted(told)[-MOST_SHOWN:])


def charts_of(
    predictions: Sequence[Mapping[str, Any]], rows: FitRows, odd: Mapping[int, str], showing: Showing
) -> tuple[Chart, ...]:
    """Return the chart of depths and the chart of hardness, each only if a value was read of it."""
    told = told_readings(predictions, rows, odd, showing)
    depths = [one for one in told if one.is_depth]
    hardness = [one for one in told if not one.is_depth]
    made = (_chart("depths", depths, showing), _chart("hardness", hardness, showing))
    return tuple(chart for chart in made if chart is not None)


def told_readings(
    predictions: Sequence[Mapping[str, Any]], rows: FitRows, odd: Mapping[int, str], showing: Showing
) -> list[Told]:
    """Return each depth and hardness of some readings that a fit used, with what it makes of it."""
    by_reading = grouped(predictions, lambda row: str(row["key"]))
    return [
        _told(own, reading, rows, odd, showing)
        for key, own in by_reading.items()
        if (reading := rows.readings.get(int(key))) is not None and reading.kind != "bend"
    ]


def _told(
    own: Sequence[Mapping[str, Any]],
    reading: Reading,
    rows: FitRows,
    odd: Mapping[int, str],
    showing: Showing,
) -> Told:
    item = rows.items[reading.item_id]
    batch = rows.batches[item.batch_id]
    is_depth = reading.kind == "depth"
    unit = (
        showing.length_unit if is_depth else reading.unit or ("HV" if reading.kind == "traverse" else "HRC")
    )
    digits = (3 if unit == "in" else 2) if is_depth else 1

    def shown(value: float) -> float:
        return float(from_si(value, unit, "length")) if is_depth else value

    first = own[0]
    low, high = first["measured_low"], first["measured_high"]
    score = max((abs(row["score"]) for row in own), default=0.0)
    is_odd = batch.fire_id in odd or score >= ODD_READING
    return Told(
        batch=batch.number,
        words=f"{batch.number} {item.mark} {item.name}".replace("  ", " "),
        read=say_reading(reading, showing),
        href=f"/items/{item.id}",
        measured=shown(low) if low is not None and low == high and len(own) == 1 else None,
        middle=shown(first["median"]),
        low=shown(first["low"]),
        high=shown(first["high"]),
        unit=unit,
        digits=digits,
        is_depth=is_depth,
        is_odd=is_odd,
        verdict=_verdict(own, is_odd),
    )


def _verdict(own: Sequence[Mapping[str, Any]], is_odd: bool) -> str:
    within = sum(_is_within(row) for row in own)
    if len(own) > 1:
        return f"{within} of {len(own)} points within"
    if is_odd:
        return "odd one out"
    return "within" if within else "outside"


def _is_within(row: Mapping[str, Any]) -> bool:
    """Tell whether what was measured and what was worked out can both be true."""
    low, high = row["measured_low"], row["measured_high"]
    return (low is None or low <= row["high"]) and (high is None or high >= row["low"])


def _chart(key: str, compared: Sequence[Told], showing: Showing) -> Chart | None:
    unit = showing.length_unit if key == "depths" else "HRC"
    drawn = [one for one in compared if one.measured is not None and one.unit == unit]
    if not drawn:
        return None
    what = "Case depth by eye" if key == "depths" else "Hardness"
    table = Table(
        f"{what}: measured and worked out",
        COLUMNS,
        tuple(one.row for one in compared),
        tuple(one.href for one in compared),
    )
    low, high = ends_of(drawn, from_zero=key == "depths")
    digits = drawn[0].digits
    odd = sum(one.is_odd for one in drawn)
    return Chart(
        key=key,
        title=what,
        note="A point on the line came out just as worked out; the bars hold nine of ten readings.",
        says=f"{what}: {len(drawn)} readings against what the fit works out for them, {odd} odd.",
        x=Axis("Measured", unit, low, high, digits),
        y=Axis("Worked out", unit, low, high, digits),
        lines=(Line("both equal", (low, high), (low, high), "soft", dashed=True),),
        points=tuple(
            replace(
                _points(name, tone, [one for one in drawn if one.is_odd == is_odd]),
                shape=POINT_SHAPES[is_odd],
            )
            for name, tone, is_odd in (("as foretold", "steel", False), ("odd one out", "ember", True))
            if any(one.is_odd == is_odd for one in drawn)
        ),
        table=table,
    )


def ends_of(drawn: Sequence[Told], from_zero: bool) -> tuple[float, float]:
    """Return round ends of both axes that hold every reading with its band."""
    values = [value for one in drawn for value in (one.measured or 0.0, one.low, one.high)]
    if from_zero:
        step = 0.02 if drawn[0].unit == "in" else 0.2
        return 0.0, ceil(max(values) / step) * step
    return float(floor(min(values))), float(ceil(max(values)))


def _points(name: str, tone: Any, drawn: Sequence[Told]) -> Points:
    return Points(
        name,
        [one.measured for one in drawn],
        [one.middle for one in drawn],
        [max(one.low, 0.0) for one in drawn],
        [one.high for one in drawn],
        [f"{one.words}, read {one.read}, worked out" for one in drawn],
        tone,
        [one.href for one in drawn],
    )
