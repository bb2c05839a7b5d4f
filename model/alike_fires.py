"""Fires that have as many values each, so that they can be worked together as one array."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Places = NDArray[np.intp]


@dataclass(frozen=True)
class Alike:
    """N fires of P values each.

    fires : (N,) which of all fires; rows : (N, P) the values of each among all
    """

    fires: Places
    rows: Places

    def among(self, first: int, end: int) -> Alike:
        """Return those of some fires in a row."""
        asked = slice(*np.searchsorted(self.fires, [first, end]))
        return Alike(self.fires[asked], self.rows[asked])

    def lots(self, at_once: int) -> Iterator[Alike]:
        """Give them some at a time."""
        for first in range(0, len(self.fires), at_once):
            some = slice(first, first + at_once)
            yield Alike(self.fires[some], self.rows[some])


def alike_fires(of_value: Places, fires: int) -> tuple[Alike, ...]:
    """Return the fires of a logbook, those with as many values together.

    of_value : (values,) the fire of each, counted from 0; fires : how many there are
    """
    counts = np.bincount(of_value, minlength=fires)
    order, first = np.argsort(of_value, kind="stable"), np.cumsum(counts) - counts
    found = []
    for count in np.unique(counts).tolist():
        places = np.flatnonzero(counts == count)
        found.append(Alike(places, order[first[places][:, None] + np.arange(count)]))
    return tuple(found)
