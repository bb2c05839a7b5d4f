"""Some pieces of a logbook with all that was read of them: what can be foretold without the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.reading_rows import ReadingRows

Rows = NDArray[np.intp]


@dataclass(frozen=True)
class Part:
    """R of P processes, the N of O observations of them and the W of V values of these.

    rows, observations, values : (R,), (N,), (W,) their places among all, in order
    of : (N,) process of each observation, counted within the part; readings : the same readings as rows
    """

    rows: Rows
    observations: Rows
    values: Rows
    of: Rows
    readings: ReadingRows

    @property
    def first(self) -> Rows:
        """The first observation of each process, counted within the part, (R,)."""
        return np.unique(self.of, return_index=True)[1]

    @classmethod
    def among(cls, is_asked: NDArray[np.bool_], of: Rows, readings: ReadingRows) -> Part:
        """Return the part of some processes; is_asked : (P,); of : (O,) process of each observation."""
        observations = np.flatnonzero(is_asked[of])
        values = np.flatnonzero(is_asked[of[readings.owner]])
        place = np.cumsum(is_asked) - 1
        own = readings if len(observations) == len(of) else readings.of(observations, values)
        return cls(np.flatnonzero(is_asked), observations, values, place[of[observations]], own)

    def values_of(self, observation: int) -> slice:
        """Return where the values of an observation stand in the part; observation : its place among all."""
        own = int(np.searchsorted(self.observations, observation))
        first = int(self.readings.counts[:own].sum())
        return slice(first, first + int(self.readings.counts[own]))
