"""All values of many readings as rows of one array, so that they are judged together and not one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.likelihood import Likelihood, interval_likelihood, student_likelihood
from model.readings import SparkReading
from model.sight import Reading

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

AT_ONCE: Final = 32_768
"""Predictions judged together."""


class ReadingRows:
    """Readings as R rows, one a value: a traverse has several, every other kind one.

    owner : (R,) the reading of each row; counts : (readings,) how many rows each has
    low, high : (R,) what it allows, equal for a point; own, wider : (R,) its sd as `Reading.own_sd`
    """

    def __init__(self, readings: Sequence[Reading]) -> None:
        """Gather what the rows are judged by."""
        self.readings = tuple(readings)
        limits = [reading.limits() for reading in self.readings]
        self.counts = np.array([len(low) for low, _ in limits], dtype=np.intp)
        self.owner = np.repeat(np.arange(len(limits)), self.counts)
        self.low, self.high = (
            np.concatenate([np.zeros(0), *(pair[side] for pair in limits)]) for side in (0, 1)
        )
        own_sd = np.array([reading.own_sd for reading in self.readings]).reshape(-1, 2)
        self.own, self.wider = own_sd[self.owner].T
        is_stream = np.array([isinstance(reading, SparkReading) for reading in self.readings], dtype=bool)
        self._is_stream = is_stream[self.owner]
        self._divided()

    def of(self, readings: Rows, rows: Rows) -> ReadingRows:
        """Return some readings alone; rows : all that are theirs, both in order."""
        part = copy(self)
        part.readings = tuple(self.readings[reading] for reading in readings.tolist())
        part.counts = self.counts[readings]
        part.owner = np.repeat(np.arange(len(readings)), part.counts)
        for name in ("low", "high", "own", "wider", "_is_stream"):
            setattr(part, name, getattr(self, name)[rows])
        part._divided()
        return part

    def _divided(self) -> None:
        """Tell points, intervals and streams of sparks apart; what allows anything is none of these."""
        is_point = self.low == self.high
        is_told = np.isfinite(self.low) | np.isfinite(self.high)
        self._points = np.flatnonzero(~self._is_stream & is_point)
        self._intervals = np.flatnonzero(~self._is_stream & ~is_point & is_told)
        self._streams = np.flatnonzero(self._is_stream)

    def spread(self, doubt: Array, rows: Rows | slice = slice(None)) -> Array:
        """Return 1 sd of some rows, else all, at the doubt of all predictions, (R,) or (R, members)."""
        tall = (-1,) + (1,) * (doubt.ndim - 1)
        wider, own = self.wider[rows].reshape(tall), self.own[rows].reshape(tall)
        return np.asarray(wider * np.hypot(own, doubt[rows]))

    def likelihood(self, value: Array, doubt: Array) -> Likelihood:
        """Return the likelihood of every row at predicted values, (R, members) each."""
        log, slope, curvature = (np.zeros_like(value) for _ in range(3))
        for rows, found in self._judged(value, doubt):
            log[rows], slope[rows], curvature[rows] = found.log, found.slope, found.curvature
        return Likelihood(log, slope, curvature)

    def _judged(self, value: Array, doubt: Array) -> Iterator[tuple[Rows, Likelihood]]:
        """Give the likelihood of points, of intervals, and of each stream of sparks, which is neither.

        What allows anything was not read, and says nothing.
        """
        low, high = self.low[:, None], self.high[:, None]
        at_once = max(1, AT_ONCE // max(1, value.shape[1]))
        for some in _lots(self._points, at_once):
            yield some, student_likelihood(value[some], low[some], self.spread(doubt, some))
        for some in _lots(self._intervals, at_once):
            sd = self.spread(doubt, some)
            yield some, interval_likelihood(value[some], low[some], high[some], sd)
        for row in self._streams:
            rows = np.array([row])
            yield rows, self.readings[self.owner[row]].likelihood(value[rows], doubt[rows])


def _lots(rows: Rows, at_once: int) -> Iterator[Rows]:
    """Give rows some at a time."""
    return (rows[first : first + at_once] for first in range(0, len(rows), at_once))
