"""A fit's readings by its own coordinates and by the unknowns of arguments, which all fires share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Layout, Pairs
from model.evidence import Evidence
from model.touching import Touching

Array = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True)
class Joint:
    """Slopes of every value: N coordinates of the fit, then C columns.

    touching : by the coordinates that each touches; moves : (points, C) by the columns
    """

    evidence: Evidence
    touching: Touching
    moves: Array

    @cached_property
    def layout(self) -> Layout:
        """The evidence's own, with the columns among what all share."""
        own, size = self.evidence.layout, self.touching.size + self.moves.shape[1]
        shared = np.concatenate([own.shared, np.arange(own.size, size)])
        return Layout(size, shared, np.where(own.own == own.size, size, own.own))

    @property
    def fires(self) -> Rows:
        """Which fire each point is of, (points,)."""
        return self.evidence.fire_places[self.evidence.values.owner]

    def along(self, unknowns: Array) -> Array:
        """Return what unknowns (N + C,) add to each value, (points,)."""
        size = self.touching.size
        return np.asarray(self.touching.along(unknowns[:size]) + self.moves @ unknowns[size:])

    def gathered(self, pulls: Array) -> Array:
        """Return what a pull at each value is by each unknown, (N + C,)."""
        return np.concatenate([self.touching.gathered(pulls), self.moves.T @ pulls])

    def told(self, curvature: Array) -> Pairs:
        """Return the precision that readings and checks give all unknowns; curvature : (points,)."""
        told, weighed = self.evidence.told(self.touching, curvature), self.moves * curvature[:, None]
        layout = self.evidence.layout
        sides = [layout.split(self.touching.gathered(column)) for column in weighed.T]
        by_shared = np.stack([shared for shared, _ in sides], axis=1)
        by_own = np.stack([own for _, own in sides], axis=2)
        shared = np.block([[told.shared, by_shared], [by_shared.T, self.moves.T @ weighed]])
        across = np.concatenate([told.across, by_own], axis=2)
        return replace(told, layout=self.layout, shared=shared, across=across)

    def doubt(self, joint: Covariance) -> Array:
        """Return the sd of every predicted value, (points,)."""
        by_shared, by_own = self.touching.by_slot()
        variance = joint.along((np.hstack([by_shared, self.moves]), by_own), self.fires)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def doubt_apart(self, covariance: Covariance, widths: Array) -> Array:
        """Return the same where the coordinates' covariance and the columns' sds, (C,), are told apart."""
        variance = covariance.along(self.touching.by_slot(), self.fires)
        return np.asarray(np.sqrt(np.maximum(variance + self.moves**2 @ widths**2, 0.0)))

    def by_fire(self, joint: Covariance) -> Iterator[tuple[Rows, Array]]:
        """Give alike fires' points, (N, P), and the covariance of what is predicted of each, (N, P, P)."""
        pairs = joint.pairs
        for alike in self.evidence.alike:
            rows, shape = alike.rows.ravel(), alike.rows.shape
            by_shared, by_own = self.touching.by_slot(rows)
            shared = np.hstack([by_shared, self.moves[rows]]).reshape(*shape, -1)
            own = by_own.reshape(*shape, by_own.shape[1])
            across = own @ pairs.across[alike.fires] @ shared.transpose(0, 2, 1)
            beside = shared @ joint.shared @ shared.transpose(0, 2, 1) + across + across.transpose(0, 2, 1)
            yield alike.rows, beside + own @ pairs.own[alike.fires] @ own.transpose(0, 2, 1)
