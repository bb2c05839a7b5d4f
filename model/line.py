"""Cells of M sections as nodes of one line, and the line's ends at every face.

Each member has n + 2 nodes: its outer face, its cells from there inwards, its inner face. Those of few
members lie in one row, member after member, and what would link one to the next carries nothing; of many the
same nodes lie side by side in a row of their own, so that their systems are solved a row at a time
(`tridiagonal`) and what a member has alike in all its nodes is one number. Either way node and link k are
followed by node and link k + 1, and a balance of all members is a few calls on arrays that lie in a row, as
numpy does fastest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
Precision = np.dtype[Any]

DOUBLE: Final[Precision] = np.dtype(np.float64)
SIDE_BY_SIDE: Final = 120
"""Members from which on they lie side by side: where rows take less time than LAPACK's chain."""


@dataclass(frozen=True)
class Line:
    """Where the nodes of members lie; arrays of faces hold all outer ones, then all inner ones, (2M,).

    members, cells : how many, and cells of each
    precision : of all that lies on it, single or double
    is_wide : whether members lie side by side
    faces, ends, beyond : flat places of the faces, of the cells next to them, and of the cells next to those
    end_links : of the links between faces and end cells; link k joins node k - 1 to node k, with one more
        before the first node and one after the last
    mean : (n + 2,) what each node of a member counts in the mean of its cells
    """

    members: int
    cells: int
    precision: Precision
    is_wide: bool
    faces: Places
    ends: Places
    beyond: Places
    end_links: Places
    mean: Array

    @classmethod
    @lru_cache(maxsize=16)
    def of(cls, members: int, cells: int, precision: Precision = DOUBLE) -> Line:
        """Return the line of so many members: the same few are asked for all day."""
        is_wide = members >= SIDE_BY_SIDE
        apart = members if is_wide else 1
        outer = np.arange(members) * (1 if is_wide else cells + 2)
        inner = outer + (cells + 1) * apart
        return cls(
            members,
            cells,
            precision,
            is_wide,
            faces=np.concatenate([outer, inner]),
            ends=np.concatenate([outer + apart, inner - apart]),
            beyond=np.concatenate([outer + 2 * apart, inner - 2 * apart]),
            end_links=np.concatenate([outer + apart, inner]),
            mean=np.pad(np.full(cells, 1.0 / cells, precision), 1),
        )

    def room(self, more: int = 0) -> Array:
        """Return an array of noughts for all nodes, (N,) or (n + 2, M), or for so many more rows of links."""
        if self.is_wide:
            return np.zeros((self.cells + 2 + more, self.members), self.precision)
        return np.zeros(self.members * (self.cells + 2) + more, self.precision)

    def spread(self, values: Array) -> Array:
        """Return values a member, (..., M), as values a node, or as what goes with all its nodes."""
        own = values.astype(self.precision, copy=False)
        return own if self.is_wide else own.repeat(self.cells + 2, axis=-1)

    def of_links(self, spread: Array) -> Array:
        """Return of one set of `spread` what goes with the links between nodes."""
        return spread if self.is_wide else spread[:-1]

    def laid(self, cells: Array, faces: float) -> Array:
        """Return values of cells, (1 or M, n), as nodes, with a value at all faces."""
        nodes = np.full((self.members, self.cells + 2), faces, self.precision)
        nodes[:, 1:-1] = cells
        return self._laid(nodes)

    def linked(self, links: Array) -> Array:
        """Return values of members' links, (1 or M, n + 1), as the line's between nodes."""
        line = np.zeros((self.members, self.cells + 2), self.precision)
        line[:, :-1] = links
        return self._laid(line)[:-1]

    def cells_of(self, nodes: Array) -> Array:
        """Return the cells among nodes, (M, n)."""
        by_member = nodes.T if self.is_wide else nodes.reshape(self.members, -1)
        return np.ascontiguousarray(by_member[:, 1:-1])

    def worst_rms(self, nodes: Array, spare: Array) -> float:
        """Return the root mean square over the cells of the member where it is greatest, or NaN if any is."""
        if self.members == 1:  # what a pack gains counts for nothing beside its cells
            return sqrt(float(nodes.dot(nodes)) / self.cells)
        squares = np.square(nodes, spare)
        means = self.mean.dot(squares) if self.is_wide else squares.reshape(self.members, -1).dot(self.mean)
        return sqrt(means.item(means.argmax()))

    def _laid(self, nodes: Array) -> Array:
        """Return nodes by member, (M, n + 2), as they lie."""
        return np.ascontiguousarray(nodes.T) if self.is_wide else nodes.ravel()

    def both(self, outer: Array, inner: Array, moments: int = 1) -> Array:
        """Return values of outer and of inner faces as values of faces, (moments, 2M).

        outer, inner : (moments, M), or what broadcasts to it
        """
        faces = np.empty((moments, 2, self.members), self.precision)
        faces[:, 0], faces[:, 1] = outer, inner
        return faces.reshape(moments, -1)

    def apart(self, faces: Array) -> tuple[Array, Array]:
        """Return values of faces as those of outer and of inner ones, (M,) each."""
        return faces[: self.members], faces[self.members :]
