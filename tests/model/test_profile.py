"""Reading depths and carbon off a profile, and the cells beneath it."""

from __future__ import annotations

import numpy as np
import pytest

from model.carbon import (
    depth_at_carbon,
    held,
    signed_depth_at_carbon,
    solve_carbon,
)
from model.grid import Grid
from model.process import Section, Shape
from tests.model.carbon_cases import PLATE, SECTIONS, HOUR_s, hold, one


def fed_profile(section: Section = PLATE, hours: float = 4.0):
    return solve_carbon(Grid.of_sections([section]), one(0.2), [hold(1198.0, hours * HOUR_s, held(1.0))])


@pytest.mark.property
def test_depth_says_whether_it_was_found() -> None:
    through = fed_profile(Section(Shape.PLATE, 0.6e-3), 8.0)
    depth, status = depth_at_carbon(fed_profile(), np.array([1.1]))
    assert (depth[0], status[0]) == (0.0, "none")
    depth, status = depth_at_carbon(through, 0.5)
    assert depth[0] == pytest.approx(0.3e-3)
    assert status[0] == "whole_section"
    depth, status = depth_at_carbon(fed_profile(), 0.4)
    assert status[0] == "found"
    assert 0.6e-3 < depth[0] < 0.9e-3


@pytest.mark.property
def test_signed_depth_goes_on_falling_with_carbon_past_both_ends() -> None:
    for profile in (fed_profile(), fed_profile(Section(Shape.PLATE, 0.6e-3), 1.0)):
        wanted = np.linspace(0.1, 1.3, 49)
        depths = np.array([signed_depth_at_carbon(profile, carbon)[0] for carbon in wanted])
        assert np.all(np.diff(depths) < 0.0)
        assert depths[0] > profile.grid.through_m[0]
        assert depths[-1] < 0.0
        found = np.array([depth_at_carbon(profile, carbon)[1][0] == "found" for carbon in wanted])
        plain = np.array([depth_at_carbon(profile, carbon)[0][0] for carbon in wanted])
        np.testing.assert_allclose(depths[found], plain[found])


@pytest.mark.property
def test_profile_on_chosen_depths_starts_at_the_skin_and_returns_cell_values() -> None:
    grid = Grid.of_sections(SECTIONS)
    profile = solve_carbon(grid, one(0.2), [hold(1198.0, 2 * HOUR_s, held(1.0), held(1.0))])
    ends = profile.profile_on(np.stack([np.zeros(4), grid.through_m], axis=1))
    np.testing.assert_allclose(ends[:, 0], profile.surface_carbon_wt)
    np.testing.assert_allclose(ends[:, 1], profile.inner_surface_carbon_wt)
    np.testing.assert_allclose(profile.profile_on(grid.depth_m), profile.carbon_wt, atol=1e-10)


@pytest.mark.property
def test_cells_fill_their_section() -> None:
    grid = Grid.of_sections(SECTIONS)
    # volume over outer area by mensuration: half a plate, R/2, (R^2 - r^2) / 2R
    np.testing.assert_allclose(grid.volume_m.sum(axis=1), [5e-3, 2e-3, 2.55e-3, 2.55e-3])
    assert np.all(np.diff(grid.faces_m, axis=1) > 0.0)
    widths = np.diff(grid.faces_m[3])
    np.testing.assert_allclose(widths, widths[::-1], rtol=1e-9)
