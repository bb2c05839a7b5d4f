"""Cells of M sections as nodes of one line, and the line's ends at every face.

Each member has n + 2 nodes in a row: its outer face, its cells from there inwards, its inner face. Links join
neighbours; those from one member to the next carry nothing. So a balance of all members is a few calls on
arrays of one shape that lie in a row, which is what numpy does fastest, for one member as for hundreds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class Line:
    """Where the nodes of members lie; arrays of faces hold all outer ones, then all inner ones, (2M,).

    members, cells : how many, and cells of each
    faces, ends, beyond : nodes of the faces, of the cells next to them, and of the cells next to those
    end_links : links between faces and end cells; link k joins node k - 1 to node k, N + 1 in all with one
        before the first node and one after the last
    mean : (n + 2,) what each node of a member counts in the mean of its cells
    """

    members: int
    cells: int
    faces: Places
    ends: Places
    beyond: Places
    end_links: Places
    mean: Array

    @classmethod
    @lru_cache(maxsize=16)
    def of(cls, members: int, cells: int) -> Line:
        """Return the line of so many members: the same few are asked for all day."""
        outer = np.arange(members) * (cells + 2)
        inner = outer + cells + 1
        return cls(
            members,
            cells,
            faces=np.concatenate([outer, inner]),
            ends=np.concatenate([outer + 1, inner - 1]),
            beyond=np.concatenate([outer + 2, inner - 2]),
            end_links=np.concatenate([outer + 1, inner]),
            mean=np.pad(np.full(cells, 1.0 / cells), 1),
        )

    def spread(self, values: Array) -> Array:
        """Return values a member, (..., M), as values a node, (..., N)."""
        return values.repeat(self.cells + 2, axis=-1)

    def laid(self, cells: Array, faces: float) -> Array:
        """Return values of cells, (1 or M, n), as nodes, with a value at all faces."""
        nodes = np.full((self.members, self.cells + 2), faces)
        nodes[:, 1:-1] = cells
        return nodes.ravel()

    def linked(self, links: Array) -> Array:
        """Return values of members' links, (1 or M, n + 1), as the line's, (N - 1,), 0 between members."""
        line = np.zeros((self.members, self.cells + 2))
        line[:, :-1] = links
        return line.ravel()[:-1]

    def cells_of(self, nodes: Array) -> Array:
        """Return the cells among nodes, (M, n)."""
        return nodes.reshape(self.members, self.cells + 2)[:, 1:-1]

    def worst_rms(self, nodes: Array, spare: Array) -> float:
        """Return the root mean square over the cells of the member where it is greatest, or NaN if any is."""
        if self.members == 1:  # what a pack gains counts for nothing beside its cells
            return sqrt(float(nodes.dot(nodes)) / self.cells)
        means = np.square(nodes, spare).reshape(self.members, -1).dot(self.mean)
        return sqrt(means.item(means.argmax()))

    def both(self, outer: Array, inner: Array, moments: int = 1) -> Array:
        """Return values of outer and of inner faces as values of faces, (moments, 2M).

        outer, inner : (moments, M), or what broadcasts to it
        """
        faces = np.empty((moments, 2, self.members))
        faces[:, 0], faces[:, 1] = outer, inner
        return faces.reshape(moments, -1)

    def apart(self, faces: Array) -> tuple[Array, Array]:
        """Return values of faces as those of outer and of inner ones, (M,) each."""
        return faces[: self.members], faces[self.members :]
