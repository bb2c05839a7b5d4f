"""Where a reading lies in what was foretold of it: the band, and how far out in its tail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from model.drawn_piece import DrawnPiece
from model.likelihood import READING_FREEDOM
from model.readings import BendReading, Observation, TraverseReading
from model.sight import Reading
from model.traverse_reading import TRAVERSE_WORTH

Array = NDArray[np.float64]

BAND: Final = (0.05, 0.95)
ODD_TAIL: Final = 0.1
"""Tail at which a reading is odd [-]: one in ten is with nothing wrong."""
SCATTERS: Final = 20
"""Equally likely values of a reading's own scatter that a band is made of."""


@dataclass(frozen=True)
class Place:
    """One reading beside what was foretold of it, in the reading's own unit.

    point : which of a traverse's points is the oddest, 0 for other readings
    low, middle, high : nine in ten of such readings, and half of them
    read_low, read_high : what was read; an end that is open is infinite
    tail : probability of a reading at least so far out, either way [-]
    side : -1 below what was foretold, +1 above
    """

    key: str
    point: int
    low: float
    middle: float
    high: float
    read_low: float
    read_high: float
    tail: float
    side: int

    @property
    def is_odd(self) -> bool:
        """True for a reading outside nine in ten."""
        return self.tail < ODD_TAIL


def places_of(piece: DrawnPiece, observations: Sequence[Observation]) -> tuple[Place, ...]:
    """Return every reading beside its forecast.

    piece : as told, over draws; observations : its readings
    Source: predictive distribution, a mixture over draws of the reading's own scatter: Student's t for a
    value, normal for an interval, as in `likelihood`. Points of a traverse err together and count as four.
    """
    return tuple(_place(piece, observation) for observation in observations)


def _place(piece: DrawnPiece, observation: Observation) -> Place:
    reading = cast(Reading, observation.reading)
    found = piece.shows(observation.process, reading)
    sd = _scatter(reading, found.value, found.doubt)
    low, high = reading.limits()
    is_value = bool((low == high).all())
    below = _share_below(found.value, sd, high, is_value)
    above = 1.0 - _share_below(found.value, sd, low, is_value)
    tails = np.minimum(2.0 * np.minimum(below, above), 1.0)
    point = int(np.argmin(tails))
    worth = min(float(len(tails)), TRAVERSE_WORTH)
    edges = _quantiles(found.value[:, point], sd[:, point], is_value)
    return Place(
        key=observation.key,
        point=point,
        low=edges[0],
        middle=edges[1],
        high=edges[2],
        read_low=float(low[point]),
        read_high=float(high[point]),
        tail=float(min(1.0, worth * tails[point])),
        side=_side(reading, is_below=bool(below[point] < above[point])),
    )


def _side(reading: Reading, is_below: bool) -> int:
    """Return -1 for softer or shallower than foretold, 1 for harder or deeper: a soft bar bends further."""
    return -1 if is_below != isinstance(reading, BendReading) else 1


def _scatter(reading: Reading, value: Array, doubt: Array) -> Array:
    """Return each point's own scatter; a traverse widens it for its many points, which one point is not."""
    sd = np.broadcast_to(reading.spread(value, doubt), value.shape)
    if isinstance(reading, TraverseReading):
        return np.asarray(sd / max(1.0, len(reading.depth_m) / TRAVERSE_WORTH) ** 0.5)
    return np.asarray(sd)


def _share_below(value: Array, sd: Array, limit: Array, is_value: bool) -> Array:
    """Return the predictive share below a limit, (points,)."""
    z = (limit - value) / sd
    below = stdtr(READING_FREEDOM, z) if is_value else ndtr(z)
    return np.asarray(below.mean(axis=0))


def _quantiles(value: Array, sd: Array, is_value: bool) -> tuple[float, float, float]:
    shares = (np.arange(SCATTERS) + 0.5) / SCATTERS
    scatter = stdtrit(READING_FREEDOM, shares) if is_value else ndtri(shares)
    spread = value[:, None] + sd[:, None] * scatter
    low, middle, high = np.quantile(spread, (BAND[0], 0.5, BAND[1]))
    return float(low), float(middle), float(high)
