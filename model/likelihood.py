"""How likely a reading is at a predicted value, with the slope and curvature that a fit needs."""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma, log, pi
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

Array = NDArray[np.float64]

READING_FREEDOM: Final = 5.0  # Student's t of a reading: tails heavy enough for a misread dial
READING_VARIANCE: Final = READING_FREEDOM / (READING_FREEDOM - 2.0)  # of that t, over its stated sd squared
LATENT_FREEDOM: Final = 4.0  # Student's t of a fire: tails heavy enough for a failed seal
LATENT_SCALE: Final = 0.85  # scale of that t for the stated sd (simulation study, recommended set)
INTERVAL_TRUST: Final = 0.98  # share of interval readings (between two files) that are not mistaken
INTERVAL_FLOOR: Final = 0.002
LEAST_CURVATURE: Final = 1e-9
_LEVEL: Final = (
    lgamma((READING_FREEDOM + 1.0) / 2.0) - lgamma(READING_FREEDOM / 2.0) - 0.5 * log(READING_FREEDOM * pi)
)


@dataclass(frozen=True)
class Likelihood:
    """Log likelihood of a reading, and its slope and (positive) curvature by the predicted value."""

    log: Array
    slope: Array
    curvature: Array


def student_likelihood(predicted: Array, measured: Array | float, sd: Array | float) -> Likelihood:
    """Return Student's t of a point reading.

    predicted : any shape; measured, sd : broadcast to it, in the same unit; sd above 0
    The curvature is that of the normal law of the same slope, which is never negative (the weight of
    iteratively reweighted least squares).
    """
    residual = np.asarray(measured - predicted)
    spread = np.asarray(sd, dtype=float) ** 2
    weight = (READING_FREEDOM + 1.0) / (READING_FREEDOM * spread + residual**2)
    tail = np.log1p(residual**2 / (READING_FREEDOM * spread))
    density = _LEVEL - 0.5 * np.log(spread) - 0.5 * (READING_FREEDOM + 1.0) * tail
    return Likelihood(density, weight * residual, np.broadcast_to(weight, residual.shape))


def interval_likelihood(
    predicted: Array, low: Array | float, high: Array | float, sd: Array | float
) -> Likelihood:
    """Return the probability that a reading falls between two limits.

    predicted : any shape; low, high : limits in the same unit, broadcast to it, infinite or not; sd : above 0
    P = 0.98 [Phi((high - predicted)/sd) - Phi((low - predicted)/sd)] + 0.002 (simulation study).
    """
    spread = np.broadcast_to(np.asarray(sd, dtype=float), predicted.shape)
    above, below = (high - predicted) / spread, (low - predicted) / spread
    is_beneath = below > 0
    inside = ndtr(np.where(is_beneath, -below, above)) - ndtr(np.where(is_beneath, -above, below))
    probability = INTERVAL_TRUST * inside + INTERVAL_FLOOR
    density_below, density_above = _density(below), _density(above)
    first = INTERVAL_TRUST * (density_below - density_above) / spread
    second = INTERVAL_TRUST * (_finite(below) * density_below - _finite(above) * density_above) / spread**2
    slope = first / probability
    return Likelihood(
        np.log(probability), slope, np.maximum(slope**2 - second / probability, LEAST_CURVATURE)
    )


def probit_likelihood(predicted: Array, is_above: bool, threshold: float, sd: float) -> Likelihood:
    """Return the probability of a yes or no about a threshold, blurred by `sd`."""
    sign = 1.0 if is_above else -1.0
    x = sign * (predicted - threshold) / sd
    ratio = np.exp(-0.5 * x**2 - 0.5 * log(2 * pi) - log_ndtr(x))
    return Likelihood(
        np.asarray(log_ndtr(x)), sign * ratio / sd, np.maximum(ratio * (ratio + x), LEAST_CURVATURE) / sd**2
    )


def _density(x: Array) -> Array:
    return np.asarray(np.exp(-0.5 * np.minimum(x**2, 1e4)) / (2 * pi) ** 0.5)


def _finite(x: Array) -> Array:
    """Return x, 0 for infinities, where the density is nothing."""
    return np.where(np.isfinite(x), x, 0.0)
