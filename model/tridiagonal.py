"""Symmetric positive definite tridiagonal systems, one of LAPACK's chain or many side by side.

LAPACK goes down a chain node by node, each waiting for the one before. Of many systems, whose same nodes lie
in one row of memory, numpy takes a row at a time: from both ends at once, which meet in the middle, so that
there are half as many rows.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy import divide, multiply, subtract
from numpy.typing import NDArray
from scipy.linalg.lapack import dptsv, dpttrs, sptsv, spttrs

from model.line import DOUBLE, Precision

Array = NDArray[np.float64]


class Systems(Protocol):
    """A way to solve for two right-hand sides in turn; each is written over with its answer."""

    def first(self, diagonal: Array, off: Array, right: Array) -> Array:
        """Factor matrices, which may be written over, and return the first answer."""
        ...

    def second(self, right: Array) -> Array:
        """Return the answer to another right-hand side of the same matrices."""
        ...


class Chain:
    """One chain of nodes, by LAPACK: of systems in a row what joins one to the next is 0."""

    def __init__(self, precision: Precision = DOUBLE) -> None:
        """Know nothing yet but the precision."""
        self._solve, self._solve_again = (dptsv, dpttrs) if precision == DOUBLE else (sptsv, spttrs)
        self._factors: tuple[Array, Array]

    def first(self, diagonal: Array, off: Array, right: Array) -> Array:
        """Factor and solve, as `Systems` says."""
        solved: tuple[Array, Array, Array, int] = self._solve(diagonal, off, right, 1, 1, 1)
        self._factors = solved[:2]
        return solved[2]

    def second(self, right: Array) -> Array:
        """Solve again, as `Systems` says."""
        solved: tuple[Array, int] = self._solve_again(*self._factors, right, 1)
        return solved[0]


class Columns:
    """Many systems side by side: node k of all of them is row k of (n, M)."""

    def __init__(self, members: int, nodes: int, precision: Precision = DOUBLE) -> None:
        """Make room for so many systems of so many nodes, and cut out its rows once.

        Row k of the room holds node k and, beside it, node k from the other end. Where a node is left over in
        the middle the other end begins with one that touches nothing.
        """
        self._members, self._nodes = members, nodes
        rows = -(-nodes // 2)
        self._spared = 2 * rows - nodes
        self._diagonal, self._right = (np.ones((rows, 2 * members), precision) for _ in range(2))
        self._off, self._square, self._lever = (
            np.zeros((rows - 1, 2 * members), precision) for _ in range(3)
        )
        self._spare, self._middle = np.empty(2 * members, precision), np.empty(members, precision)
        self._eliminate = [(self._square[k], *self._diagonal[k : k + 2]) for k in range(rows - 1)]
        self._down = [(self._lever[k], *self._right[k : k + 2]) for k in range(rows - 1)]
        self._up = [(lever, below, above) for lever, above, below in reversed(self._down)]
        self._ends = [(own[-1, :members], own[-1, members:]) for own in (self._diagonal, self._right)]

    def first(self, diagonal: Array, off: Array, right: Array) -> Array:
        """Factor and solve, as `Systems` says."""
        middle = off[len(self._off)]
        self._fold(diagonal, self._diagonal)
        self._off[:, : self._members] = off[: len(self._off)]
        self._off[self._spared :, self._members :] = off[: len(self._off) : -1]
        multiply(self._off, self._off, self._square)
        spare = self._spare
        for square, above, below in self._eliminate:
            divide(square, above, spare)
            subtract(below, spare, below)
        divide(self._off, self._diagonal[:-1], self._lever)
        near, far = self._ends[0]
        divide(middle, near, self._middle)
        far -= middle * self._middle
        return self.second(right)

    def second(self, right: Array) -> Array:
        """Solve again, as `Systems` says."""
        spare = self._spare
        self._fold(right, self._right)
        for lever, above, below in self._down:
            multiply(lever, above, spare)
            subtract(below, spare, below)
        near, far = self._ends[1]
        far -= self._middle * near
        self._right /= self._diagonal
        near -= self._middle * far
        for lever, below, above in self._up:
            multiply(lever, below, spare)
            subtract(above, spare, above)
        half = len(self._right)
        right[:half] = self._right[:, : self._members]
        right[half:] = self._right[self._spared :, self._members :][::-1]
        return right

    def _fold(self, rows: Array, room: Array) -> None:
        """Lay rows beside those from the other end."""
        half = len(room)
        room[:, : self._members] = rows[:half]
        room[self._spared :, self._members :] = rows[: half - 1 : -1]
