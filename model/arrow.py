"""Doubt of coordinates of which most are one fire's own: these see nothing of another fire's.

Their precision has the form of an arrow: what all share, and beside it a small block of each fire. It is
inverted fire by fire (Schur's complement), so a logbook costs what its fires cost, not their cube.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.alike_fires import Alike

Array = NDArray[np.float64]
Places = NDArray[np.intp]

NUMBERS_AT_ONCE: Final = 500_000
"""Numbers worked together where there are some of all that is shared for each value or fire: 4 MB."""


@dataclass(frozen=True)
class Layout:
    """Which of some coordinates all share, and which are one fire's own.

    size : how many; shared : (S,) their places; own : (fires, M) theirs, filled up with `size`
    """

    size: int
    shared: Places
    own: Places

    @classmethod
    def of(cls, size: int, columns: Places, fires: Places, shared: Sequence[int]) -> Layout:
        """Return the layout of some coordinates.

        columns : (readings, K) what each reading touches; fires : (readings,) of which it is, counted from 0
        shared : what checks touch
        A coordinate that only one fire touches is its own, be it its luck or a bar that was never used again.
        """
        count = 1 + int(fires.max(initial=-1))
        first, last = np.full(size, count), np.full(size, -1)
        np.minimum.at(first, columns, fires[:, None])
        np.maximum.at(last, columns, fires[:, None])
        is_own = first == last
        is_own[list(shared)] = False
        places = np.flatnonzero(is_own)
        of = np.sort(first[places])
        places = places[np.argsort(first[places], kind="stable")]
        many = np.bincount(of, minlength=count)
        own = np.full((count, many.max(initial=0)), size, dtype=np.intp)
        own[of, np.arange(len(of)) - (np.cumsum(many) - many)[of]] = places
        return cls(size, np.flatnonzero(~is_own), own)

    @cached_property
    def slot(self) -> Places:
        """Place of each coordinate among the shared, or behind them among its fire's own, (size,)."""
        slot = np.zeros(self.size + 1, dtype=np.intp)
        slot[self.own] = len(self.shared) + np.arange(self.own.shape[1])
        slot[self.shared] = np.arange(len(self.shared))
        return slot[:-1]

    def pairs(self, columns: Places, fires: Places) -> Places:
        """Return where pairs of coordinates are kept (`Pairs.flat`), (rows, K, K).

        columns : (rows, K) coordinates, each row's shared or of its fire; fires : (rows,)
        """
        slot, (begins, by_fire) = self.slot[columns], self._kept
        pair = slot[:, :, None] * len(begins) + slot[:, None, :]
        return np.asarray(begins.ravel()[pair] + fires[:, None, None] * by_fire.ravel()[pair])

    @cached_property
    def _kept(self) -> tuple[Places, Places]:
        """Where a pair of slots is kept for the first fire, and how much further on for each next one."""
        many, most = len(self.shared), self.own.shape[1]
        slots = np.arange(many + most)
        first, other = slots[:, None], slots[None, :]
        one, two = np.maximum(first, other), np.minimum(first, other)
        across = many**2 + (one - many) * many + two
        both_own = many**2 + self.own.size * many + (first - many) * most + other - many
        is_shared, is_across = one < many, two < many
        begins = np.where(is_shared, first * many + other, np.where(is_across, across, both_own))
        return begins, np.where(is_shared, 0, np.where(is_across, most * many, most**2))

    @cached_property
    def fire(self) -> Places:
        """Whose own each coordinate is, a fire's number, or -1 for a shared one, (size,)."""
        fire = np.full(self.size + 1, -1)
        fire[self.own] = np.arange(len(self.own))[:, None]
        return fire[:-1]

    def split(self, vector: Array, filled: float = 0.0) -> tuple[Array, Array]:
        """Return the shared and own parts, (S,) and (fires, M), of a vector, or of several in rows."""
        padded = np.full((*vector.shape[:-1], self.size + 1), filled)
        padded[..., :-1] = vector
        return vector[..., self.shared], padded[..., self.own]

    def joined(self, shared: Array, own: Array) -> Array:
        """Return shared and own parts as one vector, (size,), or as several in columns."""
        in_rows = own.reshape(own.shape[0] * own.shape[1], *own.shape[2:])
        return np.asarray(np.concatenate([shared, in_rows])[self._joint])

    @cached_property
    def _joint(self) -> Places:
        """Place of each coordinate behind one another, the shared and then every fire's own, (size,)."""
        many = len(self.shared)
        return np.asarray(self.slot + np.where(self.slot < many, 0, self.fire * self.own.shape[1]))

    @cached_property
    def filled(self) -> Array:
        """1 on the diagonal of each fire's own where it is filled up, 0 elsewhere, (fires, M, M)."""
        return np.asarray((self.own == self.size)[:, :, None] * np.eye(self.own.shape[1]))


