"""Smooth surfaces through values at scattered inputs, many at once: a straight part and a Gaussian process.

Arrays have a leading axis of groups, G; a group has M members, F inputs and O outputs. Groups are worked
together, those with fewer members filled up with blanks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

Array = NDArray[np.float64]

LENGTHS: Final = (2.5, 6.0)
"""Over how many widths of the belief a surface bends [-]; each group takes the one it is best foretold by."""
STRAIGHT: Final = 10.0
"""Variance of the straight part over that of what bends [-]; ten times more or less changes nothing."""
NUGGET: Final = 1e-4
RIDGE: Final = 0.3
DULLEST: Final = 0.1
"""Least share of the sharpest input's sharpness that one is given [-]: none is quite without effect."""
TALL: Final = ("members", "pull")
"""Fields of a surface that have a row a member."""
CHOSEN_BY_IT: Final = 1.3
"""What an error by leave-one-out is taken times, as lengths are chosen to make it small; a test holds it."""
FURTHEST: Final = 60.0
"""Beyond this squared distance all members are as far."""
WIDER: Final = 1.5
"""How much wider than the belief the region is that members count in fully [-]."""


@dataclass(frozen=True)
class Scattered:
    """What one surface is laid through: forecasts, and where the belief lies.

    inputs : (M, F); sketch : (M, K) numbers that bend as the values do; values : (M, O), of which the first
        half are judged
    centre : (F,), root : (F, F) of the belief, lower triangular, 1 on its diagonal where nothing moves
    """

    inputs: Array
    sketch: Array
    values: Array
    centre: Array
    root: Array


@dataclass(frozen=True)
class Surface:
    """One surface, or with a leading axis of groups several.

    centre, root : of the belief that it was laid about; to_units : (F, F) inputs to its own units
    usual, per_unit : (K,) the same of the sketch; sharp : (F + K,) how sharply each is answered
    members : (M, F + K) in those units; length : over which it bends; pull : (M, O) of its members
    middle, scale : (O,) level of the values; near : how many members lie about the belief
    error : (O,) what it is wrong by there, rms, each member foretold by all others
    """

    centre: Array
    root: Array
    to_units: Array
    usual: Array
    per_unit: Array
    sharp: Array
    members: Array
    length: Array
    pull: Array
    middle: Array
    scale: Array
    error: Array
    near: Array

    def at(self, inputs: Array, sketch: Array) -> Array:
        """Return the values of several surfaces at places of their own: (G, N, F), (G, N, K) to (G, N, O)."""
        moved = (inputs - self.centre[:, None]) @ self.to_units
        sketched = (sketch - self.usual[:, None]) * self.per_unit[:, None]
        units = np.concatenate([moved, sketched], axis=2) * self.sharp[:, None]
        found = _kernel(units, *self._across, self.length) @ self.pull
        return np.asarray(self.middle[:, None] + self.scale[:, None] * found)

    @cached_property
    def _across(self) -> tuple[Array, Array]:
        """The members of several surfaces as `_kernel` takes them: a fit reads off them some 30 times."""
        return _turned(self.members)

    @classmethod
    def stacked(cls, several: Sequence[Surface]) -> Surface:
        """Return surfaces of as many outputs each as one, blank members where one has fewer."""
        most = max(len(one.members) for one in several)
        columns = {
            field.name: np.stack(
                [
                    _padded(getattr(one, field.name), most)
                    if field.name in TALL
                    else getattr(one, field.name)
                    for one in several
                ]
            )
            for field in fields(cls)
        }
        whole = cls(**columns)
        turned = whole._across
        joined = replace(whole, members=turned[0].transpose(0, 2, 1))  # in the same memory
        vars(joined)["_across"] = turned
        return joined

    def apart(self, sizes: Sequence[int]) -> list[Surface]:
        """Return several surfaces one by one, of so many members each, in the same memory."""
        arrays = {field.name: getattr(self, field.name) for field in fields(self)}
        several = []
        for group, size in enumerate(sizes):
            one = {name: array[group] for name, array in arrays.items()}
            several.append(Surface(**one | {name: one[name][:size] for name in TALL}))
        return several


