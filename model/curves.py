"""Smooth curves through tables that never overshoot between two points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """A curve through points at `x`, (points,); called with places, it gives values of their shape and more.

    coefficients : of the cubic after each point, highest power first, (4, points - 1, ...)
    is_open : whether it goes on beyond its points; nan there otherwise
    """

    x: Array
    coefficients: Array
    is_open: bool

    def __call__(self, places: ArrayLike) -> Array:
        """Return the values at places."""
        at = np.asarray(places, dtype=float)
        part = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        beyond = (at - self.x[part]).reshape(at.shape + (1,) * (self.coefficients.ndim - 2))
        # in place, as fresh memory is what a large table costs most
        found: Array = np.array(self.coefficients[0].take(part, axis=0))
        for lower in self.coefficients[1:]:
            found *= beyond
            found += lower.take(part, axis=0)
        if not self.is_open:
            found[(at < self.x[0]) | (at > self.x[-1])] = np.nan
        return found


def monotone_curve(at: ArrayLike, values: ArrayLike, extrapolate: bool = True) -> Curve:
    """Return the monotone cubic through points.

    at : (points,) rising, two or more; values : (points, ...); extrapolate : False gives nan beyond them
    Source: Fritsch and Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300; a test holds it to
    `scipy.interpolate.PchipInterpolator`, which takes 20 MB and a third of a second to load.
    """
    places, heights = np.asarray(at, dtype=float), np.asarray(values, dtype=float)
    step = np.diff(places).reshape(-1, *[1] * (heights.ndim - 1))
    rise = np.diff(heights, axis=0) / step
    slopes = _slopes(step, rise)
    bend = (slopes[:-1] + slopes[1:] - 2.0 * rise) / step
    square = (rise - slopes[:-1]) / step - bend
    return Curve(places, np.stack([bend / step, square, slopes[:-1], heights[:-1]]), extrapolate)


def _slopes(step: Array, rise: Array) -> Array:
    """Return the slopes at the points: the harmonic mean of those beside, none at a summit."""
    if len(rise) == 1:
        return np.concatenate([rise, rise])
    before, behind = rise[:-1], rise[1:]
    own, other = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    is_one_way = before * behind > 0.0
    inverse = own / np.where(is_one_way, before, 1.0) + other / np.where(is_one_way, behind, 1.0)
    inner = np.where(is_one_way, (own + other) / inverse, 0.0)
    ends = (
        _end_slope(step[0], step[1], rise[0], rise[1]),
        _end_slope(step[-1], step[-2], rise[-1], rise[-2]),
    )
    return np.concatenate([ends[0][None], inner, ends[1][None]])


def _end_slope(step: Array, next_step: Array, rise: Array, next_rise: Array) -> Array:
    """Return the slope at an end by three points, held to what does not overshoot."""
    slope = ((2.0 * step + next_step) * rise - step * next_rise) / (step + next_step)
    slope = np.where(np.sign(slope) == np.sign(rise), slope, 0.0)
    is_steep = (np.sign(rise) != np.sign(next_rise)) & (np.abs(slope) > 3.0 * np.abs(rise))
    return np.where(is_steep, 3.0 * rise, slope)