@dataclass(frozen=True)
class Pairs:
    """Entries of a symmetric matrix: of what is shared, of a fire's own by it, of its own among themselves.

    shared : (S, S); across : (fires, M, S); own : (fires, M, M)
    """

    layout: Layout
    shared: Array
    across: Array
    own: Array

    @classmethod
    def summed(
        cls,
        layout: Layout,
        alike: Sequence[Alike],
        slopes: Callable[[Places], tuple[Array, Array]],
        weight: Array,
    ) -> Pairs:
        """Return the sum over values of weight, slopes and slopes.

        alike : the fires, those with as many values together
        slopes : of some values, by what all share, (some, S), and by their own fire's, (some, M)
        weight : (values,)
        """
        fires, most = layout.own.shape
        many = len(layout.shared)
        shared, across, own = (
            np.zeros((many, many)),
            np.zeros((fires, most, many)),
            np.zeros((fires, most, most)),
        )
        for one in alike:
            each = one.rows.shape[1]
            for some in one.lots(_at_once(each * (many + most))):
                rows = some.rows.ravel()
                by_shared, by_own = slopes(rows)
                shared += (by_shared.T * weight[rows]) @ by_shared
                weighed = (weight[rows, None] * by_own).reshape(*some.rows.shape, most).transpose(0, 2, 1)
                across[some.fires] = weighed @ by_shared.reshape(*some.rows.shape, many)
                own[some.fires] = weighed @ by_own.reshape(*some.rows.shape, most)
        return cls(layout, shared, across, own)

    @classmethod
    def full(cls, matrix: Array) -> Pairs:
        """Return a matrix in which nothing is one fire's own."""
        none = np.zeros((0, 0, 0))
        layout = Layout(len(matrix), np.arange(len(matrix)), np.zeros((0, 0), dtype=np.intp))
        return cls(layout, matrix, none.reshape(0, 0, len(matrix)), none)

    @property
    def flat(self) -> Array:
        """All entries in a row, as `Layout.pairs` counts them."""
        return np.concatenate([self.shared.ravel(), self.across.ravel(), self.own.ravel()])

    @property
    def diagonal(self) -> Array:
        """Return the entries of each coordinate with itself, (size,)."""
        return self.layout.joined(self.shared.diagonal(), np.einsum("fmm->fm", self.own))

    def plus(self, diagonal: Array) -> Pairs:
        """Return this with something added to the diagonal, (size,)."""
        by_shared, by_own = self.layout.split(diagonal)
        shared, own = self.shared.copy(), self.own.copy()
        np.einsum("ss->s", shared)[:] += by_shared
        np.einsum("fmm->fm", own)[:] += by_own
        return Pairs(self.layout, shared, self.across, own)

    def over(self, number: float) -> Pairs:
        """Return this by a number."""
        return replace(self, shared=self.shared / number, across=self.across / number, own=self.own / number)

    def times(self, vector: Array) -> Array:
        """Return this matrix, 0 between fires, times a vector."""
        shared, own = self.layout.split(vector)
        across = _in_rows(self.across)
        by_own = (across @ shared).reshape(own.shape) + (self.own @ own[:, :, None])[:, :, 0]
        return self.layout.joined(self.shared @ shared + own.ravel() @ across, by_own)

    def inverse(self) -> Covariance:
        """Return the inverse of this as a precision, 0 between fires; it must be positive."""
        alone = _inverse(self.layout, self.own)
        gain = alone @ self.across
        shared = np.linalg.inv(self.shared - _in_rows(self.across).T @ _in_rows(gain))
        return Covariance(self.layout, 0.5 * (shared + shared.T), gain, alone)


