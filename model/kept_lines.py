"""Straight lines that readings were read off along, kept while what is believed of their pieces stays.

A line is one reading's predicted value by its local inputs and its tester's bias. Where a belief has hardly
moved since, the line still holds, and only the pieces that it moved for are read off anew.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.part import Part
from model.readings import Observation

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

STAYED: Final = 0.005
"""How far a belief may move from the one that a line was read over, as relative entropy [-]: a mean by a
tenth of a sd, or a sd by 7 %."""
CLOSE: Final = 0.25
"""Sds of what is believed of a piece within which slopes at a point are taken for the same."""
MOST_ALONE: Final = 0.5
"""Share of the pieces from which on all are read off, as together they cost less."""


@dataclass(frozen=True)
class Line:
    """W values.

    value, doubt, slope, curvature : (W,) prediction and the log likelihood's slope and curvature by it
    local : (W, L) its slopes by the local inputs and the bias
    """

    value: Array
    doubt: Array
    slope: Array
    curvature: Array
    local: Array

    def moved(self, away: Array) -> Line:
        """Return these lines some way on, what each reading says of its piece staying as it is.

        away : (W, L) how far on
        """
        on = (self.local * away).sum(axis=1)
        return Line(self.value + on, self.doubt, self.slope - self.curvature * on, self.curvature, self.local)


@dataclass(frozen=True)
class Same:
    """Where P processes and O observations stand among those of an earlier fit.

    place : (P,), rows : (O,) -1 for none; is_known : (P,) whether all that was read of a process was then
    """

    place: Rows
    rows: Rows
    is_known: NDArray[np.bool_]

    @classmethod
    def among(cls, now: KeptLines, earlier: KeptLines) -> Same:
        """Find them, by what was done and what was read."""
        known = {earlier.observations[one].process: row for row, one in enumerate(earlier.first.tolist())}
        place = [known.get(now.observations[one].process, -1) for one in now.first.tolist()]
        theirs = {one.key: row for row, one in enumerate(earlier.observations)}
        rows = [theirs.get(one.key, -1) for one in now.observations]
        same = np.array(
            [
                row >= 0 and earlier.of[row] == place[of] and earlier.observations[row].reading == one.reading
                for one, row, of in zip(now.observations, rows, now.of.tolist(), strict=True)
            ],
            dtype=bool,
        )
        is_known = np.array(place) >= 0
        is_known[now.of[~same]] = False
        return cls(np.array(place, dtype=np.intp), np.array(rows, dtype=np.intp), is_known)


class KeptLines:
    """Lines of P processes, O observations and V values, in L local inputs with the bias behind them.

    is_read : (P,) whether there are any of a process
    middle : (O, L) what they were read about; units : (P, F, F) inputs to sds of what was believed there
    bias_sd : (O,) of the tester's bias; line : the V lines
    """

    def __init__(self, observations: Sequence[Observation], of: Rows, owner: Rows, size: int) -> None:
        """Begin with none; of : (O,) process of each; owner : (V,) observation of each; size : L."""
        self.observations, self.of, self.owner = observations, of, owner
        self.first = np.unique(of, return_index=True)[1]
        self.is_read = np.zeros(len(self.first), dtype=bool)
        self.middle = np.zeros((len(of), size))
        self.units = np.tile(np.eye(size - 1), (len(self.first), 1, 1))
        self.bias_sd = np.ones(len(of))
        value, doubt, slope, curvature = np.zeros((4, len(owner)))
        self.line = Line(value, doubt, slope, curvature, np.zeros((len(owner), size)))

    def carry_over(self, earlier: KeptLines, same: Same) -> None:
        """Take the lines of all processes of which the same was read; same : of the earlier observations."""
        if not (len(self.of) and len(earlier.of)):
            return  # of a book with depths alone, or hardness alone
        is_known = same.is_known & earlier.is_read[same.place]
        self._copy(earlier, np.flatnonzero(is_known), same.place, same.rows)

    def forget(self, rows: Collection[int]) -> None:
        """Hold the lines of some processes for read no more."""
        self.is_read[list(rows)] = False

    def moved_over(self, middle: Array, root: Array, bias_sd: Array) -> NDArray[np.bool_]:
        """Return of which processes the lines were read over another belief, or not at all, (P,).

        middle : (O, L), root : (P, F, F) lower, bias_sd : (O,) of what is believed
        """
        away = middle - self.middle
        shape, own = self.units @ root, away[self.first][:, :-1, None]
        square = (shape**2).sum(axis=(1, 2)) + ((self.units @ own) ** 2).sum(axis=(1, 2))
        size = np.log(np.maximum(np.einsum("pff->pf", shape), 1e-300)).sum(axis=1)
        apart = 0.5 * (square - root.shape[1]) - size
        wider = bias_sd / self.bias_sd
        bias_apart = 0.5 * (wider**2 - 1.0 + (away[:, -1] / self.bias_sd) ** 2) - np.log(wider)
        np.maximum.at(apart, self.of, bias_apart)
        return most_or_these(~self.is_read | (apart > STAYED))

    def moved_at(self, middle: Array) -> NDArray[np.bool_]:
        """Return of which processes the lines were read further off than `CLOSE`, or not at all, (P,)."""
        away = self.units @ (middle - self.middle)[self.first][:, :-1, None]
        return most_or_these(~self.is_read | ((away**2).sum(axis=(1, 2)) > CLOSE**2))

    def put(self, part: Part, middle: Array, units: Array, bias_sd: Array | float, line: Line) -> None:
        """Keep the lines of a part; a fit that is cut short amid this leaves none of them.

        middle : (O, L) what they were read about, of all observations
        units : (R, F, F), bias_sd : (N,) of the part
        """
        self.is_read[part.rows] = False
        self.units[part.rows], self.bias_sd[part.observations] = units, bias_sd
        self.middle[part.observations] = middle[part.observations]
        for name, told in vars(line).items():
            getattr(self.line, name)[part.values] = told
        self.is_read[part.rows] = True

    def at(self, middle: Array) -> Line:
        """Return all lines as they go on to what is believed elsewhere, (O, L)."""
        return self.line.moved((middle - self.middle)[self.owner])

    def _copy(self, earlier: KeptLines, known: Rows, place: Rows, rows: Rows) -> None:
        """Copy the lines of known processes; place, rows : where processes and observations stand there."""
        self.is_read[known] = True
        self.units[known] = earlier.units[place[known]]
        own = np.flatnonzero(self.is_read[self.of])
        self.middle[own], self.bias_sd[own] = earlier.middle[rows[own]], earlier.bias_sd[rows[own]]
        values = np.flatnonzero(self.is_read[self.of[self.owner]])
        begins, began = (
            np.searchsorted(self.owner, self.owner[values]),
            np.searchsorted(earlier.owner, rows[self.owner[values]]),
        )
        for name, told in vars(self.line).items():
            told[values] = getattr(earlier.line, name)[began + values - begins]


def most_or_these(asked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which processes to read off: those asked for, or all where these are most of them."""
    return np.ones_like(asked) if asked.sum() > MOST_ALONE * len(asked) else asked
