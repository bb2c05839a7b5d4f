"""How much a reading that nobody has taken yet would say of the value it reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from model.depth_readings import DepthReading
from model.likelihood import READING_FREEDOM
from model.sight import Reading

Array = NDArray[np.float64]

STUDENT_SHARE: Final = (READING_FREEDOM + 1.0) / (READING_FREEDOM + 3.0)
"""Fisher information of the place of a Student's t of unit scale: (n + 1)/(n + 3)."""
NODES: Final = 41  # equally likely places of the belief over which an interval's information is averaged


def information_of(outcomes: Sequence[Reading], value: Array, sd: Array, doubt: Array) -> Array:
    """Return the Fisher information of a reading by the value it reads, averaged over what is believed.

    outcomes : the reading with any value where it shows a number; every interval it can say where it
        brackets (between which two files, skates or cuts)
    value, sd, doubt : (points,) middle and sd of what is believed it would show, and the model's own doubt
    Returns (points,), 1 over the unit squared.
    Source: Fisher's information of a Student's t, and of a list of outcomes by their probabilities.
    """
    low, high = outcomes[0].limits()
    if len(outcomes) == 1 and bool((low == high).all()):
        spread = _noted_at(outcomes[0], value).spread(value[None], doubt[None])[0]
        return np.asarray(STUDENT_SHARE / spread**2)
    return _of_intervals(outcomes, value, sd, doubt)


def _of_intervals(outcomes: Sequence[Reading], value: Array, sd: Array, doubt: Array) -> Array:
    places = value + sd * ndtri((np.arange(NODES) + 0.5) / NODES)[:, None]
    doubts = np.broadcast_to(doubt, places.shape)
    likely = [outcome.likelihood(places, doubts) for outcome in outcomes]
    share = np.exp(np.stack([one.log for one in likely]))
    share /= share.sum(axis=0)
    slope = np.stack([one.slope for one in likely])
    slope = slope - (share * slope).sum(axis=0)
    return np.asarray((share * slope**2).sum(axis=0).mean(axis=0))


def _noted_at(reading: Reading, value: Array) -> Reading:
    """Return the reading as it would be noted in the middle: a depth's doubt grows with the depth."""
    if isinstance(reading, DepthReading):
        return replace(reading, value_m=max(float(value[0]), 0.0))
    return reading
