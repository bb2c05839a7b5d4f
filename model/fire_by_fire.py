"""What each fire of a fit tells of what all fires share, its own luck summed over, and is foretold by it.

Leaving a fire out, or counting only those before it, is then to leave out its share of a sum.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.variational import Gaussian, weight_of_books

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

LUCK: Final = ("fire/", "load/")


@dataclass(frozen=True)
class Told:
    """Precision (S, S) and information (S,) of some coordinates."""

    precision: Array
    information: Array

    def plus(self, other: Told) -> Told:
        """Return what both say."""
        return Told(self.precision + other.precision, self.information + other.information)

    def less(self, other: Told) -> Told:
        """Return what is left without the other."""
        return Told(self.precision - other.precision, self.information - other.information)


@dataclass(frozen=True)
class Fire:
    """One fire of a fit, its points P, S coordinates that all share and M of its own.

    rows : (P,) its points; curvature, target, noise : (P,) of its readings, what they add along their slopes
        and their sd; offset : (P,) what is predicted where all coordinates are 0
    by_shared : (P, S), by_own : (P, M) slopes
    own : (M,) names of its own; weight : (M,) what the books weigh of them after the fit; room : (M,) their
        variance in a fire never seen
    """

    key: str
    rows: Rows
    curvature: Array
    target: Array
    noise: Array
    offset: Array
    by_shared: Array
    by_own: Array
    own: tuple[str, ...]
    weight: Array
    room: Array

    def by_luck(self) -> Array:
        """Return what one sd of its luck, in the fire and in each box, shifts, (P,)."""
        return np.asarray(self.by_own[:, [name.startswith(LUCK) for name in self.own]].sum(axis=1))

    def told(self) -> Told:
        """Return what the fire says of what all share, its own summed over (Schur's complement)."""
        curved = self.curvature[:, None] * self.by_own
        gain = np.linalg.solve(self.by_own.T @ curved + np.diag(self.weight), curved.T @ self.by_shared)
        weighed = (self.by_shared - self.by_own @ gain).T
        return Told((weighed * self.curvature) @ self.by_shared, weighed @ self.target)

    def foretold(self, others: Told) -> tuple[Array, Array]:
        """Return middle (P,) and covariance (P, P) of its readings as others foretell them, noise included.

        What is its own is as the books have it; so is all, where the others hold less than nothing, as may be
        where readings are far from straight in the coordinates.
        """
        try:
            root = np.linalg.cholesky(others.precision)
        except np.linalg.LinAlgError:
            root, others = (
                np.eye(len(others.precision)),
                replace(others, information=0.0 * others.information),
            )
        away = np.linalg.solve(root, np.column_stack([self.by_shared.T, others.information]))
        own = (self.by_own * self.room) @ self.by_own.T
        doubt = away[:, :-1].T @ away[:, :-1] + own + np.diag(self.noise**2)
        return self.offset + away[:, :-1].T @ away[:, -1], doubt


@dataclass(frozen=True)
class FireByFire:
    """A fit as a sum: what the books and checks say of what all fires share, and then each fire.

    shared : (S,) the places of what all share; books : with checks; fires : by key, in their order
    """

    shared: Rows
    books: Told
    fires: dict[str, Fire]

    @classmethod
    def of(cls, evidence: Evidence, fitted: Gaussian) -> FireByFire:
        """Take a fit apart."""
        weight, layout = weight_of_books(evidence, fitted), evidence.layout
        books = Told(
            np.diag(weight[layout.shared]) + evidence.check_precision_of_shared,
            evidence.check_information[layout.shared],
        )
        room, line = evidence.scatter.room(fitted.scale), fitted.linearised
        linear, target = line.touching.along(fitted.mean), line.target(fitted.mean)
        noise = evidence.values.spread(line.doubt)
        found = {}
        keys = dict.fromkeys(evidence.fires.tolist())
        for key, rows, own in zip(keys, evidence.points_by_fire, layout.own, strict=True):
            own = own[own < layout.size]
            slopes = np.zeros((len(rows), len(layout.shared) + len(own)))
            at = np.arange(len(rows))[:, None], layout.slot[line.touching.columns[rows]]
            np.add.at(slopes, at, line.touching.slopes[rows])
            found[key] = Fire(
                key=key,
                rows=rows,
                curvature=line.curvature[rows],
                target=target[rows],
                noise=noise[rows],
                offset=line.value[rows] - linear[rows],
                by_shared=slopes[:, : len(layout.shared)],
                by_own=slopes[:, len(layout.shared) :],
                own=tuple(evidence.names[place] for place in own),
                weight=weight[own],
                room=room[own],
            )
        return cls(layout.shared, books, found)


def residuals(
    evidence: Evidence, rows: NDArray[np.intp], predicted: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Return measured less predicted (0 within an interval), and which of them say something."""
    low, high = evidence.values.low, evidence.values.high
    residual = np.clip(predicted, low[rows], high[rows]) - predicted
    return residual, (low[rows] == high[rows]) | (residual != 0.0)
