"""The charts of batches beside one another: heat over time, and what was worked out of their pieces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.errors import ModelError
from model.forecast import Forecast, forecast
from model.process import Cold, History, Process, Quench, Step, Temper
from model.units import HOUR_s, from_si
from webapp.charts import Axis, Chart, Column, Line, Points, Shape, Table, Tone, Values
from webapp.services.batch_rows import BatchRows, row_id
from webapp.services.processes import COLD_K, NotYet, process_of_item
from webapp.services.showing import Showing
from webapp.store.tables import Bar, Bath, Item

Array = NDArray[np.float64]
TONES: Final[tuple[Tone, ...]] = ("steel", "ember", "ink", "ok")
BETWEEN_S: Final = 1800.0  # left open between two fires, whose real gap may be days
TABLE_POINTS: Final = 12
HALF_HOUR_h: Final = 0.5
SHAPES: Final[tuple[Shape, ...]] = ("circle", "square", "triangle", "diamond")
NEAR_THE_CORE: Final = 0.03  # of the way from core to skin: where a chart has shown enough
ROOM: Final = 1.25


@dataclass(frozen=True)
class Compared:
    """A batch by its number."""

    number: int
    rows: BatchRows

    @property
    def name(self) -> str:
        """Return what it is called in a chart's key."""
        return f"Batch {self.number}"


def piece_of(rows: BatchRows) -> Item | None:
    """Return the piece that stands for a batch: its first coupon not drawn early, else its first piece."""
    coupons = [item for item in rows.items if item.kind == "coupon"]
    return next((item for item in coupons if not item.own_path), next(iter((*coupons, *rows.items)), None))


def process_of(
    one: Compared, bars: Mapping[int, Bar], baths: Mapping[int, Bath], now: datetime
) -> Process | NotYet:
    """Return what was done to the piece that stands for a batch."""
    piece = piece_of(one.rows)
    if piece is None or piece.bar_id not in bars:
        return NotYet("nothing is packed")
    return process_of_item(one.rows, piece, bars[piece.bar_id], dict(baths), now)


def course_chart(
    compared: Sequence[Compared], bars: Mapping[int, Bar], now: datetime, showing: Showing
) -> Chart | None:
    """Return the heat of each batch over its own hours, as it was noted; None where none was."""
    drawn = []
    for place, one in enumerate(compared):
        process = process_of(one, bars, {}, now)
        if isinstance(process, Process):
            hours, heat = _course(process, showing)
            drawn.append(line_of(place, one.name, hours, heat))
    if not drawn:
        return None
    lines = tuple(drawn)
    said = ", ".join(f"{line.name} at most {max(_there(line.y)):.0f}" for line in lines)
    return Chart(
        key="course",
        title="Heat over the hours",
        note="From the start of each soak clock, as noted; the time between two fires is left out.",
        says=f"Heat over the hours: {said} °{showing.temperature_unit}.",
        x=Axis("Hours", "h", low=0.0, digits=1),
        y=Axis("Heat", f"°{showing.temperature_unit}", low=0.0, digits=0),
        lines=lines,
        table=Table(
            "Heat over the hours",
            (Column("Hours"), *(Column(f"{line.name}, °{showing.temperature_unit}") for line in lines)),
            _in_rows(lines, HALF_HOUR_h, 1, 0),
        ),
    )


def line_of(place: int, name: str, x: Values, y: Values) -> Line:
    """Return a batch's line: a tone and a stroke of its own, so that colour is never alone."""
    return Line(name, x, y, TONES[place], dashed=bool(place % 2), dotted=place >= 2)


