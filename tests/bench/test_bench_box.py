"""What the box costs a forecast: its own sum, once a box and heat, and what it adds to the carbon."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from model import box_course
from model.belief import handbook_belief
from model.box_course import box_cooling, warm_up
from model.boxheat import box_heat
from model.forecast import forecast
from model.packed_box import packed_box
from model.process import Carburize, History, PackSupply, SlowCool
from tests.bench.test_bench_quench import coupon, least_of_each, least_s

pytestmark = pytest.mark.bench

HEAT_K = 1198.15
BOX = packed_box((0.15, 0.08, 0.08), False, 0.003, 0.006)
# a box's own sums, warm-up and cool, over one forecast cold to tempered; and a forecast with over without
MOST_FORECASTS = 4.0
MOST_TIMES_WITHOUT = 1.5


def forget() -> None:
    for kept in (box_heat, box_course._warm_up, box_course._fall):
        kept.cache_clear()


def test_the_box_is_a_small_share_of_a_forecast_once_it_is_known() -> None:
    soak, _, *rest = coupon("oil").steps
    feed = PackSupply("lump", 10.0)
    assert isinstance(soak, Carburize)
    cools = [SlowCool(box_cooling(box, HEAT_K), feed) for box in (None, BOX)]
    without, boxed = (
        replace(coupon("oil"), steps=(replace(soak, history=History.hold(HEAT_K, 4 * 3600.0)), cool, *rest))
        for cool in cools
    )
    boxed = replace(boxed, box=BOX)
    point = handbook_belief().point(without)
    without_s, boxed_s = least_of_each(partial(forecast, without, point), partial(forecast, boxed, point))

    def first_time() -> None:
        forget()
        warm_up(BOX, HEAT_K)
        box_cooling(BOX, HEAT_K)

    own_s = least_s(first_time, rounds=5)
    forecast_ms = f"{1e3 * without_s:.1f} to {1e3 * boxed_s:.1f} ms"
    print(f"\nbox: {1e3 * own_s:.1f} ms the first time; forecast {forecast_ms}")  # noqa: T201
    assert boxed_s < MOST_TIMES_WITHOUT * without_s
    assert own_s < MOST_FORECASTS * boxed_s
