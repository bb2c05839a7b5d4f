"""The carbon solver against exact series, and how fast its error falls."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros, y0

from model.carbon import (
    DEFAULT_TOLERANCE,
    CarbonProfile,
    Segment,
    depth_at_carbon,
    held,
    solve_carbon,
    steady,
)
from model.diffusivity import constant_diffusivity
from model.grid import Grid
from model.implicit import rosenbrock_step
from model.process import Section, Shape
from model.reached import Reached
from model.stretch import Stretch
from model.transport import Transport
from tests.model.carbon_cases import (
    PACKED_TUBE,
    PLATE,
    ROD,
    SECTIONS,
    TUBE,
    HOUR_s,
    cementite_line,
    full_history,
    hold,
    one,
)

# --- exact solutions in which both sides meet ----------------------------------------------------


def plate_series(depth, half, dt):
    """Share of the change still to come, plate held on both faces.

    Crank, The Mathematics of Diffusion, chapter 4 (series from memory; it must tend to 1 as dt to 0).
    """
    k = np.arange(60)[:, None]
    wave = (2 * k + 1) * np.pi / 2
    return np.sum(
        (-1.0) ** k * 2 / wave * np.exp(-(wave**2) * dt / half**2) * np.cos(wave * (half - depth) / half), 0
    )


def rod_series(depth, radius, dt):
    """The same of a rod: Crank, chapter 5; Carslaw and Jaeger, chapter 7 (from memory)."""
    root = jn_zeros(0, 60)[:, None]
    r = (radius - depth) / radius
    return np.sum(2 * j0(root * r) / (root * j1(root)) * np.exp(-(root**2) * dt / radius**2), axis=0)


def tube_series(depth, outer, bore, dt):
    """The same of a tube wall held on both faces: Crank, chapter 5, hollow cylinder (from memory)."""

    def condition(a):
        return j0(a * bore) * y0(a * outer) - j0(a * outer) * y0(a * bore)

    guesses = np.pi * np.arange(1, 41) / (outer - bore)
    width = 0.3 * np.pi / (outer - bore)
    a = np.array([brentq(condition, g - width, g + width, xtol=1e-10) for g in guesses])[:, None]
    r = outer - depth
    shape = j0(a * r) * y0(a * outer) - j0(a * outer) * y0(a * r)
    weight = np.pi * j0(a * bore) / (j0(a * bore) + j0(a * outer))
    return np.sum(weight * shape * np.exp(-(a**2) * dt), axis=0)


@pytest.mark.published
@pytest.mark.parametrize("hours", [0.5, 2.0, 6.0])
@pytest.mark.parametrize(
    ("section", "series"),
    [
        (Section(Shape.PLATE, 2e-3), lambda x, dt: plate_series(x, 1e-3, dt)),
        (Section(Shape.ROD, 2.4e-3), lambda x, dt: rod_series(x, 1.2e-3, dt)),
        (Section(Shape.TUBE, 6e-3, 3e-3, bore_packed=True), lambda x, dt: tube_series(x, 3e-3, 1.5e-3, dt)),
    ],
    ids=["plate", "rod", "tube"],
)
def test_sections_fed_from_both_sides_follow_the_exact_series(section, series, hours) -> None:
    d, seconds = 2e-11, hours * HOUR_s
    segment = hold(1200.0, seconds, held(1.0), held(1.0))
    profile = solve_carbon(
        Grid.of_sections([section]), one(0.2), [segment], diffusivity=constant_diffusivity(d), tolerance=5e-4
    )
    exact = 1.0 - 0.8 * series(profile.depth_m[0], d * seconds)
    np.testing.assert_allclose(profile.carbon_wt[0], exact, atol=1.5e-3)


@pytest.mark.property
def test_tube_with_a_sealed_bore_gains_nothing_there_and_less_in_all() -> None:
    grid = Grid.of_sections([TUBE, PACKED_TUBE, PLATE])
    profile = solve_carbon(grid, one(0.2), [hold(1198.0, 4 * HOUR_s, held(1.2), held(1.2))])
    assert profile.gained_inner_kg_per_m2[0] == 0.0 == profile.gained_inner_kg_per_m2[2]
    assert profile.gained_inner_kg_per_m2[1] > 0.0
    assert profile.carbon_wt[1, -1] > 1.0 > profile.carbon_wt[0, -1]


# --- observed orders, and what the defaults give --------------------------------------------------


def march(section: Section, cells: int, steps: int) -> CarbonProfile:
    """Four hours of feeding on a ramp in equal steps, from what two hours of feeding leave."""
    grid = Grid.of_sections([section], cells)
    supply = steady(1e-7, 1.0)
    before = hold(1150.0, 2 * HOUR_s, supply)
    start = solve_carbon(grid, one(0.2), [before], diffusivity=constant_and_rising, tolerance=1e-4)
    transport = Transport.on(grid, 1, constant_and_rising, cementite_line)
    stretch = Stretch.of(transport, Segment(one(4 * HOUR_s), one(1150.0), one(1200.0), supply))
    nodes = transport.line.laid(start.carbon_wt, 0.0)
    for k in range(steps):
        nodes, _ = rosenbrock_step(stretch, nodes, k / steps, 1.0 / steps)
    return Reached(grid, transport.line, nodes, stretch, 1.0).profile


def constant_and_rising(carbon_wt: np.ndarray, temperature_K: np.ndarray) -> np.ndarray:
    """A smooth diffusivity that doubles over a percent of carbon and rises with temperature."""
    return 1e-11 * (1.0 + carbon_wt) * np.exp(-17000.0 * (1.0 / temperature_K - 1.0 / 1150.0))


@pytest.mark.convergence
@pytest.mark.parametrize("section", [Section(Shape.PLATE, 4e-3), ROD], ids=["plate", "rod"])
def test_error_falls_with_the_square_of_the_time_step(section) -> None:
    reference = march(section, 40, 640).carbon_wt
    errors = [np.abs(march(section, 40, steps).carbon_wt - reference).max() for steps in (10, 20, 40)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all((orders > 1.8) & (orders < 2.3)), (errors, orders)


@pytest.mark.convergence
@pytest.mark.parametrize("section", [Section(Shape.PLATE, 4e-3), ROD], ids=["plate", "rod"])
def test_error_falls_with_the_square_of_the_cell_size(section) -> None:
    reference = march(section, 640, 40).gained_outer_kg_per_m2[0]
    errors = [abs(march(section, cells, 40).gained_outer_kg_per_m2[0] - reference) for cells in (20, 40, 80)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all((orders > 1.8) & (orders < 2.3)), (errors, orders)


@pytest.mark.convergence
@pytest.mark.parametrize(
    "supply", [held(1.25), steady(1e-7, 1.2), steady(3e-8, 1.2)], ids=["held", "rich", "lean"]
)
@pytest.mark.parametrize("size_mm", [3.0, 10.0, 50.0])
def test_default_cells_and_tolerance_give_depth_within_a_fifth_of_a_percent(supply, size_mm) -> None:
    segment = hold(1198.15, 4 * HOUR_s, supply)
    section = Section(Shape.PLATE, size_mm * 1e-3)
    usual = solve_carbon(Grid.of_sections([section]), one(0.2), [segment])
    fine = solve_carbon(
        Grid.of_sections([section], cells=480), one(0.2), [segment], tolerance=DEFAULT_TOLERANCE / 100
    )
    for carbon in (0.27, 0.35, 0.40):
        assert depth_at_carbon(usual, carbon)[0] == pytest.approx(depth_at_carbon(fine, carbon)[0], rel=0.002)
    assert usual.gained_kg_per_m2 == pytest.approx(fine.gained_kg_per_m2, rel=0.002)


@pytest.mark.convergence
def test_defaults_hold_through_a_full_history_with_carbide() -> None:
    usual, fine = (
        solve_carbon(
            Grid.of_sections(SECTIONS, cells),
            one(0.2),
            full_history(),
            saturation_wt=cementite_line,
            tolerance=error,
        )
        for cells, error in ((120, DEFAULT_TOLERANCE), (360, DEFAULT_TOLERANCE / 40))
    )
    for carbon in (0.27, 0.40):
        np.testing.assert_allclose(
            depth_at_carbon(usual, carbon)[0], depth_at_carbon(fine, carbon)[0], rtol=0.003
        )
    # under a skin of one or two cells, where the pack starves as it cools and dissolves the last carbide
    near = np.linspace(20e-6, 200e-6, 10)
    np.testing.assert_allclose(usual.profile_on(near), fine.profile_on(near), atol=0.02)