def lay(told: Sequence[Scattered]) -> list[Surface]:
    """Lay a surface through each group's forecasts, best about its belief.

    told : G groups of as many outputs each
    Source: regression by a Gaussian process with its leave-one-out residuals in closed form (Rasmussen &
    Williams, Gaussian Processes for Machine Learning, 2006, section 5.4.2).
    """
    most = max(len(one.inputs) for one in told)
    inputs, sketch, values = (
        np.stack([_padded(getattr(one, name), most) for one in told])
        for name in ("inputs", "sketch", "values")
    )
    real = np.stack([_padded(np.ones(len(one.inputs)), most) for one in told])
    centre, root = np.stack([one.centre for one in told]), np.stack([one.root for one in told])
    to_units: Array = np.asarray(np.linalg.inv(WIDER * root).transpose(0, 2, 1))
    moved = (inputs - centre[:, None]) @ to_units
    weight = _nearness(moved) * real
    usual, spread = _level(sketch, weight)
    middle, scale = _level(values, weight)
    per_unit = 1.0 / (WIDER * spread)
    units = np.concatenate([moved, (sketch - usual[:, None]) * per_unit[:, None]], axis=2)
    level = (values - middle[:, None]) / scale[:, None] * real[:, :, None]
    sharp = _sharpness(units, level[:, :, : level.shape[2] // 2], weight)
    units = units * sharp[:, None] * real[:, :, None]
    length, pull, error = _best_length(units, level, weight, real)
    near = weight.sum(axis=1)
    laid = (
        centre,
        root,
        to_units,
        usual,
        per_unit,
        sharp,
        units,
        length,
        pull,
        middle,
        scale,
        CHOSEN_BY_IT * scale * error,
        near,
    )
    return [_one(laid, group, len(one.inputs)) for group, one in enumerate(told)]


def _one(laid: Sequence[Array], group: int, members: int) -> Surface:
    """Return one surface out of several, without its blanks."""
    one = {field.name: array[group].copy() for field, array in zip(fields(Surface), laid, strict=True)}
    return Surface(**one | {name: one[name][:members] for name in TALL})


def _padded(array: Array, rows: int) -> Array:
    """Return an array with rows of zeros below."""
    padded = np.zeros((rows, *array.shape[1:]))
    padded[: len(array)] = array
    return padded


def _nearness(units: Array) -> Array:
    """Return how much each member counts, 1 within the belief and less the further out, (G, M)."""
    moved = np.maximum((units != 0.0).any(axis=1).sum(axis=1), 1)[:, None]
    beyond = (units**2).sum(axis=2) / moved - 1.0
    return np.asarray(np.exp(-0.5 * np.clip(beyond, 0.0, FURTHEST)))


def _level(values: Array, weight: Array) -> tuple[Array, Array]:
    """Return mean and sd of the values about the belief, (G, O) each; 1 for the sd of what never changes."""
    share = (weight / weight.sum(axis=1, keepdims=True))[:, None]
    middle = (share @ values)[:, 0]
    variance = (share @ (values - middle[:, None]) ** 2)[:, 0]
    return middle, np.where(variance > 0.0, np.sqrt(variance), 1.0)


def _sharpness(units: Array, level: Array, weight: Array) -> Array:
    """Return how sharply the values answer each input, the sharpest 1, (G, F), by their straight slopes."""
    along = np.concatenate([np.ones((*units.shape[:2], 1)), units], axis=2)
    weighed = (along * weight[:, :, None]).transpose(0, 2, 1)
    normal = weighed @ along + RIDGE * np.eye(along.shape[2])
    slope = np.linalg.solve(normal, weighed @ level)[:, 1:]
    size = np.sqrt((slope**2).sum(axis=1, keepdims=True))
    sharp = np.sqrt(((slope / np.where(size > 0.0, size, 1.0)) ** 2).mean(axis=2))
    most = sharp.max(axis=1, keepdims=True)
    return np.asarray(np.maximum(np.sqrt(sharp / np.where(most > 0.0, most, 1.0)), DULLEST))


def _best_length(units: Array, level: Array, weight: Array, real: Array) -> tuple[Array, Array, Array]:
    """Return the length of each group, the pull of its members and its error in units of the level."""
    share = weight / weight.sum(axis=1, keepdims=True)
    both = real[:, :, None] * real[:, None]
    alone = np.eye(units.shape[1]) * np.where(real > 0.0, NUGGET, 1.0)[:, :, None]
    judged = level.shape[2] // 2
    found, across = [], _turned(units)
    for length in LENGTHS:
        kernel = _kernel(units, *across, np.full(len(units), length)) * both + alone
        pull, own = _solved(kernel, level)
        left_out = pull / own[:, :, None]
        found.append((pull, np.sqrt((share[:, None] @ left_out**2)[:, 0])))
    errors = np.array([error for _, error in found])
    best = np.argmin((errors[:, :, :judged] ** 2).sum(axis=2), axis=0)
    group = np.arange(len(best))
    return np.array(LENGTHS)[best], np.array([pull for pull, _ in found])[best, group], errors[best, group]


def _solved(kernel: Array, level: Array) -> tuple[Array, Array]:
    """Return the inverse of symmetric positive matrices, (G, M, M), times levels, and its diagonals, (G, M).

    By the inverse of the Cholesky root, less than half the price of the whole inverse.
    """
    roots = np.empty_like(kernel)
    for group, one in enumerate(kernel):
        root, _ = dpotrf(one.T, lower=1, clean=1)
        roots[group] = dtrtri(root, lower=1, overwrite_c=1)[0].T
    return roots @ (roots.transpose(0, 2, 1) @ level), np.einsum("gij,gij->gi", roots, roots)


def _turned(members: Array) -> tuple[Array, Array]:
    """Return members as columns, (G, F, M), and half their squared lengths, (G, 1, M)."""
    return np.ascontiguousarray(members.transpose(0, 2, 1)), _half_square(members)[:, None]


def _half_square(units: Array) -> Array:
    return np.asarray(0.5 * np.einsum("gnf,gnf->gn", units, units))


def _kernel(units: Array, columns: Array, half_square: Array, length: Array) -> Array:
    """Return what members say of units, (G, N, M): what bends and what is straight.

    columns, half_square : of the members, by `_turned`
    Worked in place: it is most of what a fit of a large logbook costs.
    """
    straight = units @ columns
    bends = straight - _half_square(units)[:, :, None]
    bends -= half_square
    bends *= length[:, None, None] ** -2
    np.exp(bends, out=bends)
    straight += 1.0
    straight *= STRAIGHT
    bends += straight
    return np.asarray(bends)
