"""Bending, cracks and edges against closed forms and published values; each source beside its check."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import erf, erfc

from model.bending import Bend, bend, outer_strain
from model.bending_constants import bending_constants, bending_prior_table
from model.breaking import flaw_stress
from model.edge_depth import edge_depth, unfilled_corner, unfilled_slab, unfilled_wedge
from model.process import Section, Shape
from model.section_moment import (
    TENTH,
    YOUNG_MODULUS_PA,
    fibres_of,
    moment,
    remainder,
    strength_pavlina_van_tyne_2008,
)
from tests.model.bent_cases import DEPTH, PLATE, ROD, cased

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("thickness_mm", "radius_mm", "strain"), [(6.0, 297.0, 0.01), (6.0, 12.0, 0.2), (3.0, 0.0, 1.0)]
)
def test_the_outer_face_stretches_by_t_over_twice_the_radius_and_t(
    thickness_mm: float, radius_mm: float, strain: float
) -> None:
    # geometry, exact
    assert float(outer_strain(thickness_mm, radius_mm)) == pytest.approx(strain)


@pytest.mark.parametrize(("share", "carried"), [(0.05, 0.271), (0.10, 0.488), (0.20, 0.784)])
def test_a_case_of_a_slab_carries_its_closed_form_share(share: float, carried: float) -> None:
    # 1 - (1 - 2c/t)^3, exact for one modulus; figures recomputed. A core of no strength shows the case alone
    fibres = fibres_of(PLATE, rings=1200)
    strain = fibres.height_m / fibres.half_height_m
    turning = fibres.height_m * fibres.area_m2 * strain
    inside = fibres.depth_m[fibres.ring] < share * PLATE.size_m
    assert turning[inside].sum() / turning.sum() == pytest.approx(carried, abs=1.5e-3)


@pytest.mark.parametrize(
    ("section", "second_moment"),
    [
        (PLATE, 6e-3**3 / 12.0),
        (ROD, np.pi * 6e-3**4 / 64.0),
        (Section(Shape.TUBE, 12e-3, 8e-3), np.pi * (12e-3**4 - 8e-3**4) / 64.0),
    ],
)
def test_a_gentle_bend_is_the_modulus_times_the_second_moment(section: Section, second_moment: float) -> None:
    # Euler and Bernoulli, exact
    strength = strength_pavlina_van_tyne_2008(np.full((1, 32), 300.0))
    bent = moment(fibres_of(section), strength, np.array([[0.1]]))
    assert bent[0, 0] == pytest.approx(YOUNG_MODULUS_PA * second_moment * 0.1, rel=1e-9)


@pytest.mark.parametrize(
    ("section", "shape_factor"),
    [
        (PLATE, 1.5),
        (ROD, 16.0 / (3.0 * np.pi)),
        # a ring: (16 / 3 pi) (1 - k^3) / (1 - k^4), k = bore over outside
        (Section(Shape.TUBE, 12e-3, 8e-3), 16.0 / (3.0 * np.pi) * (1 - (2 / 3) ** 3) / (1 - (2 / 3) ** 4)),
    ],
)
def test_a_section_that_flows_right_through_carries_its_shape_factor(
    section: Section, shape_factor: float
) -> None:
    # plastic over elastic moment, closed form; 0.5 % for the cut into fibres
    fibres = fibres_of(section)
    elastic = (fibres.height_m**2 * fibres.area_m2).sum() / fibres.half_height_m
    plastic = remainder(fibres, np.ones((1, 32)), np.zeros(1)).moment[0]
    assert plastic / elastic == pytest.approx(shape_factor, rel=5e-3)


def test_what_a_crack_leaves_of_an_even_plate_is_closed() -> None:
    # by hand for a crack of t/10: 0.9 t takes part, half pulls and half pushes, so that the still line lies
    # at -0.05 t and the moment is 0.45 t times 0.45 t
    fibres = fibres_of(PLATE, rings=400)
    left = remainder(fibres, np.ones((1, 400)), np.array([0.6e-3]))
    assert left.moment[0] == pytest.approx(0.2025 * 6e-3**2, rel=5e-3)
    assert left.lever_m[0] == pytest.approx(0.45 * 6e-3, rel=1e-2)
    assert left.height_m[0] == pytest.approx(5.4e-3)


def test_a_flaw_of_0_057_mm_runs_at_1000_MPa_in_steel_of_15() -> None:
    # K = 1.12 s sqrt(pi a), recomputed
    assert float(flaw_stress(15e6, 0.0571e-3)) == pytest.approx(1000e6, rel=2e-3)


@pytest.mark.parametrize(
    ("hardness_HV", "yield_MPa", "tensile_MPa"), [(200.0, 484.5, 647.0), (500.0, 1347.3, 1767.2)]
)
def test_strength_follows_pavlina_and_van_tyne(
    hardness_HV: float, yield_MPa: float, tensile_MPa: float
) -> None:
    # J. Mater. Eng. Perform. 17 (2008) 888, coefficients from memory: tests the code
    strength = strength_pavlina_van_tyne_2008(np.array([[hardness_HV]]))
    assert strength.yield_Pa[0, 0] == pytest.approx(yield_MPa * 1e6, rel=1e-6)
    assert strength.stress(np.array([[TENTH]]))[0, 0] == pytest.approx(1.1 * tensile_MPa * 1e6, rel=1e-6)


def test_the_toughness_of_the_case_is_the_published_band() -> None:
    # Mater. Sci. Forum 426-432 (2003) 835, abstract seen: 11 to 22 MPa m^0.5, taken as nine in ten
    low, high = np.quantile(bending_constants(2000).case_toughness / 1e6, [0.05, 0.95])
    assert (low, high) == (pytest.approx(11.0, abs=0.4), pytest.approx(22.0, abs=0.8))


def test_the_breaking_strain_of_the_case_is_the_remembered_band() -> None:
    # total strain 0.7 to 1.2 %, value from memory
    low, high = np.quantile(bending_constants(2000).case_strain, [0.05, 0.95])
    assert (low, high) == (pytest.approx(0.007, abs=2e-4), pytest.approx(0.012, abs=3e-4))


def test_a_hard_case_breaks_at_the_remembered_stress() -> None:
    # fracture stress of carburized cases 1500 to 2000 MPa, value from memory, and no constant was set on it:
    # the middle of the force on a rod hard right through, as M / W, without the pressing of a case
    bent = bend(ROD, DEPTH, np.full((1, len(DEPTH)), 750.0), bending_constants(200), Bend(0.1))
    stress = np.median(bent.first_crack_Nm) / (np.pi * 6e-3**3 / 32.0)
    assert 1500e6 <= stress <= 2000e6


def test_a_case_of_a_sixth_of_the_thickness_seldom_leaves_a_core_that_carries_on() -> None:
    # rule from memory, on which nothing was set: at most a sixth of the thickness a side, 10 to 15 % where it
    # must be tough. With a core of 250 HV even odds lie near 12 % a side: the order agrees
    bent = bend(PLATE, DEPTH, cased(1.0e-3, 250.0), bending_constants(200), Bend(0.1))
    assert bent.holds.mean() < 0.5
    thin = bend(PLATE, DEPTH, cased(0.3e-3, 250.0), bending_constants(200), Bend(0.1))
    assert thin.holds.mean() > 0.75


@pytest.mark.parametrize(
    ("hardness_HV", "inside_radius"),
    # inside radius over thickness that a bar must take without a crack, values from memory (M-L): EN 10025-2
    # S355 about 1.25 at some 165 HV, rebar of grade 60 1.75 at 210 HV, S690 plate 2 at 260 HV. A quarter for
    # A36 was fitted and is no check.
    [(165.0, 1.25), (210.0, 1.75), (260.0, 2.0)],
)
def test_the_bends_that_standards_ask_of_soft_steel_are_taken(
    hardness_HV: float, inside_radius: float
) -> None:
    # nearly every bar of commerce passes; of ours six in ten at least, since the constants stand at the
    # standards' floor and not at the middle of real bars: pessimistic, to the safe side
    even = np.full((1, len(DEPTH)), hardness_HV)
    bent = bend(PLATE, DEPTH, even, bending_constants(400), Bend(0.1))
    assert (bent.first_crack_radius_m < inside_radius * PLATE.size_m).mean() > 0.6


U = np.array([0.02, 0.1, 0.5, 1.0, 2.0, 3.0])


def test_a_square_corner_is_the_product_solution() -> None:
    # Carslaw & Jaeger: what a corner lacks is erf times erf; the wedge's series must be it at 90 degrees
    across = U / np.sqrt(2.0)
    assert unfilled_wedge(U, 90.0) == pytest.approx(erf(across) ** 2, abs=1e-9)
    assert unfilled_corner(across, across) == pytest.approx(erf(across) ** 2)


def test_a_flat_face_is_the_error_function() -> None:
    assert unfilled_wedge(U, 180.0) == pytest.approx(erf(U), abs=1e-9)  # Carslaw & Jaeger


def test_the_middle_of_a_slab_is_its_sum_of_images() -> None:
    # Carslaw & Jaeger, the same solution for short times: erfc images from both faces
    images = sum((-1.0) ** n * 2.0 * erfc((2 * n + 1) * U[1:]) for n in range(60))
    assert unfilled_slab(U[1:]) == pytest.approx(1.0 - images, abs=1e-6)


def test_the_depth_at_a_square_corner_is_where_the_product_says() -> None:
    # the product at equal distances from both faces: erf(u)^2 = 0.7, against erf(u) = 0.7 on the face
    deep = edge_depth(np.array([0.5e-3]), np.array([0.3]), 90.0)
    spread = 0.5e-3 / 0.732869  # erfinv(0.7), from tables
    assert erf(deep.square_m[0] / spread) ** 2 == pytest.approx(0.7, abs=1e-4)
    assert deep.from_tip_m[0] == pytest.approx(np.sqrt(2.0) * deep.square_m[0])


def test_every_row_of_the_table_says_where_it_is_from() -> None:
    for name, row in bending_prior_table().items():
        assert row.prior.source, name
        assert row.prior.reason, name
        assert row.low <= float(row.prior.value(0.0)) <= row.high
