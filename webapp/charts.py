"""A chart as plain values: what is drawn, in which units, and the same in numbers beneath it.

`static/js/charts.js` draws the payload; `parts/_chart.html` sets it in a page. Values are in the units
that are shown; None breaks a line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

Tone = Literal["steel", "ember", "ink", "soft", "ok"]
Shape = Literal["circle", "square", "triangle", "diamond"]
Values = Sequence[float | None]
# what tells one lot of points from the next where no colour is seen
POINT_SHAPES: tuple[Shape, ...] = ("circle", "triangle", "square", "diamond")


@dataclass(frozen=True)
class Axis:
    """One axis: what it counts, its unit, and its ends if they are not left to the data.

    `names` are words at 1, 2, 3 and so on in place of numbers; with `is_date` values are days since 1970;
    with `by_root` places are as far apart as the roots of their values.
    """

    label: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    digits: int = 2
    names: tuple[str, ...] = ()
    is_date: bool = False
    by_root: bool = False


@dataclass(frozen=True)
class Line:
    """A curve; with `named` false it has no entry in the key."""

    name: str
    x: Values
    y: Values
    tone: Tone = "steel"
    dashed: bool = False
    named: bool = True
    dotted: bool = False

    def __post_init__(self) -> None:
        """Refuse curves that cannot be drawn."""
        _same_length(self.name, self.x, self.y)


@dataclass(frozen=True)
class Band:
    """The give or take of a curve."""

    name: str
    x: Values
    low: Values
    high: Values
    tone: Tone = "steel"

    def __post_init__(self) -> None:
        """Refuse bands that cannot be drawn."""
        _same_length(self.name, self.x, self.low, self.high)


@dataclass(frozen=True)
class Points:
    """Readings, each with its own give or take (`low` and `high`), words and page, if given."""

    name: str
    x: Values
    y: Values
    low: Values = ()
    high: Values = ()
    words: Sequence[str] = ()
    tone: Tone = "ink"
    links: Sequence[str] = ()
    shape: Shape = "circle"

    def __post_init__(self) -> None:
        """Refuse readings that cannot be drawn."""
        _same_length(self.name, self.x, self.y, *(given for given in (self.low, self.high) if given))
        for given in (self.words, self.links):
            if given and len(given) != len(self.x):
                raise ValueError(f"{self.name}: {len(given)} words for {len(self.x)} points")


@dataclass(frozen=True)
class Rule:
    """A straight line across the chart at one value, with its words."""

    words: str
    at: float
    across: Literal["x", "y"] = "y"
    tone: Tone = "ember"

    def __post_init__(self) -> None:
        """Refuse a rule that is nowhere."""
        _same_length(self.words, (self.at,))


@dataclass(frozen=True)
class Column:
    """A column of a table."""

    label: str
    number: bool = True


@dataclass(frozen=True)
class Table:
    """Texts in rows under named columns; `links`, if given, is where each row's first cell leads."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    links: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse ragged rows."""
        if self.links and len(self.links) != len(self.rows):
            raise ValueError(f"{self.caption}: {len(self.links)} links for {len(self.rows)} rows")
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"{self.caption}: {len(row)} cells for {len(self.columns)} columns")


@dataclass(frozen=True)
class Mark:
    """An entry of the key."""

    name: str
    kind: Literal["line", "band", "points"]
    tone: Tone
    dashed: bool = False
    dotted: bool = False
    shape: Shape = "circle"


@dataclass(frozen=True)
class Chart:
    """A chart; `key` is its id on the page, `says` one sentence for those who cannot see it."""

    key: str
    title: str
    says: str
    x: Axis
    y: Axis
    table: Table
    lines: tuple[Line, ...] = ()
    bands: tuple[Band, ...] = ()
    points: tuple[Points, ...] = ()
    rules: tuple[Rule, ...] = ()
    note: str = ""

    @property
    def payload(self) -> dict[str, Any]:
        """What the script draws, as JSON can carry it."""
        drawn = ("says", "x", "y", "lines", "bands", "points", "rules")
        everything = asdict(self)
        return {name: everything[name] for name in drawn}

    @property
    def legend(self) -> tuple[Mark, ...]:
        """The entries of the key, in the order drawn."""
        return (
            *(
                Mark(line.name, "line", line.tone, line.dashed, line.dotted)
                for line in self.lines
                if line.named
            ),
            *(Mark(band.name, "band", band.tone) for band in self.bands),
            *(Mark(points.name, "points", points.tone, shape=points.shape) for points in self.points),
        )


def _same_length(name: str, *columns: Values) -> None:
    if len({len(column) for column in columns}) > 1:
        raise ValueError(f"{name}: columns of different lengths cannot be drawn")
    if any(value is not None and not math.isfinite(value) for column in columns for value in column):
        raise ValueError(f"{name}: only finite numbers can be drawn; None leaves a gap")
