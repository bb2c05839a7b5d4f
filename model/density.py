"""How likely a logbook makes many sets of coordinates at once: what a sampler of the whole belief asks.

The sampler works in coordinates that are all N(0, 1) before any reading: a fire's own luck, which has heavy
tails as wide as its scale, goes through the quantiles of its law.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from model.evidence import Evidence
from model.inputs import FITTED_INPUTS
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE

Array = NDArray[np.float64]
Places = NDArray[np.intp]

MOST_SDS: Final = 8.0
LEAST_LOG: Final = -1e30  # of what is not a number


def log_density(evidence: Evidence, normal: Array) -> Array:
    """Return the log of the belief's density, up to a constant.

    evidence : what was read; normal : (draws, names and then scales of the fires' scatter), N(0, 1) before it
    Returns (draws,): books, checks and readings together; `LEAST_LOG` or less where any is not a number.
    """
    coordinates = coordinates_of(evidence, normal)
    told = told_by_fire(evidence, coordinates).sum(axis=1) + told_by_checks(evidence, coordinates)
    return np.asarray(told - 0.5 * np.sum(normal**2, axis=1))


def told_by_fire(evidence: Evidence, coordinates: Array, roughly: bool = False) -> Array:
    """Return how likely the readings of each fire are in ln, (draws, fires).

    coordinates : (draws, at least names) of the belief; roughly : by what stands in for full forecasts
    """
    local = evidence.local(coordinates[:, : len(evidence.names)].T)
    inputs = np.repeat(evidence.offset[:, None, :], len(coordinates), axis=1)
    inputs[:, :, :FITTED_INPUTS] += local[evidence.first, :FITTED_INPUTS].transpose(0, 2, 1)
    found = evidence.foretold(inputs, local[:, -1], roughly)
    rows = evidence.values.likelihood(found.value, found.doubt).log
    fires = evidence.fire_places
    total = np.zeros((int(fires.max(initial=-1)) + 1, len(coordinates)))
    np.add.at(total, fires[evidence.values.owner], rows)
    return np.where(np.isfinite(total), total, LEAST_LOG).T


def told_by_checks(evidence: Evidence, coordinates: Array) -> Array:
    """Return how likely the checks of instruments are in ln, (draws,); coordinates as `told_by_fire`."""
    names = coordinates[:, : len(evidence.names)]
    shared, precision = names[:, evidence.layout.shared], evidence.check_precision_of_shared
    told = names @ evidence.check_information - 0.5 * np.sum(shared @ precision * shared, axis=1)
    return np.where(np.isfinite(told), told, LEAST_LOG)


def own_of_fires(evidence: Evidence) -> Places:
    """Return whose each coordinate is, (names and scales,): a fire's number, or -1 where more than one asks.

    A fire's own coordinates are seen by its readings alone, so that fires may be judged side by side.
    """
    return np.pad(evidence.layout.fire, (0, len(evidence.scatter.names)), constant_values=-1)


def coordinates_of(evidence: Evidence, normal: Array) -> Array:
    """Return the belief's own coordinates, as (draws, names and scales)."""
    size = len(evidence.names)
    found = normal.copy()
    latent = np.clip(normal[:, :size][:, evidence.is_latent], -MOST_SDS, MOST_SDS)
    heavy = -np.sign(latent) * stdtrit(LATENT_FREEDOM, ndtr(-np.abs(latent)))
    width = _widths(evidence, normal[:, size:])[:, evidence.is_latent]
    found[:, np.flatnonzero(evidence.is_latent)] = width * heavy
    return found


def normal_of(evidence: Evidence, coordinates: Array) -> Array:
    """Return what `coordinates_of` turns into coordinates, (draws, names and scales)."""
    size = len(evidence.names)
    found = coordinates.copy()
    heavy = coordinates[:, :size] / _widths(evidence, coordinates[:, size:])
    latent = heavy[:, evidence.is_latent]
    found[:, np.flatnonzero(evidence.is_latent)] = -np.sign(latent) * ndtri(
        stdtr(LATENT_FREEDOM, -np.abs(latent))
    )
    return found


def _widths(evidence: Evidence, scales: Array) -> Array:
    """Return the scale of every fire's own law, 1 of all else, (draws, names)."""
    widths = np.where(evidence.is_latent, LATENT_SCALE, 1.0) * np.ones((len(scales), 1))
    widths[:, evidence.scatter.column] *= np.sqrt(evidence.scatter.rooms(scales))
    return np.asarray(widths)
