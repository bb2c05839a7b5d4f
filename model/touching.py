"""Slopes of a logbook's values by coordinates, of which each value touches a few."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from model.arrow import Layout

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Touching:
    """Slopes of values by coordinates, each of which touches a few.

    columns : (values, K) those it touches; slopes : (values, K) by them; layout : of the coordinates
    """

    columns: NDArray[np.intp]
    slopes: Array
    layout: Layout

    @property
    def size(self) -> int:
        """Number of coordinates."""
        return self.layout.size

    @cached_property
    def by_slot(self) -> tuple[Array, Array]:
        """Slopes by what all fires share, (values, S), and by what is its own fire's, (values, M)."""
        many = len(self.layout.shared)
        width = many + self.layout.own.shape[1]
        places = self.layout.slot[self.columns] + width * np.arange(len(self.columns))[:, None]
        sums = np.bincount(places.ravel(), self.slopes.ravel(), minlength=width * len(self.columns))
        slopes = sums.astype(float).reshape(len(self.columns), width)
        return slopes[:, :many], slopes[:, many:]

    def along(self, coordinates: Array) -> Array:
        """Return what coordinates (size,) add to each value, (values,)."""
        return np.asarray((self.slopes * coordinates[self.columns]).sum(axis=1))

    def by(self, coordinate: int) -> Array:
        """Return the slopes by one coordinate, (values,)."""
        return np.asarray((self.slopes * (self.columns == coordinate)).sum(axis=1))

    def gathered(self, pulls: Array) -> Array:
        """Return what a pull at each value is by each coordinate, (size,)."""
        pulled = self.slopes * pulls[:, None]
        return np.bincount(self.columns.ravel(), pulled.ravel(), minlength=self.size).astype(float)

    def full(self) -> Array:
        """Return the slopes by all coordinates, (values, size)."""
        slopes = np.zeros((len(self.slopes), self.size))
        np.add.at(slopes, (np.arange(len(slopes))[:, None], self.columns), self.slopes)
        return slopes
