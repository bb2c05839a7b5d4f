"""Surface hardness by bath: every reading, and what is foretold of the standard job in each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from webapp.charts import Axis, Chart, Column, Line, Points, Shape, Table, Tone
from webapp.services.forge_miss_charts import side_by_side
from webapp.services.growth_sums import Hardness
from webapp.services.showing import plural

BESIDE: Final = 0.36  # of the way to the next bath: where the foretold stands, clear of the readings
MOST_WANTED: Final = 2
FORETOLD: Final = "foretold for the standard job, nine readings in ten"
SERIES: Final[tuple[tuple[bool, str, Shape, Tone], ...]] = (
    (False, "read as quenched", "circle", "ink"),
    (True, "read after a temper", "square", "ok"),
)


@dataclass(frozen=True)
class ReadHardness:
    """A hardness as it was read and in HRC; None where it lies beyond what can be turned into HRC."""

    words: str
    href: str
    bath: str
    read: str
    value_HRC: float | None
    is_tempered: bool
    is_turned: bool


def bath_chart(
    read: Sequence[ReadHardness],
    foretold: Mapping[str, Hardness],
    wanted_HRC: Sequence[float],
    job: str,
) -> Chart | None:
    """Return the chart, None where nothing was read; `foretold` is by a bath's name, in the shop's order."""
    names = tuple(dict.fromkeys((*(one.bath for one in read), *foretold)))
    if not read:
        return None
    series = [_points(read, names, *kind) for kind in SERIES]
    return Chart(
        key="bath-hardness",
        title="Surface hardness by bath",
        note=_note(read, job),
        says=_says(read, foretold),
        x=Axis("Bath", low=0.5, high=len(names) + 0.5, names=names),
        y=Axis("Hardness", "HRC", digits=1),
        points=(*(one for one in series if one), *_foretold(foretold, names)),
        lines=_wanted(wanted_HRC, len(names)),
        table=_table(read, foretold),
    )


def _note(read: Sequence[ReadHardness], job: str) -> str:
    turned = (
        " What was read in another scale is turned into HRC here."
        if any(one.is_turned for one in read)
        else ""
    )
    return f"The diamond is what {job} would read as quenched in each bath; a temper takes some away.{turned}"


def _points(
    read: Sequence[ReadHardness],
    names: Sequence[str],
    is_tempered: bool,
    name: str,
    shape: Shape,
    tone: Tone,
) -> Points | None:
    placed = [
        (one, x)
        for place, bath in enumerate(names, start=1)
        for one, x in _side_by_side(read, bath, place)
        if one.is_tempered == is_tempered
    ]
    if not placed:
        return None
    return Points(
        name,
        [x for _, x in placed],
        [one.value_HRC for one, _ in placed],
        words=[f"{one.words}, {one.bath}, {name} {one.read}" for one, _ in placed],
        tone=tone,
        links=[one.href for one, _ in placed],
        shape=shape,
    )


def _side_by_side(read: Sequence[ReadHardness], bath: str, place: int) -> list[tuple[ReadHardness, float]]:
    own = [one for one in read if one.bath == bath and one.value_HRC is not None]
    return list(zip(own, side_by_side(place, len(own)), strict=True)) if own else []


def _foretold(foretold: Mapping[str, Hardness], names: Sequence[str]) -> tuple[Points, ...]:
    if not foretold:
        return ()
    return (
        Points(
            FORETOLD,
            [1.0 + names.index(bath) + BESIDE for bath in foretold],
            [round(one.middle, 1) for one in foretold.values()],
            [round(one.low, 1) for one in foretold.values()],
            [round(one.high, 1) for one in foretold.values()],
            [f"{bath}, the standard job: {_band(one)}, most likely" for bath, one in foretold.items()],
            "steel",
            shape="diamond",
        ),
    )


def _band(one: Hardness) -> str:
    return f"{one.low:.0f} to {one.high:.0f} HRC"


def _wanted(wanted_HRC: Sequence[float], baths: int) -> tuple[Line, ...]:
    """Return what parts want of their skin: each value, or the softest and hardest of many."""
    values = sorted(set(wanted_HRC))
    ends = values if len(values) <= MOST_WANTED else [values[0], values[-1]]
    words = ("wanted of a part",) if len(ends) == 1 else ("the softest wanted", "the hardest wanted")
    across = (0.5, baths + 0.5)
    return tuple(
        Line(f"{name}: {value:.0f} HRC", across, (value, value), "ember", dashed=True, dotted=place > 0)
        for place, (name, value) in enumerate(zip(words, ends, strict=False))
    )


def _says(read: Sequence[ReadHardness], foretold: Mapping[str, Hardness]) -> str:
    said = []
    for bath in dict.fromkeys((*(one.bath for one in read), *foretold)):
        own = [one.value_HRC for one in read if one.bath == bath and one.value_HRC is not None]
        words = f"{bath}: {plural(len(own), 'reading')}"
        words += f" from {min(own):.0f} to {max(own):.0f} HRC" if own else ""
        words += f", foretold {_band(foretold[bath])}" if bath in foretold else ""
        said.append(words)
    return f"Surface hardness by bath. {'; '.join(said)}."


def _table(read: Sequence[ReadHardness], foretold: Mapping[str, Hardness]) -> Table:
    columns = (
        Column("Piece", number=False),
        Column("Bath", number=False),
        Column("When", number=False),
        Column("Read"),
        Column("HRC"),
    )
    own = tuple(
        (
            one.words,
            one.bath,
            "after a temper" if one.is_tempered else "as quenched",
            one.read,
            _in_HRC(one),
        )
        for one in read
    )
    told = tuple(
        (
            "Foretold: the standard job",
            bath,
            "as quenched",
            "–",
            f"{one.middle:.0f} ({one.low:.0f} to {one.high:.0f})",
        )
        for bath, one in foretold.items()
    )
    links = (*(one.href for one in read), *("" for _ in told))
    return Table("Surface hardness by bath", columns, (*own, *told), links)


def _in_HRC(one: ReadHardness) -> str:
    if one.value_HRC is None:
        return "beyond the table"
    return f"{one.value_HRC:.1f}{' (turned)' if one.is_turned else ''}"
