"""The monotone cubic: as scipy has it, for all shapes, ends and places."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from model.curves import monotone_curve


@pytest.mark.published
@pytest.mark.parametrize("shape", [(), (3,), (2, 3)])
@pytest.mark.parametrize("points", [2, 3, 9])
def test_it_is_the_curve_that_scipy_has(shape: tuple[int, ...], points: int) -> None:
    dice = np.random.default_rng(points)
    at = np.cumsum(dice.uniform(0.1, 2.0, points))
    # steps up, down and level, so that summits, level stretches and steep ends all come
    values = np.cumsum(np.round(dice.normal(scale=2.0, size=(points, *shape))), axis=0)
    places = dice.uniform(at[0] - 1.0, at[-1] + 1.0, (5, 40))
    for goes_on in (True, False):
        own, known = (curve(at, values, extrapolate=goes_on) for curve in (monotone_curve, PchipInterpolator))
        assert np.isnan(own(places)).any() != goes_on
        for asked in (places, places[0, 0], at):
            assert np.shape(own(asked)) == np.shape(known(asked))
            np.testing.assert_allclose(own(asked), known(asked), rtol=1e-12, atol=1e-12)
