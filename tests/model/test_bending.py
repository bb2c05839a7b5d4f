"""Bend, crack or snap, and the case at an edge: laws that hold for any section."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.bending import Bend, Bent, bend, deeper_case
from model.bending_constants import BendingConstants, bending_constants, middle_bending_constants
from model.edge_depth import edge_depth
from model.errors import NotPossible, OutOfRange
from model.process import Section, Shape
from model.section_moment import fibres_of, moment, strength_pavlina_van_tyne_2008
from tests.model.bent_cases import DEPTH, PLATE, ROD, cased

pytestmark = pytest.mark.property

LAW = settings(deadline=None, derandomize=True, max_examples=25)
DRAWN = bending_constants(200)
MIDDLE = middle_bending_constants()
HOW = Bend(0.1)
CASES_m = (0.1e-3, 0.2e-3, 0.3e-3, 0.45e-3, 0.6e-3, 0.8e-3, 1.0e-3, 1.2e-3)
"""Up to a fifth of 6 mm."""
RISES_TO = 5
"""Up to 0.45 mm the force must rise; beyond a tenth or so of the section it levels off, and on a hard core it
falls a little: nearly all of the load is the case's already, while less core is left to press the skin."""


def bent(
    hardness: np.ndarray, section: Section = PLATE, constants: BendingConstants = DRAWN, how: Bend = HOW
) -> Bent:
    return bend(section, DEPTH * (section.size_m / 6e-3), hardness, constants, how)


@pytest.mark.parametrize("section", [PLATE, ROD])
@pytest.mark.parametrize("core_HV", [160.0, 250.0, 350.0])
def test_a_deeper_case_takes_more_load_to_crack_and_snaps_more_surely(
    section: Section, core_HV: float
) -> None:
    states = [bent(cased(case_m, core_HV), section) for case_m in CASES_m]
    force = [np.median(state.first_crack_N) for state in states]
    holds = [state.holds.mean() for state in states]
    final = [state.final_deg.mean() for state in states]
    assert np.all(np.diff(force[:RISES_TO]) > 0.0)
    assert force[-1] > 0.95 * max(force)
    assert np.all(np.diff(holds) <= 0.0)
    assert holds[0] > 0.9 > 0.4 > holds[-1]
    assert np.all(np.diff(final) < 0.0)


def test_a_stronger_core_carries_on_and_a_hard_one_cracks_through() -> None:
    soft, strong, hard = (bent(cased(0.45e-3, core)) for core in (160.0, 300.0, 480.0))
    assert strong.holds.mean() > max(soft.holds.mean(), hard.holds.mean()) + 0.2
    assert soft.stopped.mean() > 0.95
    assert hard.stopped.mean() < 0.5


def test_odds_sum_to_one_and_sharpen_with_the_angle_asked() -> None:
    state = bent(cased(0.4e-3, 250.0))
    for asked in (2.0, 8.0, 30.0, 90.0, 180.0):
        assert sum(state.odds(asked).values()) == pytest.approx(1.0)
    assert state.odds(1.0)["bent"] == 1.0
    assert state.odds(180.0)["bent"] == 0.0
    assert state.odds(90.0)["snapped"] >= state.odds(30.0)["snapped"]


def test_soft_bar_bends_and_hard_bar_snaps() -> None:
    soft = bent(np.full((1, 121), 130.0))
    hard = bent(np.full((1, 121), 800.0))
    assert soft.odds(20.0)["bent"] > 0.95
    assert hard.odds(20.0)["snapped"] > 0.7


@pytest.mark.parametrize("section", [PLATE, ROD, Section(Shape.ROD, 40e-3), Section(Shape.TUBE, 12e-3, 8e-3)])
@pytest.mark.parametrize("hardness_HV", [110.0, 140.0, 180.0])
def test_a_bar_that_never_hardened_bends_and_does_not_snap(section: Section, hardness_HV: float) -> None:
    state = bent(np.full((1, 121), hardness_HV), section, how=Bend(10.0 * section.size_m))
    odds = state.odds(30.0)
    assert odds["bent"] > 0.95
    assert odds["snapped"] < 0.01
    assert not state.from_flaw.any()
    assert state.holds.all()


def test_odds_of_an_even_bar_worsen_with_its_hardness_without_a_cliff() -> None:
    hardness = np.linspace(120.0, 800.0, 69)
    snapped = [bent(np.full((1, 121), value)).odds(30.0)["snapped"] for value in hardness]
    assert np.all(np.diff(snapped) > -0.03)
    assert max(np.diff(snapped)) < 0.35
    first = [np.median(bent(np.full((1, 121), value)).first_crack_deg) for value in hardness]
    assert np.all(np.diff(first) <= 1e-9)


