"""Few draws that fill a Gaussian evenly, the same ones each time."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]

TRIES: Final = 60
CLOSEST_SHARE: Final = 4  # the closest quarter of the draws is what is kept apart


@cache
def even_draws(count: int, dimensions: int, stream: int) -> Array:
    """Return draws from N(0, 1) in each dimension, one from each of `count` equally likely slices.

    count, dimensions : 1 or more; stream : another number gives other draws, the same one the same
    Returns (count, dimensions), not to be written to: of several Latin squares that whose draws lie
    furthest apart (McKay, Beckman & Conover 1979; maximin choice after Johnson, Moore & Ylvisaker 1990).
    """
    found = max(_squares(count, dimensions, stream), key=_least_distance)
    found.flags.writeable = False
    return found


def _squares(count: int, dimensions: int, stream: int) -> list[Array]:
    rng = np.random.default_rng([stream, count, dimensions])
    orders = rng.permuted(np.tile(np.arange(count), (TRIES, dimensions, 1)), axis=2)
    return list(np.asarray(ndtri((orders + 0.5) / count)).transpose(0, 2, 1))


def _least_distance(draws: Array) -> float:
    """Return the mean distance of the closest draws from their neighbours."""
    square = ((draws[:, None] - draws[None]) ** 2).sum(axis=2) + np.diag(np.full(len(draws), np.inf))
    return float(np.sort(square.min(axis=1))[: max(1, len(draws) // CLOSEST_SHARE)].mean())
