"""Where the forge misses and how simple rules do on the same coupons, as values of its page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from webapp.services.forge_miss_charts import miss_charts
from webapp.services.forge_misses import Miss, _limit
from webapp.services.forge_rules import view_rules
from webapp.services.showing import Showing

METRIC = Showing("C", "mm", ZoneInfo("UTC"))


def miss(number: int, measured: float, foretold: float, mix: str = "lump", is_odd: bool = False) -> Miss:
    day, words = date(2026, 3, number), f"{number} A Pin"
    return Miss(
        number, "depth", words, f"/items/{number}", day, mix, "tube", f"{measured} mm", measured, foretold,
        "mm", 2, is_odd,
    )  # fmt: skip


def told(number: int, **foretold: float | None) -> dict[str, Any]:
    in_m = {name: None if value is None else value / 1000.0 for name, value in foretold.items()}
    return {"key": str(number), "tenth": 0.0004, "harris": 0.0008, "root": None, "scaled_harris": None} | in_m


def test_the_better_one_is_said_to_be_better_even_if_it_is_a_rule() -> None:
    misses = [miss(1, 0.6, 0.5), miss(2, 0.8, 0.9)]
    rows = [told(1, root=0.4, scaled_harris=0.58), told(2, root=0.6, scaled_harris=0.82)]
    view = view_rules(rows, misses, 12, METRIC)
    assert view is not None
    assert "a simple rule does better" in view.verdict
    assert "miss by 0.10 mm on the whole, Harris’s law times one factor by 0.02 mm" in view.verdict
    assert [row.name for row in view.rows if row.is_best] == ["Harris’s law times one factor"]
    worse = [told(1, root=0.4, scaled_harris=0.4), told(2, root=0.6, scaled_harris=0.6)]
    ours = view_rules(worse, misses, 12, METRIC)
    assert ours is not None
    assert ours.verdict.startswith("On 2 depths this forge’s own numbers miss by 0.10 mm")
    assert ours.rows[0].is_best
    even = view_rules(
        [told(1, root=0.3, scaled_harris=0.505), told(2, root=0.3, scaled_harris=0.9)], misses, 12, METRIC
    )
    assert even is not None
    assert "little between them" in even.verdict


def test_each_way_is_judged_by_half_by_nine_of_ten_and_on_the_whole() -> None:
    sizes = [0.01 * (k + 1) for k in range(10)]
    misses = [miss(k + 1, 0.5, 0.5 - size) for k, size in enumerate(sizes)]
    view = view_rules([told(k + 1, root=0.5, scaled_harris=0.5) for k in range(10)], misses, 12, METRIC)
    assert view is not None
    ours = view.rows[0]
    assert (ours.half_within, ours.most_within) == ("0.05 mm", "0.09 mm")
    assert ours.on_the_whole == f"{(sum(size**2 for size in sizes) / 10) ** 0.5:.2f} mm"


def test_one_fire_has_nothing_to_fit_a_rule_to_and_few_are_called_chance() -> None:
    alone = view_rules([told(1), told(2)], [miss(1, 0.6, 0.5), miss(2, 0.6, 0.5)], 1, METRIC)
    assert alone is not None
    assert "One fire alone" in alone.note
    assert len(alone.rows) == 3  # ours, Harris as printed, a tenth an hour
    few = view_rules([told(1, root=0.4, scaled_harris=0.4)], [miss(1, 0.6, 0.5)], 3, METRIC)
    assert few is not None
    assert "With 3 fires chance still says much" in few.note
    assert view_rules([], [], 0, METRIC) is None


def test_odd_fires_count_and_what_remains_without_them_is_told_too() -> None:
    misses = [miss(1, 0.6, 0.6), miss(2, 0.2, 0.8, is_odd=True)]
    view = view_rules([told(k, root=0.5, scaled_harris=0.5) for k in (1, 2)], misses, 12, METRIC)
    assert view is not None
    assert "Without the odd ones out: 0.00 mm against 0.20 mm" in view.note


def test_misses_are_drawn_by_day_by_mix_and_by_box_with_their_average() -> None:
    by_day, by_mix, by_box = miss_charts(
        [miss(1, 0.6, 0.5), miss(2, 0.5, 0.7), miss(3, 0.5, 0.5, "soda")], "depth"
    )
    assert by_day.x.is_date
    assert [points.name for points in by_day.points] == ["lump", "soda"]
    assert by_mix.x.names == ("lump", "soda")
    assert by_mix.table.rows == (("lump", "2", "−0.05 mm", "0.10 mm"), ("soda", "1", "+0.00 mm", "0.00 mm"))
    assert by_box.x.names == ("tube",)
    assert by_mix.y.low == -by_mix.y.high  # type: ignore[operator]
    assert miss_charts([miss(1, 0.6, 0.5)], "depth") == ()


def test_by_day_the_limits_are_the_widest_of_each_day_and_a_reading_is_held_against_its_own() -> None:
    inside = replace(miss(1, 0.6, 0.5), limit=0.15)
    outside = replace(miss(1, 0.62, 0.5, "soda"), limit=0.1)
    later = replace(miss(3, 0.5, 0.5), limit=0.2)
    by_day = miss_charts([inside, outside, later], "depth")[0]
    (band,) = by_day.bands
    assert (list(band.low), list(band.high)) == ([-0.15, -0.2], [0.15, 0.2])
    assert by_day.y.high == pytest.approx(0.22)  # what holds the limits too
    assert [row[-1] for row in by_day.table.rows] == ["±0.15 mm", "±0.10 mm, outside", "±0.20 mm"]
    assert by_day.says.endswith("3 readings, 1 outside nine in ten.")
    assert by_day.points[1].words[0].endswith("outside nine in ten")


def test_limits_are_nine_in_ten_of_the_sds_that_the_score_counts_in() -> None:
    row = {"measured_low": 0.0006, "foretold": 0.0005, "score": 2.0}
    in_mm = _limit(row, lambda value_m: 1000.0 * value_m)
    assert in_mm == pytest.approx(1.645 * 0.05, rel=1e-3)
    assert _limit(row | {"measured_low": 0.0005, "score": 0.0}, float) is None