@LAW
@given(
    st.floats(0.05e-3, 1.4e-3),
    st.floats(120.0, 500.0),
    st.floats(550.0, 900.0),
    st.sampled_from([PLATE, ROD]),
)
def test_any_case_gives_finite_answers_in_their_bounds(
    case_m: float, core_HV: float, skin_HV: float, section: Section
) -> None:
    state = bent(cased(case_m, core_HV, skin_HV), section, bending_constants(20))
    assert all(np.isfinite(values).all() for values in vars(state).values())
    assert np.all(state.first_crack_deg > 0.0)
    assert np.all(state.final_deg >= state.first_crack_deg)
    assert np.all(state.final_deg <= 180.0)
    assert np.all((state.crack_m > 0.0) & (state.crack_m <= 3e-3))


def test_worse_flaws_and_less_pressing_crack_sooner() -> None:
    hardness = cased(0.4e-3, 300.0)
    before = bent(hardness, constants=MIDDLE).first_crack_deg[0]
    flawed = bent(hardness, constants=replace(MIDDLE, flaw_m=4.0 * MIDDLE.flaw_m))
    slack = bent(hardness, constants=replace(MIDDLE, compression_Pa=np.zeros(1)))
    assert flawed.from_flaw.all()
    assert flawed.first_crack_deg[0] < before
    assert slack.first_crack_deg[0] < before


def test_the_angle_goes_with_the_span_and_the_force_against_it() -> None:
    hardness = cased(0.4e-3, 300.0)
    short, long = (bent(hardness, how=Bend(span)) for span in (0.1, 0.2))
    held = bent(hardness, how=Bend(0.1, cantilever=True))
    # the wrap of what has yielded, in a few draws, goes with the thickness and not with the span
    assert np.median(long.first_crack_deg / short.first_crack_deg) == pytest.approx(2.0)
    assert np.all(long.first_crack_deg <= 2.0 * short.first_crack_deg + 1e-9)
    assert long.first_crack_N == pytest.approx(0.5 * short.first_crack_N)
    assert held.first_crack_N == pytest.approx(0.25 * short.first_crack_N)
    assert long.first_crack_radius_m == pytest.approx(short.first_crack_radius_m)


def test_a_bar_that_cracks_before_it_yields_has_the_elastic_angle() -> None:
    state = bent(np.full((1, 121), 800.0), constants=replace(MIDDLE, flaw_m=np.full(1, 2e-4)))
    curvature = 1.0 / (state.first_crack_radius_m + 3e-3)
    assert np.radians(state.first_crack_deg) == pytest.approx(curvature * 0.1 / 2.0, rel=1e-6)


def test_a_soft_skin_does_not_hide_a_brittle_layer_below() -> None:
    hardness = cased(0.6e-3, 300.0)
    skinned = np.where(DEPTH < 0.05e-3, 200.0, hardness)
    whole, soft = bent(hardness).first_crack_deg, bent(skinned).first_crack_deg
    assert np.median(soft) == pytest.approx(np.median(whole), rel=0.1)


def test_draws_of_hardness_and_of_constants_meet_either_way() -> None:
    one = bent(cased(0.4e-3, 300.0), constants=MIDDLE)
    by_hardness = bent(cased(0.4e-3, 300.0, draws=3), constants=MIDDLE)
    assert by_hardness.final_deg == pytest.approx(np.repeat(one.final_deg, 3))
    assert bent(cased(0.4e-3, 300.0), constants=bending_constants(5)).holds.shape == (5,)


def test_the_same_seed_draws_the_same_and_another_does_not() -> None:
    again, other = bending_constants(200), bending_constants(200, seed=1)
    assert np.array_equal(DRAWN.flaw_m, again.flaw_m)
    assert not np.array_equal(DRAWN.flaw_m, other.flaw_m)


def test_the_trend_says_why_the_first_crack_moves() -> None:
    hardness = cased(0.3e-3, 200.0)
    spread = deeper_case(PLATE, DEPTH, hardness, replace(MIDDLE, compression_Pa=np.zeros(1)), HOW)
    assert spread.reason == "bend_spreads_further"
    assert spread.first_crack_deg > 0.0
    assert spread.first_crack_force > 0.0
    pressed = replace(MIDDLE, compression_Pa=np.full(1, 700e6), flaw_m=np.full(1, 1e-4))
    less = deeper_case(PLATE, DEPTH, cased(1.2e-3, 480.0), pressed, HOW)
    assert less.reason == "less_compression"
    assert less.first_crack_deg < 0.0
    assert deeper_case(PLATE, DEPTH, np.full((1, 121), 700.0), MIDDLE, HOW).reason == "no_change"


