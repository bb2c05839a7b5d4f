"""Low tempers against tables that the loss formula was not fitted on; each source beside its check."""

from __future__ import annotations

import numpy as np
import pytest

from model.conversion import rockwell_c_continued, vickers_continued
from model.hardness import temper_loss_rockwell, temper_parameter, tempered_vickers
from model.units import HOUR_s, celsius_to_kelvin

pytestmark = pytest.mark.published


def loss(celsius: float, carbon_wt: float, hours: float = 1.0) -> float:
    parameter = temper_parameter(((celsius_to_kelvin(celsius), hours * HOUR_s),))
    return float(temper_loss_rockwell(carbon_wt, parameter))


@pytest.mark.parametrize(
    ("celsius", "tool_steel", "alloy_case", "plain_case"),
    # low tempers of an hour, HRC, from memory (M, +-1.5): 1095 quenched to 65.5, a case of 8620 or 16MnCr5 to
    # 63.5, a plain carbon case in water to 65
    [
        (150.0, 63.5, 62.0, 63.5),
        (175.0, 62.5, 61.0, 62.5),
        (200.0, 61.5, 60.0, 61.0),
        (230.0, 59.5, 58.5, 59.0),
        (260.0, 57.5, 57.0, 57.0),
        (315.0, 55.0, 54.0, 54.5),
    ],
)
def test_an_hour_s_temper_leaves_what_the_tables_say(
    celsius: float, tool_steel: float, alloy_case: float, plain_case: float
) -> None:
    # the formula is carried from below 0.70 %C to 0.95: +-2 HRC for the tables and the hardness before; the
    # alloy case at 315 C comes out 2.5 too soft, as the formula's own room says of alloy from 250 C
    wide = 3.0 if celsius > 300.0 else 2.0
    for before, after in ((65.5, tool_steel), (63.5, alloy_case), (65.0, plain_case)):
        assert before - loss(celsius, 0.95) == pytest.approx(after, abs=wide)


@pytest.mark.parametrize(
    ("celsius", "middle_HRC", "least", "most"),
    # a maker's table of a tool steel with about 0.75 %C, nickel and chromium, second hand, seen: 63-65 as
    # quenched; two hours at least. DISAGREES from 205 C: the formula has no term for alloy, which holds
    # hardness
    [(150.0, 64.0, -1.5, 2.5), (205.0, 61.0, 1.0, 4.0), (260.0, 59.0, 3.0, 6.0), (315.0, 57.0, 4.0, 8.0)],
)
def test_a_tool_steel_with_alloy_comes_out_3_to_6_HRC_too_soft_from_205_C(
    celsius: float, middle_HRC: float, least: float, most: float
) -> None:
    assert least < middle_HRC - (64.0 - loss(celsius, 0.75, hours=2.0)) < most


@pytest.mark.parametrize(
    ("celsius", "hours", "hollomon_jaffe"),
    # P = T (20 + log10 t), Hollomon & Jaffe 1945, recomputed; ours has another constant and nothing else
    [
        (150.0, 1.0, 8463.0),
        (175.0, 1.0, 8963.0),
        (200.0, 1.0, 9463.0),
        (200.0, 2.0, 9605.0),
        (250.0, 1.0, 10463.0),
    ],
)
def test_the_usual_tempers_rank_as_hollomon_and_jaffe_have_them(
    celsius: float, hours: float, hollomon_jaffe: float
) -> None:
    kelvin = celsius_to_kelvin(celsius)
    assert kelvin * (20.0 + np.log10(hours)) == pytest.approx(hollomon_jaffe, abs=1.0)
    mine = temper_parameter(((kelvin, hours * HOUR_s),)) * 1e3
    assert mine - hollomon_jaffe == pytest.approx(-7.14 * kelvin, abs=1.0)


def test_a_small_shop_s_58_after_hours_at_150_C_is_softer_than_any_table() -> None:
    # one small-shop trial, 65 as quenched, 58 after a few hours at 150 C, steel and method unstated (common
    # practice, no source); published tables say 62 to 64. Compared, not passed: ours sides with the tables
    after = 65.0 - loss(150.0, 0.85, hours=3.0)
    assert 62.0 <= after <= 64.0
    assert after - 58.0 > 3.0


def test_a_temper_takes_from_a_mixture_what_its_martensite_loses() -> None:
    # pearlite and bainite formed above 300 C and cannot change below it (metallurgy textbooks, memory, H)
    parameter = temper_parameter(((celsius_to_kelvin(250.0), HOUR_s),))
    before = vickers_continued(np.array([60.0, 60.0, 60.0]))
    after = tempered_vickers(before, np.full(3, 0.7), np.array([0.0, 0.5, 1.0]), parameter)
    points = 60.0 - rockwell_c_continued(after)
    assert points[0] == pytest.approx(0.0, abs=0.05)
    assert points[1] == pytest.approx(0.5 * points[2], abs=0.05)
