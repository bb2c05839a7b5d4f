"""How much more one way bows than another: means of batches, part against like part, with an honest band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtrit

USUAL_SD_M: Final = 0.1e-3
"""Batch to batch scatter of the mean bow of one part in one bath [m]; common practice, no source."""
WORTH: Final = 4.0
"""Batches that the usual scatter counts for beside the shop's own; own choice."""
TAIL: Final = 0.95


@dataclass(frozen=True)
class Level:
    """The mean of one part in one batch [m], on one side (0 or 1)."""

    part: str
    side: int
    mean_m: float


@dataclass(frozen=True)
class LevelDifference:
    """The second side less the first [m] with its 90 % band, and of how many batches it is."""

    low_m: float
    middle_m: float
    high_m: float
    batches: int


def level_difference(levels: Sequence[Level]) -> LevelDifference | None:
    """Return how much the second side differs from the first, each part held against itself.

    levels : any number; parts that were on one side only say nothing of the difference
    Returns None where no part was on both.
    Source: least squares with a level for each part; Student's t with the usual scatter counted as `WORTH`
    batches (conjugate normal model, Gelman and others, Bayesian Data Analysis, from memory).
    """
    both = {part for part in _parts(levels, 0) if part in _parts(levels, 1)}
    told = [level for level in levels if level.part in both]
    if not told:
        return None
    parts = sorted(both)
    design = np.array([[*(level.part == part for part in parts), level.side] for level in told], dtype=float)
    means = np.array([level.mean_m for level in told])
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ design.T @ means
    rest = float(np.sum((means - design @ found) ** 2))
    freedom = WORTH + len(told) - design.shape[1]
    sd = float(np.sqrt((WORTH * USUAL_SD_M**2 + rest) / freedom * inverse[-1, -1]))
    half = float(stdtrit(freedom, TAIL)) * sd
    return LevelDifference(float(found[-1]) - half, float(found[-1]), float(found[-1]) + half, len(told))


def _parts(levels: Sequence[Level], side: int) -> set[str]:
    return {level.part for level in levels if level.side == side}
