"""Smooth curves through tables that never overshoot between two points."""

from __future__ import annotations

from typing import Protocol, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


class Curve(Protocol):
    """A curve through points at `x`; called with places, it gives values of the same shape."""

    x: Array

    def __call__(self, x: Array, /) -> Array:
        """Return the values at places."""


def monotone_curve(at: ArrayLike, values: ArrayLike, extrapolate: bool | None = None) -> Curve:
    """Return the monotone cubic through points.

    at : (points,) rising; values : (points, ...); extrapolate : False gives nan outside the points
    Source: Fritsch and Carlson 1980 as `scipy.interpolate.PchipInterpolator` has it.
    """
    # loaded at the first curve: it takes a sixth of the app's start, and no page needs it to open
    from scipy.interpolate import PchipInterpolator

    places, heights = np.asarray(at, dtype=float), np.asarray(values, dtype=float)
    return cast(Curve, PchipInterpolator(places, heights, extrapolate=extrapolate))
