"""Slopes of a logbook's values by coordinates, of which each value touches a few."""

from __future__ import annotations

from dataclasses import dataclass

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

    def by_slot(self, rows: NDArray[np.intp] | None = None) -> tuple[Array, Array]:
        """Return slopes by what all fires share, (rows, S), and by what is a fire's own, (rows, M).

        rows : which values, else all; they are told anew each time, as most of them are 0
        """
        columns, slopes = (
            (self.columns, self.slopes) if rows is None else (self.columns[rows], self.slopes[rows])
        )
        many = len(self.layout.shared)
        width = many + self.layout.own.shape[1]
        places = self.layout.slot[columns] + width * np.arange(len(columns))[:, None]
        sums = np.bincount(places.ravel(), slopes.ravel(), minlength=width * len(columns))
        told = sums.astype(float, copy=False).reshape(len(columns), width)
        return told[:, :many], told[:, many:]

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
