"""How the doubt narrowed: the standard job, fire by fire, as a chart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from webapp.charts import Axis, Band, Chart, Column, Line, Rule, Table
from webapp.services.showing import plural

NARROWED = 0.9  # share of the books' doubt from which a thing has narrowed at all
FUNNEL_WIDTH, FUNNEL_HEIGHT = 240.0, 32.0


def course_chart(summary: Mapping[str, Any], mixes: Mapping[int, str]) -> Chart | None:
    """Return the chart of the standard job's pace against the books after each of a few fires."""
    course = summary.get("course") or {}
    bands = list(course.get("standard", ()))
    if not bands or not summary["standard"]:
        return None
    bands[-1] = summary["standard"][0]  # the headline's own numbers, from more draws
    fires = [0, *(moment["fires"] for moment in course["moments"])]
    coupons = [0, *(moment["coupons"] for moment in course["moments"])]
    middle, low, high = ([_percent(band[end]) for band in bands] for end in ("median", "low", "high"))
    return Chart(
        key="narrowed",
        title="How the doubt narrowed",
        note=f"The standard job{_with(course['mix'], mixes)}, as the first fires alone would tell of it.",
        says=f"After {plural(fires[-1], 'fire')} the pace is known to {low[-1]:+.0f} to {high[-1]:+.0f} % "
        f"of the books; the books alone leave {low[0]:+.0f} to {high[0]:+.0f} %.",
        x=Axis("Fires so far", low=0.0, high=float(fires[-1]), digits=0),
        y=Axis("Deeper than the books", "%", digits=0),
        bands=(Band("nine times in ten", fires, low, high),),
        lines=(Line("most likely", fires, middle),),
        rules=(Rule("the books", 0.0, tone="soft"),),
        table=_table(fires, coupons, middle, low, high),
    )


def _percent(ratio: float) -> float:
    return 100.0 * (ratio - 1.0)


def _with(mix: str, mixes: Mapping[int, str]) -> str:
    name = mixes.get(int(mix)) if mix.isdecimal() else None
    return f" with {name}" if name else ""


def _table(
    fires: Sequence[int],
    coupons: Sequence[int],
    middle: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
) -> Table:
    rows = tuple(
        (str(fire), str(count), f"{one:+.0f} %", f"{least:+.0f} to {most:+.0f} %")
        for fire, count, one, least, most in zip(fires, coupons, middle, low, high, strict=True)
    )
    columns = (Column("Fires"), Column("Coupons"), Column("Most likely"), Column("Nine times in ten"))
    return Table("How the doubt narrowed", columns, rows)


def funnels(summary: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    """Return, by kind and key, the outline of each row whose doubt narrowed, from the books on."""
    course = summary.get("course") or {}
    moments = [moment["fires"] for moment in course.get("moments", ())]
    if not moments:
        return {}
    return {
        (row["kind"], row["of"]): _outline([0, *moments], [1.0, *row["shares"]])
        for row in course["left"]
        if row["shares"][-1] <= NARROWED
    }


def _outline(fires: Sequence[int], shares: Sequence[float]) -> str:
    """Return the path of a funnel: as wide as the doubt, 1 for that of the books."""
    half = 0.5 * FUNNEL_HEIGHT
    across = [FUNNEL_WIDTH * fire / fires[-1] for fire in fires]
    sizes = [min(share, 1.0) * (half - 1.0) for share in shares]
    upper = [f"{x:.1f} {half - size:.1f}" for x, size in zip(across, sizes, strict=True)]
    lower = [f"{x:.1f} {half + size:.1f}" for x, size in zip(across, sizes, strict=True)]
    return f"M{' L'.join([*upper, *reversed(lower)])}Z"