def test_a_deeper_case_is_reported_to_snap_more_often() -> None:
    trend = deeper_case(PLATE, DEPTH, cased(0.45e-3, 250.0), DRAWN, HOW)
    assert trend.snaps_at_crack > 0.0
    assert trend.final_deg < 0.0


def test_a_span_shorter_than_the_bar_is_thick_is_refused() -> None:
    with pytest.raises(NotPossible, match="span"):
        bent(cased(0.4e-3, 300.0), how=Bend(5e-3))


@pytest.mark.parametrize("bore_packed", [False, True])
def test_a_tube_bends_like_its_wall(bore_packed: bool) -> None:
    tube = Section(Shape.TUBE, 12e-3, 6e-3, bore_packed)
    rising = DEPTH[::-1]
    fall = cased(0.3e-3, 250.0)
    hardness = np.maximum(fall, np.interp(rising, DEPTH, fall[0])) if bore_packed else fall
    state = bend(tube, DEPTH, hardness, DRAWN, HOW)
    assert np.isfinite(state.final_deg).all()
    assert np.all(state.crack_m <= 3e-3)


@LAW
@given(st.floats(90.0, 900.0), st.floats(1e-4, 0.4))
def test_strain_undoes_stress(hardness_HV: float, strain: float) -> None:
    strength = strength_pavlina_van_tyne_2008(np.array([[hardness_HV]]))
    back = strength.strain(strength.stress(np.array([[strain]])))
    assert back[0, 0] == pytest.approx(strain, rel=1e-9)


@pytest.mark.convergence
@pytest.mark.parametrize("section", [PLATE, ROD])
def test_finer_fibres_change_little(section: Section) -> None:
    def at(rings: int, angles: int) -> float:
        fibres = fibres_of(section, rings, angles)
        hardness = np.interp(fibres.depth_m, DEPTH, cased(0.3e-3, 250.0)[0])[None]
        return float(moment(fibres, strength_pavlina_van_tyne_2008(hardness), np.array([[3.0]]))[0, 0])

    fine = at(512, 96)
    coarse, used = abs(at(16, 12) / fine - 1.0), abs(at(32, 12) / fine - 1.0)
    assert used < 4e-3
    assert used < coarse


@LAW
@given(st.floats(0.05, 0.9), st.floats(16.0, 330.0), st.floats(1.0, 15.0))
def test_a_sharper_edge_is_never_shallower(share: float, angle_deg: float, more_deg: float) -> None:
    face, limit = np.array([0.5e-3]), np.array([share])
    sharp, blunt = (edge_depth(face, limit, angle) for angle in (angle_deg, angle_deg + more_deg))
    assert sharp.from_tip_m[0] >= blunt.from_tip_m[0] - 1e-9
    assert sharp.square_m[0] >= blunt.square_m[0] - 2e-7


def test_outside_corners_run_deeper_and_inside_corners_less_deep() -> None:
    face, limit = np.array([0.5e-3, 0.8e-3]), np.array([0.3, 0.3])
    square, flat, inside = (edge_depth(face, limit, angle) for angle in (90.0, 180.0, 270.0))
    assert flat.square_m == pytest.approx(face, rel=1e-3)
    assert np.all(square.square_m > 1.2 * face)
    assert np.all(inside.square_m < 0.8 * face)


def test_a_thin_edge_is_through_where_a_slab_of_that_thickness_is() -> None:
    blade = edge_depth(np.array([0.5e-3]), np.array([0.3]), 15.0)
    thickness = 2.0 * blade.from_tip_m * np.tan(np.radians(7.5))
    assert thickness == pytest.approx(blade.through_m, rel=0.02)  # a slim wedge is a slab almost everywhere
    assert blade.through_m[0] > 2.0 * 0.5e-3


def test_an_edge_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(OutOfRange):
        edge_depth(np.array([0.5e-3]), np.array([0.3]), 5.0)
    with pytest.raises(NotPossible):
        edge_depth(np.array([0.5e-3]), np.array([1.0]))


@pytest.mark.parametrize("shapes", [1, 230])
def test_draws_bend_alike_however_many_are_bent_at_once(shapes: int) -> None:
    hardness = np.repeat(cased(0.8e-3, 300.0), shapes, axis=0)
    drawn = bending_constants(230)
    places = [0, 99, 100, 229]
    some = BendingConstants(**{name: values[places] for name, values in vars(drawn).items()})
    together, alone = bent(hardness, ROD, drawn), bent(hardness[:4], ROD, some)
    for name, values in vars(together).items():
        assert values.shape == (230,)
        assert values[places] == pytest.approx(getattr(alone, name), rel=1e-12), name
