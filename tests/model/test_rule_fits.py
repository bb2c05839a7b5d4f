"""Rules of thumb on a shop's own coupons: what they foretell, and that a coupon never foretells its fire."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.process import Carburize, History
from model.rule_fits import RULES, ToldSoak, foretold_by, left_out_foretold, told_soak, width_of
from model.rules import harris_total_depth_1943
from tests.model.logbooks import HOUR_S, job

BY_NAME = {rule.name: rule for rule in RULES}
SOAKS = [ToldSoak(1198.15, hours * HOUR_S, (hours - 0.5) * HOUR_S) for hours in (1.5, 2.5, 4.5, 8.5)]


@pytest.mark.property
def test_a_soak_is_told_as_it_was_noted_less_the_warm_up_its_clock_holds() -> None:
    whole, none = (told_soak(job(lag_share=share)) for share in (1.0, 0.0))
    assert whole is not None
    assert none is not None
    assert whole.seconds == none.seconds == none.at_heat_s == 4 * HOUR_S
    assert 2.5 * HOUR_S < whole.at_heat_s < 3.5 * HOUR_S  # a 100 mm box: 0.9 h by the books
    assert told_soak(replace(job(), steps=job().steps[1:])) is None
    short = told_soak(job(hours=0.5))
    assert short is not None
    assert short.at_heat_s == pytest.approx(0.05 * HOUR_S)


@pytest.mark.property
def test_the_heat_of_a_soak_is_the_mean_of_what_was_noted() -> None:
    process = job()
    soak = process.steps[0]
    assert isinstance(soak, Carburize)
    noted = replace(soak, history=History((0.0, HOUR_S, 4 * HOUR_S), (1100.0, 1200.0, 1200.0)))
    told = told_soak(replace(process, steps=(noted, *process.steps[1:])))
    assert told is not None
    assert told.temperature_K == pytest.approx((1150.0 + 3 * 1200.0) / 4)


@pytest.mark.property
@pytest.mark.parametrize("name", ["root", "scaled_harris"])
def test_a_fitted_rule_foretells_a_shop_that_keeps_it(name: str) -> None:
    rule = BY_NAME[name]
    read_m = np.array([1.3 * rule.depth_m(soak) for soak in SOAKS])
    assert foretold_by(rule, SOAKS[:3], read_m[:3], SOAKS[3]) == pytest.approx(read_m[3])
    assert width_of(rule, SOAKS, read_m) == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(foretold_by(rule, [], np.zeros(0), SOAKS[3]))


@pytest.mark.property
def test_rules_without_a_factor_need_no_coupon() -> None:
    assert foretold_by(BY_NAME["tenth"], [], np.zeros(0), SOAKS[2]) == pytest.approx(0.45e-3)
    harris = 0.75 * float(harris_total_depth_1943(1198.15, 4.5 * HOUR_S))
    assert foretold_by(BY_NAME["harris"], [], np.zeros(0), SOAKS[2]) == pytest.approx(harris)


@pytest.mark.property
def test_a_coupon_is_foretold_without_any_coupon_of_its_own_fire() -> None:
    rule = BY_NAME["root"]
    read_m = np.array([rule.depth_m(soak) for soak in SOAKS])
    odd = read_m * np.array([1.0, 1.0, 3.0, 3.0])
    found = left_out_foretold(rule, SOAKS, odd, ["a", "a", "b", "b"])
    assert found[:2] == pytest.approx(3.0 * read_m[:2])
    assert found[2:] == pytest.approx(read_m[2:])
    assert np.isnan(left_out_foretold(rule, SOAKS, odd, ["a"] * 4)).all()


@pytest.mark.property
def test_coupons_that_scatter_more_make_a_rule_wider_and_two_say_nothing() -> None:
    rule = BY_NAME["scaled_harris"]
    read_m = np.array([rule.depth_m(soak) for soak in SOAKS])
    little, much = (width_of(rule, SOAKS, read_m * (1 + by * np.array([1, -1, 1, -1]))) for by in (0.05, 0.2))
    assert 0.0 < little < much
    assert np.isnan(width_of(rule, SOAKS[:2], read_m[:2]))
    assert np.isfinite(width_of(rule, SOAKS, np.array([0.0, *read_m[1:]])))
