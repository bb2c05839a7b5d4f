"""What a run takes: gas, pack and money, and what cannot be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.batch_cost import Prices, Used, batch_cost, compare_with_hardenable
from model.errors import NotPossible, OutOfRange
from model.gas_bottle import boil_off_limit, bottle_left, rate_from_weights
from model.gas_jet import jet_flow
from model.pack_weights import PackWeights, carbon_balance, charcoal_bulk_density, pack_weights, top_up
from model.units import HOUR_s

WHOLE = PackWeights(1.0, 0.85, 0.15, 0.2, 100.0, 50.0)


@pytest.mark.parametrize(
    ("jet_m", "gauge_Pa"), [(10e-3, 1e5), (1e-3, 300e5), (1e-3, 0.0), (float("nan"), 1e5)]
)
def test_a_jet_or_a_pressure_that_no_forge_has_is_refused(jet_m: float, gauge_Pa: float) -> None:
    with pytest.raises(OutOfRange):
        jet_flow(jet_m, gauge_Pa)


@pytest.mark.property
@given(st.floats(0.2, 3.0), st.floats(0.02, 3.9), st.floats(0.01, 0.1))
def test_more_pressure_never_gives_less_gas(jet_mm: float, bar: float, more_bar: float) -> None:
    lower, higher = (jet_flow(jet_mm * 1e-3, at * 1e5).kg_per_s for at in (bar, bar + more_bar))
    assert 0.0 < lower < higher


@pytest.mark.property
@given(st.floats(0.0, 1.0), st.floats(0.5, 50.0), st.floats(255.5, 317.0))
def test_a_bottle_gives_more_when_it_is_fuller_and_warmer(share: float, size_kg: float, day_K: float) -> None:
    limit = boil_off_limit(share * size_kg, size_kg, day_K)
    assert 0.0 <= limit <= boil_off_limit(size_kg, size_kg, day_K)
    assert limit <= boil_off_limit(share * size_kg, size_kg, day_K + 1.0)


def test_a_bottle_is_counted_by_weight() -> None:
    rate = rate_from_weights(21.4, 20.4, 2 * HOUR_s)
    assert rate * HOUR_s == pytest.approx(0.5)
    left = bottle_left(5.0, 11.0, rate, 293.15, needed_s=3 * HOUR_s)
    assert left.seconds == pytest.approx(10 * HOUR_s)
    assert not left.freezes
    assert not left.need_second
    assert bottle_left(5.0, 11.0, rate, 293.15, needed_s=9.5 * HOUR_s).need_second


@pytest.mark.parametrize(("before", "after", "seconds"), [(10.0, 11.0, 3600.0), (10.0, 9.0, 0.0)])
def test_a_bottle_that_grew_heavier_or_burnt_no_time_is_refused(
    before: float, after: float, seconds: float
) -> None:
    with pytest.raises(OutOfRange):
        rate_from_weights(before, after, seconds)


def test_a_measured_tin_leaves_no_doubt_of_the_weight() -> None:
    by_tin = pack_weights(2e-3, 15.0, "Na2CO3", 4e-3, measured_kg_per_m3=420.0)
    assert (by_tin.mix_kg, by_tin.doubt) == (pytest.approx(0.84), 0.0)
    assert by_tin.carbonate_kg == pytest.approx(0.15 * by_tin.mix_kg)
    assert charcoal_bulk_density(0.5e-3) > charcoal_bulk_density(5e-3) > charcoal_bulk_density(30e-3)


def test_a_box_smaller_than_its_work_is_refused() -> None:
    with pytest.raises(OutOfRange, match="larger than its work"):
        pack_weights(-1e-3, 10.0, "CaCO3", 4e-3)


def test_an_old_pack_is_brought_up_to_what_the_box_wants() -> None:
    added = top_up(WHOLE, 0.7, 5.0)
    assert added.carbonate_kg == pytest.approx(0.115)
    assert added.charcoal_kg + added.carbonate_kg == pytest.approx(0.3)
    assert added.fresh_share == pytest.approx(0.3)
    assert top_up(WHOLE, 0.95, 0.0).carbonate_kg == pytest.approx(0.05)  # no more fits in
    assert top_up(WHOLE, 0.7, 40.0).carbonate_kg == 0.0
    with pytest.raises(NotPossible):
        top_up(WHOLE, 1.5, 0.0)


def test_a_thin_pack_around_much_steel_runs_out_of_carbon() -> None:
    assert carbon_balance(0.02, 0.04, 0.5).enough
    assert not carbon_balance(2.0, 0.04, 0.5).enough


def test_a_fuller_box_makes_each_part_cheaper() -> None:
    cost = batch_cost(Used(3.0, 0.5, 0.1, 2.0), Prices(4.0, 2.0, 5.0, 1.5, 20.0))
    assert cost.whole == pytest.approx(12.0 + 1.5 + 1.5 + 40.0)
    few, many = (compare_with_hardenable(cost.whole, count, 0.5, 4.0, 1.5) for count in (2, 20))
    assert few.case_hardened > few.hardenable == 5.5
    assert many.case_hardened < many.hardenable
    assert few.even_at == 11  # 55 a batch against 5 saved a part


def test_where_the_hardenable_bar_is_the_cheaper_no_count_pays() -> None:
    assert compare_with_hardenable(50.0, 10, 4.0, 3.0).even_at is None
    assert compare_with_hardenable(1.4e7, 10, 4.0, 3.0).case_hardened == pytest.approx(1.4e6 + 4.0)
    with pytest.raises(OutOfRange):
        compare_with_hardenable(50.0, 0, 4.0, 3.0)
    with pytest.raises(OutOfRange):
        batch_cost(Used(1, 1, 1, 1), Prices(gas_per_kg=float("nan")))
