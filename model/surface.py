"""Smooth surfaces through values at scattered inputs, many at once: a straight part and a Gaussian process.

Arrays have a leading axis of groups, G; a group has M members, F inputs and O outputs. Groups are laid
together where they have as many members, and read off together with blanks in those that have fewer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.lower import inverted
from model.pull import best_pull, read_off

Array = NDArray[np.float64]

RIDGE: Final = 0.3
DULLEST: Final = 0.1
"""Least share of the sharpest input's sharpness that one is given [-]: none is quite without effect."""
BY_MEMBER: Final = {"across": 1, "pull": 0}
"""Fields of a surface that have a row or a column a member, and along which axis."""
CHOSEN_BY_IT: Final = 1.3
FEW: Final = 14.0
"""What an error by leave-one-out is taken times, as lengths are chosen to make it small; and the square of
this over the members near the belief more, as few tell too little. A test holds it."""
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

    centre : of the belief that it was laid about; to_units : (F, F) inputs to its own units
    usual, per_unit : (K,) the same of the sketch; sharp : (F + K,) how sharply each is answered
    across : (F + K + 2, M), pull : (M, O), straight : (F + K + 2, O) as of `Pull`, in those units
    middle, scale : (O,) level of the values; near : how many members lie about the belief
    error : (O,) what it is wrong by there, rms, each member foretold by all others
    """

    centre: Array
    to_units: Array
    usual: Array
    per_unit: Array
    sharp: Array
    across: Array
    pull: Array
    straight: Array
    middle: Array
    scale: Array
    error: Array
    near: Array

    def at(self, inputs: Array, sketch: Array) -> Array:
        """Return the values of several surfaces at places of their own: (G, N, F), (G, N, K) to (G, N, O)."""
        moved, size = inputs.shape[2], self.sharp.shape[1]
        places = np.empty((*inputs.shape[:2], size + 2))
        to_places = self.to_units * self.sharp[:, None, :moved]
        places[:, :, :moved] = (inputs - self.centre[:, None]) @ to_places
        per_place = self.per_unit * self.sharp[:, moved:]
        places[:, :, moved:size] = (sketch - self.usual[:, None]) * per_place[:, None]
        found = read_off(places, self.across, self.pull, self.straight)
        return np.asarray(self.middle[:, None] + self.scale[:, None] * found)

    @property
    def members(self) -> int:
        """How many forecasts it was laid through."""
        return int(self.across.shape[-1])

    @classmethod
    def stacked(cls, several: Sequence[Surface]) -> Surface:
        """Return surfaces of as many outputs each as one, blank members where one has fewer."""
        return cls(*(_stacked(name, [getattr(one, name) for one in several]) for name in NAMES))

    def apart(self, sizes: Sequence[int]) -> list[Surface]:
        """Return several surfaces one by one, of so many members each, in the same memory."""
        columns = [_cut(name, getattr(self, name), sizes) for name in NAMES]
        return [Surface(*one) for one in zip(*columns, strict=True)]

    def only(self, groups: NDArray[np.intp]) -> Surface:
        """Return some of several surfaces, by their places."""
        return Surface(*(getattr(self, name)[groups] for name in NAMES))


NAMES: Final = tuple(field.name for field in fields(Surface))


def lay(told: Sequence[Scattered]) -> list[Surface]:
    """Lay a surface through each group's forecasts, best about its belief.

    told : G groups of as many outputs and members each
    Source: regression by a Gaussian process (Rasmussen & Williams, Gaussian Processes for Machine Learning,
    2006, section 2.7 for its straight part).
    """
    inputs, sketch, values, centre, root = (
        np.array([getattr(one, field.name) for one in told]) for field in fields(Scattered)
    )
    to_units: Array = inverted(WIDER * root).transpose(0, 2, 1)
    moved = (inputs - centre[:, None]) @ to_units
    weight = _nearness(moved)
    near = weight.sum(axis=1)
    share = weight / weight.sum(axis=1, keepdims=True)
    usual, spread = _level(sketch, share)
    middle, scale = _level(values, share)
    per_unit = 1.0 / (WIDER * spread)
    units = np.concatenate([moved, (sketch - usual[:, None]) * per_unit[:, None]], axis=2)
    level = (values - middle[:, None]) / scale[:, None]
    sharp = _sharpness(units, level[:, :, : level.shape[2] // 2], weight)
    best = best_pull(units * sharp[:, None], level, share)
    laid = Surface(
        centre=centre,
        to_units=to_units,
        usual=usual,
        per_unit=per_unit,
        sharp=sharp,
        across=best.across,
        pull=best.pull,
        straight=best.straight,
        middle=middle,
        scale=scale,
        error=(CHOSEN_BY_IT + (FEW / near[:, None]) ** 2) * scale * best.error,
        near=near,
    )
    return laid.apart([inputs.shape[1]] * len(told))


def _stacked(name: str, arrays: Sequence[Array]) -> Array:
    """Return a field of several surfaces as one array, blank members behind where one has fewer."""
    if name not in BY_MEMBER:
        return np.array(arrays)
    axis = BY_MEMBER[name]
    shape = list(arrays[0].shape)
    shape[axis] = max(array.shape[axis] for array in arrays)
    stacked = np.zeros((len(arrays), *shape))
    for own, array in zip(stacked, arrays, strict=True):
        own[_members(name, array.shape[axis])] = array
    return stacked


def _cut(name: str, array: Array, sizes: Sequence[int]) -> list[Array]:
    """Return a field of each of several surfaces without its blank members, in the same memory."""
    if name not in BY_MEMBER:
        return list(array)
    return [own[_members(name, size)] for own, size in zip(array, sizes, strict=True)]


def _members(name: str, many: int) -> tuple[slice, ...]:
    """Return where the first members of one surface stand in a field."""
    return (slice(None),) * BY_MEMBER[name] + (slice(many),)


def _nearness(units: Array) -> Array:
    """Return how much each member counts, 1 within the belief and less the further out, (G, M)."""
    moved = np.maximum((units != 0.0).any(axis=1).sum(axis=1), 1)[:, None]
    beyond = (units**2).sum(axis=2) / moved - 1.0
    return np.asarray(np.exp(-0.5 * np.clip(beyond, 0.0, FURTHEST)))


def _level(values: Array, share: Array) -> tuple[Array, Array]:
    """Return mean and sd of the values about the belief, (G, O) each; 1 for the sd of what never changes."""
    middle = (share[:, None] @ values)[:, 0]
    variance = (share[:, None] @ (values - middle[:, None]) ** 2)[:, 0]
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
