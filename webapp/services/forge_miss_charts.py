"""Charts of how far readings lie from what the other fires foretell: by day, by mix and by box."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from webapp.charts import POINT_SHAPES, Axis, Band, Chart, Column, Line, Points, Rule, Table, Tone
from webapp.services.forge_misses import Miss
from webapp.services.whole_book import grouped

TONES: tuple[Tone, ...] = ("steel", "ok", "ink", "soft")
EPOCH = date(1970, 1, 1)
WHAT = {"depth": "Case depth by eye", "hardness": "Hardness on the face"}
NINE_IN_TEN = "nine readings in ten of the day"
MIDDLE_REACH = 0.32
SPREAD_REACH = 0.24


def miss_charts(misses: Sequence[Miss], kind: str) -> tuple[Chart, ...]:
    """Return the charts of one kind of reading, by day, mix and box; none for fewer than two readings."""
    own = [one for one in misses if one.kind == kind]
    if len(own) < 2:
        return ()
    return (
        _by_day(own, kind),
        _by_group(own, kind, "mix", lambda one: one.mix),
        _by_group(own, kind, "box", lambda one: one.box),
    )


def _by_day(misses: Sequence[Miss], kind: str) -> Chart:
    by_mix = grouped(misses, lambda one: one.mix)
    series = tuple(
        replace(
            _points(mix, TONES[place % len(TONES)], own, [_day(one) for one in own]),
            shape=POINT_SHAPES[place % len(POINT_SHAPES)],
        )
        for place, (mix, own) in enumerate(by_mix.items())
    )
    columns = tuple(Column(name, number=False) for name in ("Piece", "Day", "Mix", "Box", "Read"))
    rows = tuple(
        (
            one.words,
            f"{one.day.day} {one.day:%b %Y}",
            one.mix,
            one.box,
            one.read,
            _foretold(one),
            one.said,
            _limit(one),
        )
        for one in misses
    )
    table = Table(
        f"{WHAT[kind]}: read less foretold",
        (*columns, Column("Foretold"), Column("Read less foretold"), Column("Nine in ten within")),
        rows,
        tuple(one.href for one in misses),
    )
    says = f"{WHAT[kind]} read less what the other fires foretell, by day; {len(misses)} readings, "
    says += f"{sum(one.is_outside for one in misses)} outside nine in ten."
    axis, limits = Axis("Day", is_date=True), _limits(misses)
    return _chart(f"misses-{kind}-day", "By day", says, axis, misses, series, table, bands=limits)


def _day(one: Miss) -> float:
    return float((one.day - EPOCH).days)


def _limits(misses: Sequence[Miss]) -> tuple[Band, ...]:
    """Return the widest limit of each day on both sides; none where fewer than two days have one."""
    by_day: dict[float, float] = {}
    for one in misses:
        if one.limit is not None:
            by_day[_day(one)] = max(one.limit, by_day.get(_day(one), 0.0))
    if len(by_day) < 2:
        return ()
    days = sorted(by_day)
    high = [round(by_day[day], 5) for day in days]
    return (Band(NINE_IN_TEN, days, [-limit for limit in high], high),)


def _limit(one: Miss) -> str:
    if one.limit is None:
        return "–"
    return f"±{one.limit:.{one.digits}f} {one.unit}{', outside' if one.is_outside else ''}"


def _by_group(misses: Sequence[Miss], kind: str, what: str, of: Callable[[Miss], str]) -> Chart:
    groups = grouped(misses, of)
    names = tuple(name or "not said" for name in groups)
    placed = [
        (one, x)
        for place, own in enumerate(groups.values(), start=1)
        for one, x in zip(own, side_by_side(place, len(own)), strict=True)
    ]
    series = (_points("one reading", "steel", [one for one, _ in placed], [x for _, x in placed]),)
    means = tuple(
        Line("on average", _reach(place), (_mean(own),) * 2, "ember", named=place == 1)
        for place, own in enumerate(groups.values(), start=1)
    )
    head = (
        Column(what.capitalize(), number=False),
        Column("Readings"),
        Column("On average"),
        Column("Half within"),
    )
    rows = tuple(_group_row(name, own) for name, own in zip(names, groups.values(), strict=True))
    table = Table(f"{WHAT[kind]}: read less foretold, by {what}", head, rows)
    axis = Axis(what.capitalize(), low=0.5, high=len(names) + 0.5, names=names)
    says = f"{WHAT[kind]} read less what the other fires foretell, by {what}: " + "; ".join(
        f"{row[0]} {row[2]} on average" for row in rows
    )
    return _chart(f"misses-{kind}-{what}", f"By {what}", says, axis, misses, series, table, means)


def _group_row(name: str, own: Sequence[Miss]) -> tuple[str, ...]:
    first = own[0]
    sizes = sorted(abs(one.by) for one in own)
    mean = f"{_mean(own):+.{first.digits}f} {first.unit}".replace("-", "−")
    return name, str(len(own)), mean, f"{sizes[(len(sizes) - 1) // 2]:.{first.digits}f} {first.unit}"


def _mean(own: Sequence[Miss]) -> float:
    return sum(one.by for one in own) / len(own)


def _reach(place: int) -> tuple[float, float]:
    return place - MIDDLE_REACH, place + MIDDLE_REACH


def side_by_side(place: float, count: int) -> list[float]:
    """Return places side by side, so that no reading hides another."""
    if count == 1:
        return [place]
    return [place + SPREAD_REACH * (2.0 * k / (count - 1) - 1.0) for k in range(count)]


def _foretold(one: Miss) -> str:
    return f"{one.foretold:.{one.digits}f} {one.unit}"


def _points(name: str, tone: Tone, own: Sequence[Miss], x: Sequence[float]) -> Points:
    words = [
        f"{one.words}, {one.mix}, {one.box}: read {one.read}, foretold {_foretold(one)}"
        f"{', outside nine in ten' if one.is_outside else ''}"
        for one in own
    ]
    return Points(
        name or "not said",
        x,
        [one.by for one in own],
        words=words,
        tone=tone,
        links=[one.href for one in own],
    )


def _chart(
    key: str,
    title: str,
    says: str,
    x: Axis,
    misses: Sequence[Miss],
    points: tuple[Points, ...],
    table: Table,
    lines: tuple[Line, ...] = (),
    bands: tuple[Band, ...] = (),
) -> Chart:
    first = misses[0]
    ends = [high for band in bands for high in band.high if high is not None]
    reach = 1.1 * max(*(abs(one.by) for one in misses), *ends, 0.0) or 1.0
    return Chart(
        key=key,
        title=title,
        says=says,
        x=x,
        y=Axis("Read less foretold", first.unit, -reach, reach, first.digits),
        lines=lines,
        bands=bands,
        points=points,
        rules=(Rule("", 0.0, tone="soft"),),
        note="On the dashed line it came out as foretold; above it deeper or harder.",
        table=table,
    )
