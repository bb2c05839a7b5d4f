"""Case depth by eye against the root of the time: this forge, the books, and 0.1 mm an hour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from model.rules import tenth_millimetre_an_hour
from model.units import HOUR_s, from_si
from webapp.charts import Axis, Band, Chart, Column, Line, Points, Shape, Table, Tone
from webapp.services.growth_sums import GrowthLines
from webapp.services.showing import Showing, plural

SAME_HEAT_K: Final = 10.0
"""How near a soak's heat is to that of the lines to be called the same [K]; own choice, some 6 % of depth."""
FORGE, BOOKS, TENTH = "this forge", "the books", "0.1 mm (0.004 in) an hour"
ODD: Final = "odd one out"
COLUMNS: Final = (
    "Piece",
    "Read",
    "Heat",
    "Hours at heat",
    "This forge",
    "The books",
    "0.1 mm (0.004 in) an hour",
)


@dataclass(frozen=True)
class ReadDepth:
    """A depth by eye as it was read, and the soak it came from: its heat and its hours at heat."""

    words: str
    href: str
    depth_m: float
    heat_K: float
    hours: float
    is_odd: bool


@dataclass(frozen=True)
class _Series:
    name: str
    shape: Shape
    tone: Tone
    holds: Callable[[ReadDepth], bool]


def growth_chart(
    read: Sequence[ReadDepth], lines: GrowthLines, heat_K: float, job: str, showing: Showing
) -> Chart:
    """Return the chart of some depths; lines are of `job` at `heat_K`, which is worded in its note."""
    unit, digits = showing.length_unit, 3 if showing.length_unit == "in" else 2

    def shown(values_m: Sequence[float]) -> list[float]:
        return [round(float(from_si(value, unit, "length")), 5) for value in values_m]

    tenth_m = [float(tenth_millimetre_an_hour(hours * HOUR_s)) for hours in lines.hours]
    heat = _heat(heat_K, showing)
    end = lines.hours[-1]
    return Chart(
        key="case-growth",
        title="Case depth over the hours",
        note=f"The lines are for {job} at {heat}. Each point is as it was read, at its own heat: a hotter "
        "fire lies higher. The hours stand as far apart as their roots, so a case grows nearly straight.",
        says=f"Case depth by eye over the hours at heat: {plural(len(read), 'reading')}. "
        f"{end:.0f} h at {heat} give {', '.join(_ends(lines, tenth_m[-1], showing, digits))}.",
        x=Axis("Hours at heat", "h", low=0.0, high=end, digits=1, by_root=True),
        y=Axis("Case depth by eye", unit, low=0.0, digits=digits),
        bands=(
            Band("nine fires in ten of this forge", lines.hours, shown(lines.low_m), shown(lines.high_m)),
        ),
        lines=(
            Line(FORGE, lines.hours, shown(lines.middle_m)),
            Line(BOOKS, lines.hours, shown(lines.books_m), "ember", dashed=True),
            Line(TENTH, lines.hours, shown(tenth_m), "ink", dotted=True),
        ),
        points=_points(read, heat_K, showing, shown),
        table=_table(read, lines, showing, digits),
    )


def _ends(lines: GrowthLines, tenth_m: float, showing: Showing, digits: int) -> tuple[str, str, str]:
    """Word where each line ends."""
    own, low, high, books, tenth = (
        f"{from_si(value, showing.length_unit, 'length'):.{digits}f}"
        for value in (lines.middle_m[-1], lines.low_m[-1], lines.high_m[-1], lines.books_m[-1], tenth_m)
    )
    unit = showing.length_unit
    ours = f"{own} {unit} in {FORGE} ({low} to {high} in nine fires of ten)"
    return ours, f"{books} {unit} by {BOOKS}", f"{tenth} {unit} at {TENTH}"


def _heat(heat_K: float, showing: Showing) -> str:
    return f"{from_si(heat_K, showing.temperature_unit, 'temperature'):.0f} °{showing.temperature_unit}"


def _points(
    read: Sequence[ReadDepth],
    heat_K: float,
    showing: Showing,
    shown: Callable[[Sequence[float]], list[float]],
) -> tuple[Points, ...]:
    heat = showing.temperature(heat_K, SAME_HEAT_K)
    near = (
        _Series(f"read, at {heat}", "circle", "ink", lambda one: abs(one.heat_K - heat_K) <= SAME_HEAT_K),
        _Series("read, from a hotter fire", "triangle", "ink", lambda one: one.heat_K > heat_K + SAME_HEAT_K),
        _Series("read, from a cooler fire", "square", "ink", lambda one: one.heat_K < heat_K - SAME_HEAT_K),
    )
    series = (*near, _Series(f"read, {ODD}", "diamond", "ember", lambda one: one.is_odd))
    found = []
    for kind in series:
        own = [one for one in read if kind.holds(one) and one.is_odd == (kind.shape == "diamond")]
        if own:
            words = [f"{one.words}, {one.hours:.1f} h at {_heat(one.heat_K, showing)}" for one in own]
            found.append(
                Points(
                    kind.name,
                    [round(one.hours, 3) for one in own],
                    shown([one.depth_m for one in own]),
                    words=words,
                    tone=kind.tone,
                    links=[one.href for one in own],
                    shape=kind.shape,
                )
            )
    return tuple(found)


def _table(read: Sequence[ReadDepth], lines: GrowthLines, showing: Showing, digits: int) -> Table:
    unit = showing.length_unit

    def said(value_m: float) -> str:
        return f"{from_si(value_m, unit, 'length'):.{digits}f} {unit}"

    rows = tuple(
        (
            f"{one.words}, {ODD}" if one.is_odd else one.words,
            said(one.depth_m),
            _heat(one.heat_K, showing),
            f"{one.hours:.1f}",
            said(lines.at(one.hours, lines.middle_m)),
            said(lines.at(one.hours, lines.books_m)),
            said(float(tenth_millimetre_an_hour(one.hours * HOUR_s))),
        )
        for one in read
    )
    columns = tuple(Column(name, number=place > 0) for place, name in enumerate(COLUMNS))
    return Table("Case depth over the hours", columns, rows, tuple(one.href for one in read))
