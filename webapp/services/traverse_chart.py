"""A traverse drawn: every dent with its give or take, and what the other fires foretell at every depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from model.traverse import ISO_18203_LIMIT_HV
from model.units import from_si
from webapp.charts import Axis, Band, Chart, Column, Line, Points, Rule, Table
from webapp.services.showing import Showing, plural

FORETOLD: Final = "foretold from the other fires, most likely"
READ: Final = "read, each dent with its give or take"


@dataclass(frozen=True)
class Profile:
    """Hardness that a tester would show at some depths [m], without its scatter: nine pieces in ten [HV]."""

    depth_m: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class Dent:
    """One reading [m], [HV], with what was foretold of it, scatter and all; no ends where nothing was.

    half : its own give or take, nine in ten [HV]
    """

    depth_m: float
    read: float
    half: float
    low: float | None = None
    middle: float | None = None
    high: float | None = None

    @property
    def verdict(self) -> str:
        """Say whether it came out as foretold."""
        if self.low is None or self.high is None:
            return ""
        if self.read < self.low:
            return "softer"
        return "harder" if self.read > self.high else "within"


def traverse_chart(
    key: str, when: str, dents: Sequence[Dent], profile: Profile | None, showing: Showing
) -> Chart:
    """Return the chart of one traverse; without a profile its dents alone."""
    unit, digits = showing.length_unit, 3 if showing.length_unit == "in" else 2

    def shown(depths_m: Sequence[float]) -> list[float]:
        return [round(float(from_si(depth_m, unit, "length")), 5) for depth_m in depths_m]

    within = sum(one.verdict == "within" for one in dents)
    told = f", {within} of them as foretold" if profile else ""
    deep = shown(profile.depth_m) if profile else []
    return Chart(
        key=key,
        title=f"Traverse {when}",
        note="A bar is the dent’s own give or take, nine in ten; the band is of nine pieces in ten."
        if profile
        else "A bar is the dent’s own give or take, nine in ten.",
        says=f"Traverse {when}: {plural(len(dents), 'dent')}{told}, "
        f"from {dents[0].read:.0f} HV at {_depth(dents[0], unit, digits)} to {dents[-1].read:.0f} HV at "
        f"{_depth(dents[-1], unit, digits)}.",
        x=Axis("Depth from the face", unit, low=0.0, digits=digits),
        y=Axis("Hardness", "HV", digits=0),
        bands=(Band("nine in ten", deep, profile.low, profile.high),) if profile else (),
        lines=(Line(FORETOLD, deep, profile.middle),) if profile else (),
        points=(
            Points(
                READ,
                shown([one.depth_m for one in dents]),
                [one.read for one in dents],
                [round(one.read - one.half, 1) for one in dents],
                [round(one.read + one.half, 1) for one in dents],
                [_words(one, unit, digits) for one in dents],
            ),
        ),
        rules=(Rule(f"{ISO_18203_LIMIT_HV:.0f} HV ends the case", ISO_18203_LIMIT_HV),),
        table=_table(when, dents, unit, digits),
    )


def _depth(one: Dent, unit: str, digits: int) -> str:
    return f"{from_si(one.depth_m, unit, 'length'):.{digits}f} {unit}"


def _words(one: Dent, unit: str, digits: int) -> str:
    foretold = f", foretold {_band(one)} ({one.verdict})" if one.verdict else ""
    return f"{_depth(one, unit, digits)} deep, give or take {one.half:.0f} HV{foretold}, read"


def _band(one: Dent) -> str:
    return f"{one.low:.0f} to {one.high:.0f} HV" if one.verdict else "–"


def _table(when: str, dents: Sequence[Dent], unit: str, digits: int) -> Table:
    columns = (
        *(Column(name) for name in ("Depth", "Read", "Give or take", "Foretold", "Nine readings in ten")),
        Column("How it fits", number=False),
    )
    rows = tuple(
        (
            _depth(one, unit, digits),
            f"{one.read:.0f} HV",
            f"{one.half:.0f} HV",
            "–" if one.middle is None else f"{one.middle:.0f} HV",
            _band(one),
            one.verdict or "–",
        )
        for one in dents
    )
    return Table(f"Traverse {when}", columns, rows)
