"""What is worked out of batches that are compared: profiles, and each reading beside what was expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from webapp.charts import Axis, Chart, Line, Points, Table
from webapp.services.batch_rows import row_id
from webapp.services.compare import ADDRESS, compared_of
from webapp.services.compare_charts import SHAPES, TONES, Compared, profile_charts, work_out
from webapp.services.fitting import current_belief
from webapp.services.forge_charts import COLUMNS, FitRows, Told, ends_of, told_readings
from webapp.services.odd_fires import odd_fires
from webapp.services.showing import Showing
from webapp.services.whole_book import by_id
from webapp.store.tables import Bar, Bath

BOOKS_ONLY = "Nothing is learnt of this forge yet: this is what the books say."


@dataclass(frozen=True)
class WorkedOutView:
    """The panel: its charts, what could not be worked out, and what it goes by."""

    charts: tuple[Chart, ...]
    lacking: tuple[str, ...]
    goes_by: str
    problem: str = ""
    back_href: str = ADDRESS


def view_worked_out(session: Session, asked: Sequence[str], now: datetime, showing: Showing) -> WorkedOutView:
    """Return profiles and readings of the batches of some numbers, or what is wrong with the numbers."""
    compared, problem = compared_of(session, asked)
    if problem:
        return WorkedOutView((), (), "", problem)
    known = current_belief(session, *{str(one.rows.batch.fire_id) for one in compared})
    made = work_out(compared, by_id(session, Bar), by_id(session, Bath), known.belief, now)
    odd = odd_fires(known.summary) if known.summary else {}
    told = told_readings(known.summary.get("predictions", ()), _rows(compared), odd, showing)
    return WorkedOutView(
        charts=(*profile_charts(made, showing), *_met_charts(compared, told)),
        lacking=tuple(f"{one.batch.name}: {one.why_not}." for one in made if one.why_not),
        goes_by=f"Learnt from {known.coupons} coupons of this forge." if known.fit_id else BOOKS_ONLY,
    )


def _rows(compared: Sequence[Compared]) -> FitRows:
    """Return the readings of the batches that are compared, as the charts of a fit take them."""
    items = {row_id(item): item for one in compared for item in one.rows.items}
    readings = {
        row_id(reading): reading
        for one in compared
        for own in one.rows.readings.values()
        for reading in own
        if reading.item_id in items
    }
    return FitRows(readings, items, {row_id(one.rows.batch): one.rows.batch for one in compared})


def _met_charts(compared: Sequence[Compared], told: Sequence[Told]) -> tuple[Chart, ...]:
    """Return what was measured against what was worked out, a chart a unit, each batch in its own tone."""
    units = dict.fromkeys(one.unit for one in told)
    charts = (_met_chart(compared, [one for one in told if one.unit == unit], unit) for unit in units)
    return tuple(charts)


def _met_chart(compared: Sequence[Compared], told: Sequence[Told], unit: str) -> Chart:
    is_depth = unit in ("mm", "in")
    what = "Case depth by eye" if is_depth else f"Hardness, {unit}"
    drawn = [one for one in told if one.measured is not None]
    low, high = ends_of(drawn or told, from_zero=is_depth)
    digits = told[0].digits
    return Chart(
        key=f"met-{unit.lower()}",
        title=f"{what}: worked out against measured",
        note="On the line both are equal; the bars hold nine of ten readings. Readings between two files "
        "stand in the table only.",
        says=f"{what}: {len(drawn)} readings of {len(compared)} batches against what is worked out for them.",
        x=Axis("Measured", unit, low, high, digits),
        y=Axis("Worked out", unit, low, high, digits),
        lines=(Line("both equal", (low, high), (low, high), "soft", dashed=True),),
        points=tuple(
            _points(one, own, place)
            for place, one in enumerate(compared)
            if (own := [point for point in drawn if point.batch == one.number])
        ),
        table=Table(what, COLUMNS, tuple(one.row for one in told), tuple(one.href for one in told)),
    )


def _points(batch: Compared, own: Sequence[Told], place: int) -> Points:
    return Points(
        batch.name,
        [one.measured for one in own],
        [one.middle for one in own],
        [max(one.low, 0.0) for one in own],
        [one.high for one in own],
        [f"{one.words}, read {one.read}, worked out" for one in own],
        TONES[place],
        [one.href for one in own],
        SHAPES[place],
    )
