"""The two charts of a plan: carbon through the skin, and case depth against time."""

from __future__ import annotations

from collections.abc import Sequence

from model.units import HOUR_s, from_si
from webapp.charts import Axis, Band, Chart, Column, Line, Rule, Table
from webapp.services.plan_figures import PlanFigures
from webapp.services.showing import Showing, say_duration

TABLE_EVERY = 4
LENGTH_DIGITS = {"mm": 2, "in": 3}


def carbon_chart(figures: PlanFigures, showing: Showing) -> Chart:
    """Return carbon through the skin, with its band."""
    profile = figures.profile
    depth = _lengths(profile.depth_m, showing)
    unit, digits = showing.length_unit, LENGTH_DIGITS.get(showing.length_unit, 2)
    low, middle, high = (
        _rounded(values, 4) for values in (profile.low_wt, profile.middle_wt, profile.high_wt)
    )
    rows = [
        (f"{at:.{digits}f}", f"{c:.2f}", f"{a:.2f}", f"{b:.2f}")
        for at, c, a, b in list(zip(depth, middle, low, high, strict=True))[::TABLE_EVERY]
    ]
    columns = (Column(f"Depth, {unit}"), Column("Carbon, %"), Column("at least, %"), Column("at most, %"))
    return Chart(
        key="carbon",
        title="Carbon through the skin",
        says=f"Carbon falls from {middle[0]:.2f} % at the skin to {middle[-1]:.2f} % deep inside.",
        x=Axis("Depth from the finished face", unit, low=0.0, digits=digits),
        y=Axis("Carbon", "%", low=0.0),
        table=Table("Carbon through the skin", columns, tuple(rows)),
        bands=(Band("nine in ten", depth, low, high),),
        lines=(Line("carbon", depth, middle),),
    )


def growth_chart(figures: PlanFigures, showing: Showing) -> Chart:
    """Return case depth against time at heat, with the rules of thumb beside it."""
    growth = figures.growth
    hours = tuple(round(seconds / HOUR_s, 3) for seconds in growth.soak_s)
    lines, columns = _growth_lines(figures, hours, showing)
    unit, digits = showing.length_unit, LENGTH_DIGITS.get(showing.length_unit, 2)
    own = lines[0]
    low, high = _lengths(growth.low_m, showing), _lengths(growth.high_m, showing)
    rows = [
        (
            f"{hours[k]:.1f}",
            *(f"{line.y[k]:.{digits}f}" for line in lines),
            f"{low[k]:.{digits}f} to {high[k]:.{digits}f}",
        )
        for k in range(0, len(hours), TABLE_EVERY)
    ]
    return Chart(
        key="growth",
        title="Case depth against time",
        says=f"After {hours[-1]:.1f} h the case is about {own.y[-1]:.{digits}f} {unit} deep.",
        x=Axis("Time at heat", "h", digits=1),
        y=Axis("After grinding" if figures.grind_m > 0 else "Case depth", unit, low=0.0, digits=digits),
        table=Table(
            "Case depth against time",
            (Column("Hours"), *columns, Column(f"nine in ten, {unit}")),
            tuple(rows),
        ),
        bands=(Band("nine in ten", hours, low, high),),
        lines=lines,
        rules=(
            Rule("wanted", _length(figures.wanted_low_m, showing), tone="ok"),
            Rule("at most", _length(figures.wanted_high_m, showing), tone="ok"),
            Rule(say_duration(figures.soak_s), round(figures.soak_s / HOUR_s, 3), across="x"),
        ),
        note=_growth_note(figures),
    )


def _growth_lines(
    figures: PlanFigures, hours: Sequence[float], showing: Showing
) -> tuple[tuple[Line, ...], tuple[Column, ...]]:
    growth, unit = figures.growth, showing.length_unit
    is_learnt = bool(growth.books_m)
    lines = [Line("your forge" if is_learnt else "by the books", hours, _lengths(growth.middle_m, showing))]
    if is_learnt:
        lines.append(
            Line("the books alone", hours, _lengths(growth.books_m, showing), tone="soft", dotted=True)
        )
    if growth.harris_m:
        lines.append(Line("Harris 1943", hours, _lengths(growth.harris_m, showing), tone="ink", dashed=True))
    tenth = _lengths(growth.tenth_m, showing)
    lines.append(Line("0.1 mm (0.004 in) an hour", hours, tenth, tone="soft", dashed=True, dotted=True))
    return tuple(lines), tuple(Column(f"{line.name}, {unit}") for line in lines)


def _growth_note(figures: PlanFigures) -> str:
    harris = (
        "Harris counts all that carbon changed, in a gas as rich as the steel can take."
        if figures.growth.harris_m
        else "This heat lies outside Harris's table (816 to 954 °C, 1500 to 1750 °F)."
    )
    ground = " All lines are less what is ground off." if figures.grind_m > 0 else ""
    return f"Two rules of thumb stand beside it. {harris}{ground}"


def _length(length_m: float, showing: Showing) -> float:
    return round(from_si(length_m, showing.length_unit, "length"), 4)


def _lengths(values_m: Sequence[float], showing: Showing) -> tuple[float, ...]:
    return tuple(_length(value, showing) for value in values_m)


def _rounded(values: Sequence[float], digits: int) -> tuple[float, ...]:
    return tuple(round(value, digits) for value in values)
