"""Smooth surfaces through values at scattered inputs, many at once: a straight part and a Gaussian process.

Arrays have a leading axis of groups, G; a group has M members, F inputs and O outputs. Groups are laid
together where they have as many members, and read off together with blanks in those that have fewer. Members
are kept once for all surfaces that are laid through them, and taken to each one's units as it is read off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.lower import inverted
from model.pull import best_pull, members_across, read_off

Array = NDArray[np.float64]

RIDGE: Final = 0.3
DULLEST: Final = 0.1
"""Least share of the sharpest input's sharpness that one is given [-]: none is quite without effect."""
CHOSEN_BY_IT: Final = 1.3
FEW: Final = 14.0
"""What an error by leave-one-out is taken times, as lengths are chosen to make it small; and the square of
this over the members near the belief more, as few tell too little. A test holds it."""
FURTHEST: Final = 60.0
"""Beyond this squared distance all members are as far."""
WIDER: Final = 1.5
"""How much wider than the belief the region is that members count in fully [-]."""


@dataclass(frozen=True)
class Members:
    """Forecasts that surfaces are laid through: inputs (M, F), and sketch (M, K), which bends as they do."""

    inputs: Array
    sketch: Array


@dataclass(frozen=True)
class Scattered:
    """What one surface is laid through: forecasts, and where the belief lies.

    members : the forecasts; values : (M, O) of them, of which the first half are judged
    centre : (F,), root : (F, F) of the belief, lower triangular, 1 on its diagonal where nothing moves
    moves : (F,) whether an input does; what the members have of one that does not is nothing to the surface
    """

    members: Members
    values: Array
    centre: Array
    root: Array
    moves: NDArray[np.bool_]


@dataclass(frozen=True)
class Surface:
    """One surface, or with a leading axis of groups several.

    through : the members of each
    centre : of the belief that it was laid about; to_units : (F, F) inputs to its own units, 0 for one that
        does not move
    usual, per_unit : (K,) the same of the sketch; sharp : (F + K,) how sharply each is answered
    length : over which it bends; pull : (M, O), straight : (F + K + 2, O) as of `Pull`, in those units
    middle, scale : (O,) level of the values; near : how many members lie about the belief
    error : (O,) what it is wrong by there, rms, each member foretold by all others
    """

    through: tuple[Members, ...]
    centre: Array
    to_units: Array
    usual: Array
    per_unit: Array
    sharp: Array
    length: Array
    pull: Array
    straight: Array
    middle: Array
    scale: Array
    error: Array
    near: Array

    def at(self, inputs: Array, sketch: Array, across: Array | None = None) -> Array:
        """Return the values of several surfaces at places of their own: (G, N, F), (G, N, K) to (G, N, O).

        across : what the method of that name gives, where it is kept
        """
        moved, size = inputs.shape[2], self.sharp.shape[1]
        places = np.empty((*inputs.shape[:2], size + 2))
        to_places = self.to_units * self.sharp[:, None, :moved]
        places[:, :, :moved] = (inputs - self.centre[:, None]) @ to_places
        per_place = self.per_unit * self.sharp[:, moved:]
        places[:, :, moved:size] = (sketch - self.usual[:, None]) * per_place[:, None]
        members = self.across() if across is None else across
        found = read_off(places, members, self.pull, self.straight)
        return np.asarray(self.middle[:, None] + self.scale[:, None] * found)

    def across(self) -> Array:
        """Return the members of several surfaces in their units, (G, F + K + 2, M), as `read_off` asks."""
        moved, size, most = self.to_units.shape[1], self.sharp.shape[1], self.pull.shape[1]
        inputs, sketch = (
            _in_rows([getattr(one, side) for one in self.through], most) for side in ("inputs", "sketch")
        )
        rows = np.empty((len(inputs), size + 2, most))
        inputs -= self.centre[:, None]
        to_places = (self.to_units * self.sharp[:, None, :moved]).transpose(0, 2, 1)
        np.matmul(to_places, inputs.transpose(0, 2, 1), out=rows[:, :moved])
        sketch -= self.usual[:, None]
        per_place = (self.per_unit * self.sharp[:, moved:])[:, :, None]
        np.multiply(sketch.transpose(0, 2, 1), per_place, out=rows[:, moved:size])
        return members_across(rows, self.length)

    @property
    def members(self) -> int:
        """How many forecasts one surface was laid through."""
        return int(self.pull.shape[0])

    @classmethod
    def stacked(cls, several: Sequence[Surface]) -> Surface:
        """Return surfaces of as many outputs each as one, blank members where one has fewer."""
        through = tuple(members for one in several for members in one.through)
        most = max(one.members for one in several)
        pull = _in_rows([one.pull for one in several], most)
        others = {name: np.array([getattr(one, name) for one in several]) for name in BY_SURFACE}
        return cls(through=through, pull=pull, **others)

    def apart(self) -> list[Surface]:
        """Return several surfaces one by one, in the same memory, without their blank members."""
        pull = [own[: len(one.inputs)] for one, own in zip(self.through, self.pull, strict=True)]
        others = zip(*(getattr(self, name) for name in BY_SURFACE), strict=True)
        return [
            Surface(through=(one,), pull=own, **dict(zip(BY_SURFACE, each, strict=True)))
            for one, own, each in zip(self.through, pull, others, strict=True)
        ]

    def only(self, groups: NDArray[np.intp]) -> Surface:
        """Return some of several surfaces, by their places."""
        through = tuple(self.through[group] for group in groups.tolist())
        others = {name: getattr(self, name)[groups] for name in BY_SURFACE}
        return Surface(through=through, pull=self.pull[groups], **others)


BY_SURFACE: Final = tuple(field.name for field in fields(Surface) if field.name not in ("through", "pull"))
"""Fields that are as long whatever the members."""


def lay(told: Sequence[Scattered]) -> list[Surface]:
    """Lay a surface through each group's forecasts, best about its belief.

    told : G groups of as many outputs and members each
    Source: regression by a Gaussian process (Rasmussen & Williams, Gaussian Processes for Machine Learning,
    2006, section 2.7 for its straight part).
    """
    through = tuple(one.members for one in told)
    inputs, sketch = np.array([one.inputs for one in through]), np.array([one.sketch for one in through])
    values, centre = np.array([one.values for one in told]), np.array([one.centre for one in told])
    root, moves = np.array([one.root for one in told]), np.array([one.moves for one in told])
    to_units: Array = inverted(WIDER * root).transpose(0, 2, 1) * moves[:, :, None]
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
        through=through,
        centre=centre,
        to_units=to_units,
        usual=usual,
        per_unit=per_unit,
        sharp=sharp,
        length=best.length,
        pull=best.pull,
        straight=best.straight,
        middle=middle,
        scale=scale,
        error=(CHOSEN_BY_IT + (FEW / near[:, None]) ** 2) * scale * best.error,
        near=near,
    )
    return laid.apart()


def _in_rows(arrays: Sequence[Array], rows: int) -> Array:
    """Return what several surfaces have of their members, (M, ...) each, as one, rows of zeros below."""
    if all(len(array) == rows for array in arrays):
        return np.array(arrays)
    several = np.zeros((len(arrays), rows, *arrays[0].shape[1:]))
    for own, array in zip(several, arrays, strict=True):
        own[: len(array)] = array
    return several


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
