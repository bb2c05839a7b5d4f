"""What an earlier belief says of coordinates in another order, and the books of those it does not know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.belief import ShopBelief

Array = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class Earlier:
    """An earlier belief as seen from other coordinates; nothing of it is copied until it is asked for.

    place : (size,) where each coordinate stands in it, -1 where it is not known; covariance : its own
    """

    place: Places
    covariance: Covariance

    @classmethod
    def of(cls, belief: ShopBelief, names: Sequence[str]) -> Earlier:
        """Return what a belief says of named coordinates."""
        known = {name: index for index, name in enumerate(belief.names)}
        place = np.array([known.get(name, -1) for name in names], dtype=np.intp)
        return cls(place, belief.covariance if known else Covariance.whole(np.eye(1)))

    @property
    def diagonal(self) -> Array:
        """Return the variance of each coordinate, (size,); 1 for the books'."""
        known = self.covariance.diagonal[np.maximum(self.place, 0)]
        return np.where(self.place >= 0, known, 1.0)

    def by(self, places: Places) -> Array:
        """Return the covariance of all coordinates with some, (size, places); 1 alone for the books'."""
        at, is_known = np.maximum(self.place, 0), self.place >= 0
        told = self.covariance.by(at[places])[at]
        alone = np.arange(len(at))[:, None] == places
        return np.where(is_known[:, None] & is_known[places], told, alone)

    def among(self, columns: Places) -> Array:
        """Return the covariance of coordinates by row, (rows, K) to (rows, K, K); 1 alone for the books'."""
        at, is_known = np.maximum(self.place, 0)[columns], (self.place >= 0)[columns]
        told = self.covariance.each(at)
        alone = columns[:, :, None] == columns[:, None, :]
        return np.where(is_known[:, :, None] & is_known[:, None, :], told, alone)
