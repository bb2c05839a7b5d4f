"""Hardness, scales and what is read from a traverse: laws that hold for any input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.conversion import (
    rockwell_a_of_vickers,
    rockwell_c_continued,
    rockwell_c_of_vickers,
    vickers_continued,
    vickers_of_rockwell_c,
)
from model.hardness import martensite_vickers, temper_loss_rockwell, temper_parameter, tempered_vickers
from model.steels import Composition
from model.structure import hot_phases, retained_share
from model.traverse import (
    depth_of_fall,
    interpolate_evenly,
    interpolate_rows,
    rockwell_c_felt,
    rockwell_c_reading,
)

pytestmark = pytest.mark.property

LAW = settings(deadline=None, derandomize=True)
CARBON = st.floats(0.05, 1.6)
MILD = Composition(C=0.18, Mn=0.75)


def test_off_the_scale_is_not_a_number() -> None:
    assert np.isnan(rockwell_c_of_vickers(np.array([100.0, 237.9, 940.1, 2000.0]))).all()
    assert np.isnan(vickers_of_rockwell_c(np.array([19.9, 68.1]))).all()
    assert np.isnan(rockwell_a_of_vickers(150.0))


@LAW
@given(st.floats(20.0, 68.0))
def test_rockwell_to_vickers_and_back_is_the_same(hardness_HRC: float) -> None:
    back = float(rockwell_c_of_vickers(vickers_of_rockwell_c(hardness_HRC)))
    assert back == pytest.approx(hardness_HRC, abs=0.05)


@LAW
@given(st.floats(50.0, 1200.0), st.floats(1.0, 300.0))
def test_the_continued_scale_always_rises_and_undoes_itself(hardness_HV: float, more_HV: float) -> None:
    low, high = rockwell_c_continued(np.array([hardness_HV, hardness_HV + more_HV]))
    assert high > low
    assert float(vickers_continued(low)) == pytest.approx(hardness_HV, abs=0.5)


@LAW
@given(CARBON, st.floats(0.0, 0.5))
def test_martensite_never_softens_with_carbon(carbon_wt: float, more_wt: float) -> None:
    low, high = martensite_vickers(np.array([carbon_wt, carbon_wt + more_wt]))
    assert high >= low - 1e-9


def test_the_shift_of_martensite_acts_on_high_carbon_only() -> None:
    shifted = martensite_vickers(np.array([0.3, 0.5, 0.6, 1.0]), 30.0) - martensite_vickers(
        np.array([0.3, 0.5, 0.6, 1.0])
    )
    assert shifted == pytest.approx([0.0, 0.0, 30.0, 30.0])


@LAW
@given(CARBON, st.floats(300.0, 1400.0))
def test_hot_shares_sum_to_one_and_keep_the_carbon(carbon_wt: float, kelvin: float) -> None:
    factor = np.ones((1, 1))
    hot = hot_phases(np.array([[carbon_wt]]), np.array([[kelvin]]), MILD, factor)
    shares = hot.austenite + hot.ferrite + hot.carbide
    assert float(shares[0, 0]) == pytest.approx(1.0)
    assert min(float(part[0, 0]) for part in (hot.austenite, hot.ferrite, hot.carbide)) >= 0.0
    if hot.austenite[0, 0] > 0.0:
        held = hot.austenite * hot.austenite_carbon_wt + hot.ferrite * 0.02 + hot.carbide * 6.67
        assert float(held[0, 0]) == pytest.approx(carbon_wt, abs=2e-3)


def test_carbon_above_the_line_stays_as_carbide() -> None:
    hot = hot_phases(np.array([[1.3]]), np.array([[1073.15]]), MILD, np.ones((1, 1)))
    assert float(hot.austenite_carbon_wt[0, 0]) == pytest.approx(0.949, abs=0.02)  # physics notes 3c
    assert float(hot.carbide[0, 0]) == pytest.approx((1.3 - 0.949) / (6.67 - 0.949), abs=0.004)


@LAW
@given(CARBON, st.floats(77.0, 290.0))
def test_cold_never_leaves_more_austenite(carbon_wt: float, kelvin: float) -> None:
    carbon = np.array([carbon_wt])
    warm = retained_share(carbon, MILD, np.array([293.15]), 1.0)
    assert retained_share(carbon, MILD, np.array([kelvin]), 1.0) <= warm


@LAW
@given(
    st.floats(373.15, 593.15), st.floats(60.0, 36000.0), st.floats(0.0, 200.0), st.floats(1.0, 4.0), CARBON
)
def test_a_hotter_or_longer_temper_is_never_harder(
    kelvin: float, seconds: float, hotter_K: float, longer: float, carbon_wt: float
) -> None:
    first = temper_loss_rockwell(carbon_wt, temper_parameter(((kelvin, seconds),)))
    more = temper_loss_rockwell(
        carbon_wt, temper_parameter(((min(kelvin + hotter_K, 593.15), seconds * longer),))
    )
    assert float(more) >= float(first) >= 0.0


@LAW
@given(st.floats(373.15, 593.15), st.floats(60.0, 36000.0))
def test_two_tempers_alike_are_one_of_twice_the_time(kelvin: float, seconds: float) -> None:
    twice = temper_parameter(((kelvin, seconds), (kelvin, seconds)))
    assert twice == pytest.approx(temper_parameter(((kelvin, 2.0 * seconds),)), rel=1e-9)


def test_a_cool_second_temper_adds_next_to_nothing() -> None:
    hot = temper_parameter(((533.15, 3600.0),))
    assert temper_parameter(((533.15, 3600.0), (393.15, 3600.0))) == pytest.approx(hot, rel=1e-3)


def test_a_temper_softens_martensite_and_leaves_ferrite() -> None:
    hardness, carbon = np.array([[850.0, 120.0]]), np.array([[0.8, 0.0]])
    after = tempered_vickers(hardness, carbon, np.array([[1.0, 0.0]]), temper_parameter(((453.15, 7200.0),)))
    assert 690.0 < after[0, 0] < 850.0
    assert after[0, 1] == pytest.approx(120.0, abs=0.5)


DEPTH = np.linspace(0.0, 3e-3, 61)


def test_the_depth_of_a_straight_fall_is_where_it_crosses() -> None:
    found = depth_of_fall(DEPTH, np.array([800.0 - 200e3 * DEPTH]), 550.0)
    assert found.depth_m[0] == pytest.approx(1.25e-3)
    assert found.status == "found"


def test_a_soft_skin_does_not_hide_the_case() -> None:
    hardness = np.where(DEPTH < 0.1e-3, 500.0, 800.0 - 200e3 * DEPTH)
    assert depth_of_fall(DEPTH, hardness[None, :], 550.0).depth_m[0] == pytest.approx(1.25e-3)


def test_no_case_and_nothing_but_case_are_told_apart() -> None:
    both = depth_of_fall(DEPTH, np.array([np.full(61, 300.0), np.full(61, 700.0)]), 550.0)
    assert both.depth_m == pytest.approx([0.0, 3e-3])
    assert both.found.tolist() == [False, False]
    assert both.whole_section.tolist() == [False, True]


def test_rows_are_read_between_their_own_points() -> None:
    values = np.array([DEPTH * 1e3, DEPTH * 2e3])
    at = np.array([[0.5e-3, 1.23e-3], [0.0, 9.0]])
    expected = np.array([[0.5, 1.23], [0.0, 6.0]])
    assert interpolate_rows(at, DEPTH, values) == pytest.approx(expected)
    assert interpolate_rows(at, np.array([DEPTH, DEPTH]), values) == pytest.approx(expected)
    assert interpolate_rows(at, np.array([DEPTH, 2.0 * DEPTH]), values)[:1] == pytest.approx(expected[:1])
    assert interpolate_rows(at[0], DEPTH, values) == pytest.approx(
        interpolate_rows(at[[0, 0]], DEPTH, values)
    )
    assert interpolate_evenly(at, float(DEPTH[1]), values) == pytest.approx(expected)


def test_a_deep_even_case_reads_what_it_is() -> None:
    reading, doubt = rockwell_c_reading(DEPTH, np.full((1, 61), 697.0))
    assert reading[0] == pytest.approx(60.0, abs=1e-6)  # 697 HV is 60 HRC, ASTM E140
    assert doubt[0] == pytest.approx(1.0)


@LAW
@given(st.floats(0.1e-3, 1.5e-3), st.floats(0.05e-3, 1.0e-3))
def test_a_thinner_case_reads_softer_and_less_surely(case_m: float, more_m: float) -> None:
    depths = np.array([case_m, case_m + more_m])[:, None]
    hardness = 250.0 + 500.0 / (1.0 + np.exp((DEPTH - depths) / 0.1e-3))
    (thin, thick), (thin_sd, thick_sd) = rockwell_c_reading(DEPTH, hardness)
    skin = rockwell_c_continued(hardness[:, 0])
    assert thin <= thick + 1e-9
    assert np.all(np.array([thin, thick]) <= skin + 1e-9)
    assert thin_sd >= 1.0
    assert thick_sd >= 1.0
    assert (skin[0] - thin) * (thin_sd - 1.0) >= 0.0


def test_a_reading_is_the_same_on_even_steps_and_whatever_is_read_beside_it() -> None:
    surface_HV = np.linspace(300.0, 850.0, 40)[:, None]
    hardness_HV = 180.0 + (surface_HV - 180.0) / (1.0 + (DEPTH / 0.25e-3) ** 6)
    together, _ = rockwell_c_reading(DEPTH, hardness_HV)
    evenly = rockwell_c_felt(float(DEPTH[1]), hardness_HV)
    assert evenly == pytest.approx(together, abs=1e-9)
    alone = np.array([rockwell_c_reading(DEPTH, one[None])[0][0] for one in hardness_HV])
    assert together == pytest.approx(alone, abs=1e-9)
