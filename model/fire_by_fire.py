"""What each fire of a fit tells of what all fires share, its own luck summed over, and is foretold by it.

Leaving a fire out, or counting only those before it, is then to leave out its share of a sum. Fires come in
lots in their order, as each has a matrix of its own; of a lot, those with as many points are worked together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dtrtrs

from model.alike_fires import Alike
from model.evidence import Evidence
from model.touching import Touching
from model.variational import Gaussian, weight_of_books

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

LUCK: Final = ("fire/", "load/")
NUMBERS_AT_ONCE: Final = 250_000
"""Numbers in the matrices of a lot of fires: 2 MB."""
MOST_KEPT: Final = 1_500_000
"""Numbers in the matrices of all fires up to which they are kept, 12 MB; of more they are made each time."""


@dataclass(frozen=True)
class Told:
    """Precision (S, S) and information (S,) of some coordinates; of several fires with an axis in front."""

    precision: Array
    information: Array

    def plus(self, other: Told) -> Told:
        """Return what both say."""
        return Told(self.precision + other.precision, self.information + other.information)

    def less(self, other: Told) -> Told:
        """Return what is left without the other."""
        return Told(self.precision - other.precision, self.information - other.information)

    def of(self, fires: Rows) -> Told:
        """Return what some of several fires say."""
        return Told(self.precision[fires], self.information[fires])

    def summed(self) -> Told:
        """Return what all of several fires say together."""
        return Told(self.precision.sum(axis=0), self.information.sum(axis=0))

    def before(self) -> Told:
        """Return what all those of several fires say that are before each."""
        precision, information = np.cumsum(self.precision, axis=0), np.cumsum(self.information, axis=0)
        return Told(_after_nothing(precision[:-1]), _after_nothing(information[:-1]))

    def only(self, counts: NDArray[np.bool_]) -> Told:
        """Return what several fires say, (fires,) of which count and the others say nothing."""
        return Told(self.precision * counts[:, None, None], self.information * counts[:, None])


@dataclass(frozen=True)
class Fires:
    """N fires of P points each, S coordinates that all fires share and up to M of their own.

    places : (N,) which of all fires; rows : (N, P) their points
    curvature, target, noise : (N, P) of their readings, what they add along their slopes and their sd
    offset : (N, P) what is predicted where all coordinates are 0
    by_shared : (N, P, S), by_own : (N, P, M) slopes, 0 by what is filled up
    by_luck : (N, P) by one sd of luck, in the fire and in each box
    weight : (N, M) what the books weigh of their own after the fit
    room : (N, M) its variance in a fire never seen
    """

    places: Rows
    rows: Rows
    curvature: Array
    target: Array
    noise: Array
    offset: Array
    by_shared: Array
    by_own: Array
    by_luck: Array
    weight: Array
    room: Array

    def told(self) -> Told:
        """Return what each fire says of what all share, its own summed over (Schur's complement)."""
        curved = (self.curvature[:, :, None] * self.by_own).transpose(0, 2, 1)
        own = curved @ self.by_own + diagonal(self.weight)
        gain = np.linalg.solve(own, curved @ self.by_shared)
        weighed = (self.by_shared - self.by_own @ gain).transpose(0, 2, 1)
        information = (weighed @ self.target[:, :, None])[:, :, 0]
        return Told((weighed * self.curvature[:, None]) @ self.by_shared, information)

    def foretold(self, others: Told) -> tuple[Array, Array]:
        """Return middle (N, P) and covariance (N, P, P) of their readings, noise included.

        others : by which each is foretold, with an axis of fires
        What is its own is as the books have it; so is all, where the others hold less than nothing, as may be
        where readings are far from straight in the coordinates.
        """
        root, information = _roots(others)
        by_shared = self.by_shared.transpose(0, 2, 1)
        away = _solved(root, np.concatenate([by_shared, information[:, :, None]], axis=2))
        along, towards = away[:, :, :-1].transpose(0, 2, 1), away[:, :, -1:]
        own = (self.by_own * self.room[:, None]) @ self.by_own.transpose(0, 2, 1)
        doubt = along @ away[:, :, :-1] + own + diagonal(self.noise**2)
        return self.offset + (along @ towards)[:, :, 0], doubt


@dataclass(frozen=True)
class Points:
    """All points of a fit, (V,) each, as `Fires` has those of some."""

    curvature: Array
    target: Array
    noise: Array
    offset: Array
    by_luck: Array

    @classmethod
    def of(cls, evidence: Evidence, fitted: Gaussian) -> Points:
        """Take them from a fit."""
        line = fitted.linearised
        is_luck = np.array([name.startswith(LUCK) for name in evidence.names], dtype=float)
        return cls(
            line.curvature,
            line.target(fitted.mean),
            evidence.values.spread(line.doubt),
            line.value - line.touching.along(fitted.mean),
            line.touching.along(is_luck),
        )


@dataclass(frozen=True)
class FireByFire:
    """A fit as a sum: what the books and checks say of what all fires share, and then each fire.

    keys : of all fires, in their order; shared : (S,) the places of what all share; books : with checks
    points, touching : of all fires; weight, room : (fires, M) as `Fires`
    lots : all fires in their order, some at a time; of each lot those with as many points together
    """

    keys: tuple[str, ...]
    shared: Rows
    books: Told
    points: Points
    touching: Touching
    weight: Array
    room: Array
    lots: tuple[tuple[Alike, ...], ...]

    @classmethod
    def of(cls, evidence: Evidence, fitted: Gaussian) -> FireByFire:
        """Take a fit apart."""
        keys, shared = tuple(dict.fromkeys(evidence.fires.tolist())), evidence.layout.shared
        at_once = max(1, NUMBERS_AT_ONCE // max(1, len(shared)) ** 2)
        lots = (
            tuple(one.among(first, first + at_once) for one in evidence.alike)
            for first in range(0, len(keys), at_once)
        )
        some = tuple(tuple(one for one in lot if len(one.fires)) for lot in lots)
        books, weight, room = _books(evidence, fitted)
        points, touching = Points.of(evidence, fitted), fitted.linearised.touching
        return cls(keys, shared, books, points, touching, weight, room, some)

    def scattered(self, evidence: Evidence, fitted: Gaussian) -> FireByFire:
        """Return the same fit where only its fires' scatter is another, as `fitted` has it."""
        books, weight, room = _books(evidence, fitted)
        return replace(self, books=books, weight=weight, room=room)

    def without_each(self) -> Iterator[tuple[Fires, Told]]:
        """Give all fires, some at a time, and what the books and all other fires say beside each."""
        whole = self.books
        for told, _ in self._told():
            whole = whole.plus(told.summed())
        for told, lot in self._told():
            first = _first(lot)
            yield from ((fires, whole.less(told.of(fires.places - first))) for fires in lot)

    def after_those_before(self, counts: NDArray[np.bool_]) -> Iterator[tuple[Fires, Told]]:
        """Give all fires, some at a time, and what the books and the fires before each say.

        counts : (fires,) which say something at all
        """
        known = self.books
        for told, lot in self._told():
            first = _first(lot)
            counted = told.only(counts[first : first + len(told.information)])
            before = counted.before()
            yield from ((fires, known.plus(before.of(fires.places - first))) for fires in lot)
            known = known.plus(counted.summed())

    def fires(self) -> Iterator[Fires]:
        """Give all fires, some at a time."""
        return (self._fires(one) for lot in self.lots for one in lot)

    def _told(self) -> Iterable[tuple[Told, list[Fires]]]:
        """Give what each fire of a lot says of what all share, in their order, and the fires."""
        is_small = len(self.keys) * len(self.shared) ** 2 <= MOST_KEPT
        return self._kept if is_small else map(self._told_of, self.lots)

    @cached_property
    def _kept(self) -> list[tuple[Told, list[Fires]]]:
        return [self._told_of(lot) for lot in self.lots]

    def _told_of(self, lot: Sequence[Alike]) -> tuple[Told, list[Fires]]:
        several, size = [self._fires(one) for one in lot], len(self.shared)
        many, first = sum(len(one.places) for one in several), _first(several)
        told = Told(np.zeros((many, size, size)), np.zeros((many, size)))
        for fires in several:
            own, places = fires.told(), fires.places - first
            told.precision[places], told.information[places] = own.precision, own.information
        return told, several

    def _fires(self, one: Alike) -> Fires:
        points = {name: array[one.rows] for name, array in vars(self.points).items()}
        by_shared, by_own = (
            side.reshape(*one.rows.shape, side.shape[1]) for side in self.touching.by_slot(one.rows.ravel())
        )
        return Fires(
            places=one.fires,
            rows=one.rows,
            by_shared=by_shared,
            by_own=by_own,
            weight=self.weight[one.fires],
            room=self.room[one.fires],
            **points,
        )


def _first(lot: Sequence[Fires]) -> int:
    """Return the first fire of a lot, by its place among all."""
    return int(min(fires.places[0] for fires in lot))


def _books(evidence: Evidence, fitted: Gaussian) -> tuple[Told, Array, Array]:
    """Return what books and checks say of what all share, and `Fires.weight` and `room` of all fires."""
    weight, layout = weight_of_books(evidence, fitted), evidence.layout
    precision = np.diag(weight[layout.shared]) + evidence.check_precision_of_shared
    books = Told(precision, evidence.check_information[layout.shared])
    room = layout.split(evidence.scatter.room(fitted.scale))[1]
    return books, layout.split(weight, filled=1.0)[1], room


def _solved(roots: Array, right: Array) -> Array:
    """Return lower roots' inverses (N, S, S) times what stands right of them, (N, S, K)."""
    solved = np.empty_like(right)
    for root, one, own in zip(roots, right, solved, strict=True):
        own[:] = dtrtrs(root.T, one, lower=0, trans=1)[0]
    return solved


def _after_nothing(sums: Array) -> Array:
    return np.concatenate([np.zeros((1, *sums.shape[1:])), sums])


def _roots(told: Told) -> tuple[Array, Array]:
    """Return lower roots of precisions and informations by fire; of the books where there is no root."""
    try:
        return np.asarray(np.linalg.cholesky(told.precision)), told.information
    except np.linalg.LinAlgError:
        if len(told.precision) > 1:
            each = [_roots(told.of(np.array([fire]))) for fire in range(len(told.precision))]
            return np.concatenate([root for root, _ in each]), np.concatenate([one for _, one in each])
        return np.eye(told.precision.shape[1])[None], 0.0 * told.information


def diagonal(values: Array) -> Array:
    """Return matrices with values (N, P) in their diagonals, (N, P, P)."""
    return np.asarray(values[:, :, None] * np.eye(values.shape[1]))