@dataclass(frozen=True)
class Covariance:
    """The inverse of an arrow.

    shared : (S, S) covariance of what all share; gain : (fires, M, S) how a fire's own follows it, downward
    alone : (fires, M, M) covariance of a fire's own when all that is shared is known
    """

    layout: Layout
    shared: Array
    gain: Array
    alone: Array

    @classmethod
    def whole(cls, matrix: Array) -> Covariance:
        """Return a matrix in which nothing is one fire's own."""
        none = Pairs.full(matrix)
        return cls(none.layout, matrix, none.across, none.own)

    def precision(self) -> Pairs:
        """Return what this is the inverse of."""
        own = _inverse(self.layout, self.alone)
        across = own @ self.gain
        shared = np.linalg.inv(self.shared) + _in_rows(self.gain).T @ _in_rows(across)
        return Pairs(self.layout, shared, across, own)

    def times(self, vector: Array) -> Array:
        """Return this matrix times a vector."""
        shared, own = self.layout.split(vector)
        gain = _in_rows(self.gain)
        middle = self.shared @ (shared - own.ravel() @ gain)
        followed = (gain @ middle).reshape(own.shape)
        return self.layout.joined(middle, (self.alone @ own[:, :, None])[:, :, 0] - followed)

    @cached_property
    def own(self) -> Array:
        """The covariances of each fire's own, (fires, M, M)."""
        own, at_once = self.alone.copy(), _at_once(self.gain[:1].size)
        for first in range(0, len(own), at_once):
            some = slice(first, first + at_once)
            own[some] -= self._across(some) @ self.gain[some].transpose(0, 2, 1)
        return own

    @property
    def pairs(self) -> Pairs:
        """Return the covariances of coordinates that one reading may touch; most of them are made anew."""
        return Pairs(self.layout, self.shared, self._across(slice(None)), self.own)

    def _across(self, some: slice) -> Array:
        """Return the covariances of some fires' own with what is shared, (some, M, S)."""
        gain = self.gain[some]
        return np.asarray((_in_rows(gain) @ -self.shared).reshape(gain.shape))

    def along(self, slopes: tuple[Array, Array], fires: Places) -> Array:
        """Return the variance of values along their slopes, (values,).

        slopes : by what all share, (values, S), and by its own fire's, (values, M); fires : (values,) of each
        """
        variance, at_once = np.empty(len(fires)), _at_once(self.gain[:1].size)
        for first in range(0, len(fires), at_once):
            some = slice(first, first + at_once)
            (by_shared, by_own), of = (side[some] for side in slopes), fires[some]
            followed = by_shared - (by_own[:, None] @ self.gain[of])[:, 0]
            beyond = (by_own[:, None] @ self.alone[of])[:, 0] * by_own
            variance[some] = ((followed @ self.shared) * followed).sum(axis=1) + beyond.sum(axis=1)
        return variance

    @property
    def parts(self) -> tuple[NDArray[Any], ...]:
        """Return all that it is made of."""
        return self.layout.shared, self.layout.own, self.shared, self.gain, self.alone

    @property
    def diagonal(self) -> Array:
        """Return the variance of each coordinate, (size,)."""
        return self.layout.joined(self.shared.diagonal(), np.einsum("fmm->fm", self.own))

    def full(self, places: Places | None = None) -> Array:
        """Return the whole matrix, (size, size), or that of some coordinates in order."""
        places = np.arange(self.layout.size) if places is None else places
        count = len(places)
        own = np.full(self.layout.size + 1, count)
        own[places] = np.arange(count)
        own = own[self.layout.own]
        following = self._following(places)
        whole = following @ self.shared @ following.T
        first, other = np.broadcast_arrays(own[:, :, None], own[:, None, :])
        asked = (first < count) & (other < count)  # the rest is filled up, or not asked for
        whole[first[asked], other[asked]] += self.alone[asked]
        return np.asarray(whole)

    def by(self, places: Places) -> Array:
        """Return the covariance of all coordinates with some, (size, places)."""
        towards = self.shared @ self._following(places).T
        by_own = (_in_rows(self.gain) @ -towards).reshape(*self.layout.own.shape, len(places))
        whole = self.layout.joined(towards, by_own)
        fire, slot = self.layout.fire[places], self.layout.slot[places] - len(self.layout.shared)
        for column in np.flatnonzero(fire >= 0):
            own = self.layout.own[fire[column]]
            is_one = own < self.layout.size
            whole[own[is_one], column] += self.alone[fire[column], is_one, slot[column]]
        return whole

    def each(self, rows: Places) -> Array:
        """Return the covariance of some coordinates by row, (rows, K) to (rows, K, K)."""
        told, at_once = np.empty((*rows.shape, rows.shape[1])), _at_once(rows.shape[1] * len(self.shared))
        for first in range(0, len(rows), at_once):
            some = slice(first, first + at_once)
            told[some] = self._each(rows[some])
        return told

    def _each(self, rows: Places) -> Array:
        follow, fire = self._following(rows), self.layout.fire[rows]
        told = follow @ self.shared @ follow.transpose(0, 2, 1)
        place = self.layout.slot[rows] - len(self.layout.shared)
        row, one, other = np.nonzero((fire[:, :, None] == fire[:, None, :]) & (fire >= 0)[:, :, None])
        told[row, one, other] += self.alone[fire[row, one], place[row, one], place[row, other]]
        return np.asarray(told)

    def only(self, places: Places) -> Covariance:
        """Return the covariance of some coordinates in order, fire by fire if all that is shared is there."""
        layout, count = self.layout, len(places)
        new = np.full(layout.size + 1, count)
        new[places] = np.arange(count)
        if (new[layout.shared] == count).any():
            return Covariance.whole(self.full(places))
        is_kept = new[layout.own] < count
        fires = np.flatnonzero(is_kept.any(axis=1))
        most = int(is_kept.sum(axis=1).max(initial=0))
        first = np.argsort(~is_kept[fires], axis=1, kind="stable")[:, :most]
        held = np.take_along_axis(is_kept[fires], first, axis=1)
        own = np.take_along_axis(new[layout.own[fires]], first, axis=1)
        gain = self.gain[fires[:, None], first] * held[:, :, None]
        alone = self.alone[fires[:, None, None], first[:, :, None], first[:, None, :]]
        alone = alone * held[:, :, None] * held[:, None, :]
        return Covariance(Layout(count, new[layout.shared], own), self.shared, gain, alone)

    def and_beside(self, variance: Array) -> Covariance:
        """Return this with further coordinates behind, which all share and which hang on none of these."""
        size, many, more = self.layout.size, len(self.shared), len(variance)
        own = np.where(self.layout.own == size, size + more, self.layout.own)
        shared = np.zeros((many + more, many + more))
        shared[:many, :many], shared[many:, many:] = self.shared, np.diag(variance)
        layout = Layout(size + more, np.append(self.layout.shared, size + np.arange(more)), own)
        return Covariance(layout, shared, np.pad(self.gain, ((0, 0), (0, 0), (0, more))), self.alone)

    def _following(self, places: Places) -> Array:
        """Return how some coordinates follow what is shared, (..., S)."""
        fire, slot = self.layout.fire[places], self.layout.slot[places]
        is_own, many = fire >= 0, len(self.shared)
        following = np.zeros((*places.shape, many))
        following[is_own] = -self.gain[fire[is_own], slot[is_own] - many]
        following[~is_own, slot[~is_own]] = 1.0
        return following

    def squared(self, weight: Array) -> Array:
        """Return the sum over all pairs of weight, weight and their covariance squared.

        weight : (several, size), one sum for each
        """
        shared, own = self.layout.split(weight)
        gain, sums = _in_rows(self.gain), np.empty(len(weight))
        for place, (by_shared, by_own) in enumerate(zip(shared, own.reshape(len(own), -1), strict=True)):
            counts, spread, at_once = np.flatnonzero(by_own), np.diag(by_shared), _at_once(gain.shape[1])
            for first in range(0, len(counts), at_once):
                some = counts[first : first + at_once]
                spread = spread + (gain[some].T * by_own[some]) @ gain[some]
            moved = spread @ self.shared
            sums[place] = (moved * moved.T).sum()
        # of a fire's own: what it follows and what is alone, squared together, less what it follows, squared
        beyond = self.alone * (2.0 * self.own - self.alone)
        return np.asarray(sums + ((own[:, :, None] @ beyond)[:, :, 0] * own).sum(axis=(1, 2)))


def _at_once(numbers: int) -> int:
    """Return how many rows of so many numbers each are worked together."""
    return max(1, NUMBERS_AT_ONCE // max(1, numbers))


def _in_rows(across: Array) -> Array:
    """Return what there is of each fire's own, (fires, M, S), one below the other."""
    fires, most, shared = across.shape
    return across.reshape(fires * most, shared)


def _inverse(layout: Layout, own: Array) -> Array:
    """Return the inverses of each fire's own, 0 where it is filled up."""
    return np.asarray(np.linalg.inv(own + layout.filled) - layout.filled)
