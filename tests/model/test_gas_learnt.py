"""Gas at each setting of a burner: the jet alone, one setting teaching another, two settings in one fire."""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
import pytest

from model.errors import OutOfRange
from model.gas_jet import jet_flow
from model.gas_learnt import FIRE_SD, NINETY, GasRate, Setting, Weighed, learn_gas
from model.units import HOUR_s

JET_M = 1.0e-3
LOW, HIGH = Setting(0.4e5), Setting(1.0e5)


def fire(kg: float, *burnt: tuple[Setting, float]) -> Weighed:
    return Weighed(20.0, 20.0 - kg, tuple((setting, hours * HOUR_s) for setting, hours in burnt))


def hourly(rate: GasRate) -> float:
    return rate.kg_per_s * HOUR_s


def width(rate: GasRate) -> float:
    return log(rate.high_kg_per_s / rate.low_kg_per_s)


def test_without_a_weighing_the_jet_is_all_there_is() -> None:
    rate = learn_gas([], JET_M).rate(HIGH)
    assert rate.kg_per_s == pytest.approx(jet_flow(JET_M, 1.0e5).kg_per_s)
    assert rate.fires == 0
    assert width(learn_gas([]).rate(HIGH)) > 2.0 * width(rate)  # nobody told the jet


def test_weights_win_over_the_jet_and_more_of_them_narrow_the_band() -> None:
    # the jet says 1.32 kg an hour at 1 bar; the bottle says 0.80, again and again
    bands = []
    for fires in (1, 3, 9):
        rate = learn_gas([fire(3.2, (HIGH, 4.0))] * fires, JET_M).rate(HIGH)
        bands.append(width(rate))
        assert rate.fires == fires
    assert hourly(rate) == pytest.approx(0.80, rel=0.05)
    assert bands[0] > bands[1] > bands[2] > 2.0 * NINETY * FIRE_SD  # never narrower than fire to fire


def test_one_setting_teaches_the_others_of_its_jet() -> None:
    prior, learnt = learn_gas([], JET_M), learn_gas([fire(4.0, (HIGH, 4.0))] * 6, JET_M)
    before, after = prior.rate(LOW), learnt.rate(LOW)
    assert after.fires == 0
    assert width(after) < width(before)
    # six fires at 1.0 kg an hour where the jet says 1.32: most of that ratio goes over to the other setting
    seen = learnt.rate(HIGH).kg_per_s / prior.rate(HIGH).kg_per_s
    assert seen < after.kg_per_s / before.kg_per_s < 1.0
    assert log(after.kg_per_s / before.kg_per_s) == pytest.approx(log(seen), rel=0.35)


def test_a_valve_mark_alone_learns_its_own_rate_and_teaches_others_little() -> None:
    mark = Setting(None, "half open")
    learnt = learn_gas([fire(2.8, (mark, 4.0))] * 5, JET_M)
    assert hourly(learnt.rate(mark)) == pytest.approx(0.70, rel=0.05)
    assert hourly(learnt.rate(Setting(None, "Half open"))) == hourly(learnt.rate(mark))
    assert learnt.rate(HIGH).kg_per_s == pytest.approx(jet_flow(JET_M, 1.0e5).kg_per_s, rel=0.1)


def test_two_settings_in_one_fire_are_told_apart_by_fires_that_held_them_differently_long() -> None:
    # a planted forge: 1.10 and 0.65 kg an hour, against 1.32 and 0.88 by the jet
    fires = [
        fire(1.10 * up + 0.65 * down, (HIGH, up), (LOW, down))
        for up, down in ((1.0, 4.0), (1.0, 6.0), (3.0, 1.0), (2.0, 5.0), (4.0, 1.0), (0.5, 8.0))
    ]
    learnt = learn_gas(fires, JET_M)
    assert hourly(learnt.rate(HIGH)) == pytest.approx(1.10, rel=0.07)
    assert hourly(learnt.rate(LOW)) == pytest.approx(0.65, rel=0.07)


@pytest.mark.property
def test_bands_hold_what_they_claim_for_burners_drawn_as_the_prior_says() -> None:
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(200):
        shift = 0.2 * rng.normal()
        true = {one: jet_flow(JET_M, one.gauge_Pa or 0.0).kg_per_s * np.exp(shift + 0.1 * rng.normal())
                for one in (LOW, HIGH)}  # fmt: skip
        fires = []
        for up, down in ((1.0, 4.0), (2.0, 3.0)):
            kg = HOUR_s * (up * true[HIGH] + down * true[LOW]) * np.exp(FIRE_SD * rng.normal())
            fires.append(fire(float(kg), (HIGH, up), (LOW, down)))
        rate = learn_gas(fires, JET_M).rate(LOW)
        inside += rate.low_kg_per_s <= true[LOW] * np.exp(FIRE_SD * rng.normal()) <= rate.high_kg_per_s
    assert 168 <= inside <= 194  # 90 % of 200, three sd either way


def test_pressures_a_gauge_cannot_tell_apart_are_one_setting() -> None:
    assert Setting(0.50e5).is_like(Setting(0.51e5))
    assert not Setting(0.50e5).is_like(Setting(0.55e5))
    assert not Setting(0.50e5).is_like(Setting(None))
    assert not Setting(0.50e5, "2").is_like(Setting(0.50e5, "3"))


@pytest.mark.parametrize(
    "weighed",
    [
        fire(-1.0, (HIGH, 4.0)),
        fire(19.0, (HIGH, 0.2)),
        fire(1.0, (Setting(300e5), 4.0)),
        replace(fire(1.0, (HIGH, 4.0)), burnt=()),
    ],
)
def test_weights_and_settings_that_cannot_be_are_refused(weighed: Weighed) -> None:
    with pytest.raises(OutOfRange):
        learn_gas([weighed], JET_M)