def _there(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _course(process: Process, showing: Showing) -> tuple[list[float | None], list[float | None]]:
    """Return hours and heat, broken where a piece left the fire for another."""
    hours: list[float | None] = []
    heat: list[float | None] = []
    start = 0.0
    for step in process.steps:
        told = _history(step)
        if told is None:  # a bath or the cold: at once, and then a stretch that nobody noted
            hours += [start / HOUR_s, start / HOUR_s]
            heat += [from_si(COLD_K, showing.temperature_unit, "temperature"), None]
            start += BETWEEN_S
            continue
        hours += [(start + second - told.seconds[0]) / HOUR_s for second in told.seconds]
        heat += [from_si(kelvin, showing.temperature_unit, "temperature") for kelvin in told.temperature_K]
        start += told.duration_s
    return (
        [None if hour is None else round(hour, 3) for hour in hours],
        [None if value is None else round(value, 1) for value in heat],
    )


def _in_rows(lines: Sequence[Line], step: float, x_digits: int, digits: int) -> tuple[tuple[str, ...], ...]:
    """Return lines as the rows of one table, a column a line, read off at even steps."""
    end = max(x for line in lines for x in _there(line.x))
    at = np.arange(0.0, end + 0.5 * step, step)
    columns = [_read_off(line, at) for line in lines]
    texts = [["–" if np.isnan(value) else f"{value:.{digits}f}" for value in own] for own in columns]
    return tuple((f"{x:.{x_digits}f}", *(own[k] for own in texts)) for k, x in enumerate(at))


def _read_off(line: Line, at: Array) -> Array:
    """Return a line's values at some places, straight between its points; NaN beyond its end and in gaps."""
    x, y = (np.array([np.nan if value is None else value for value in own]) for own in (line.x, line.y))
    found: Array = np.interp(at, x, y, right=np.nan)
    return found


def _history(step: Step) -> History | None:
    if isinstance(step, Temper):
        return History.hold(step.temperature_K, step.seconds)
    return None if isinstance(step, Quench | Cold) else step.history


@dataclass(frozen=True)
class WorkedOut:
    """A batch with the middle forecast of its piece, or why there is none."""

    batch: Compared
    place: int
    piece: Item | None
    found: Forecast | None
    why_not: str = ""


def work_out(
    compared: Sequence[Compared],
    bars: Mapping[int, Bar],
    baths: Mapping[int, Bath],
    belief: ShopBelief,
    now: datetime,
) -> tuple[WorkedOut, ...]:
    """Return the forecast of each batch's piece at the middle of what is believed."""
    made = []
    for place, one in enumerate(compared):
        process = process_of(one, bars, baths, now)
        found, why = (None, process.why) if isinstance(process, NotYet) else _forecast(process, belief)
        made.append(WorkedOut(one, place, piece_of(one.rows), found, why))
    return tuple(made)


def _forecast(process: Process, belief: ShopBelief) -> tuple[Forecast | None, str]:
    try:
        return forecast(process, belief.point(process)), ""
    except ModelError as refused:
        return None, str(refused)


def profile_charts(made: Sequence[WorkedOut], showing: Showing) -> tuple[Chart, ...]:
    """Return carbon and hardness through the skin of each batch's piece, with the points of its traverses."""
    carbon = [(one, one.found.depth_m, one.found.carbon_wt[0]) for one in made if one.found is not None]
    hard = [
        (one, one.found.depth_m, one.found.hardness_HV[0])
        for one in made
        if one.found is not None and one.found.hardness_HV is not None
    ]
    charts = (
        _profile("carbons", "Carbon through the skin", Axis("Carbon", "%", low=0.0), carbon, showing),
        _profile("hardnesses", "Hardness through the skin", Axis("Hardness", "HV", digits=0), hard, showing),
    )
    return tuple(chart for chart in charts if chart is not None)


def _profile(
    key: str, title: str, axis: Axis, told: Sequence[tuple[WorkedOut, Array, Array]], showing: Showing
) -> Chart | None:
    if not told:
        return None
    unit, digits = showing.length_unit, 3 if showing.length_unit == "in" else 2
    lines, points = [], []
    deepest_m = max(_enough(depth_m, values) for _, depth_m, values in told)
    for one, every_m, every_value in told:
        depth_m, values = every_m[every_m <= deepest_m], every_value[every_m <= deepest_m]
        x = [round(float(from_si(at, unit, "length")), 5) for at in depth_m]
        y = [round(float(value), 4) for value in values]
        lines.append(line_of(one.place, one.batch.name, x, y))
        if axis.unit == "HV" and (read := _traverse(one, showing)):
            points.append(
                Points(f"{one.batch.name}, read", *read, tone=TONES[one.place], shape=SHAPES[one.place])
            )
    step = float(from_si(deepest_m, unit, "length")) / TABLE_POINTS
    columns = (Column(f"Depth, {unit}"), *(Column(f"{line.name}, {axis.unit}") for line in lines))
    rows = _in_rows(lines, step, digits, axis.digits)
    skins = ", ".join(f"{line.name} {line.y[0]:.{axis.digits}f} {axis.unit} at the skin" for line in lines)
    return Chart(
        key=key,
        title=title,
        note="Of the first coupon of each batch, at the middle of what is believed now.",
        says=f"{title}: {skins}.",
        x=Axis("Depth from the face", unit, low=0.0, digits=digits),
        y=axis,
        lines=tuple(lines),
        points=tuple(points),
        table=Table(title, columns, rows),
    )


def _enough(depth_m: Array, values: Array) -> float:
    """Return how deep a profile is worth drawing: a little beyond where it comes to its core [m]."""
    height = abs(values[0] - values[-1])
    far = np.flatnonzero(np.abs(values - values[-1]) > NEAR_THE_CORE * height)
    return ROOM * float(depth_m[far[-1]]) if len(far) else float(depth_m[-1])


def _traverse(one: WorkedOut, showing: Showing) -> tuple[list[float], list[float]] | None:
    read = [
        (round(float(from_si(depth_m, showing.length_unit, "length")), 5), float(hardness_HV))
        for reading in one.batch.rows.readings.get(row_id(one.piece) if one.piece else 0, ())
        if reading.kind == "traverse" and not reading.left_out_why
        for depth_m, hardness_HV in reading.details["points"]
    ]
    return ([x for x, _ in read], [y for _, y in read]) if read else None
