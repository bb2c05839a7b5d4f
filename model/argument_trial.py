"""The cheapest fair trial of an argument: how often it must be run before the band is as narrow as wanted."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

from scipy.special import ndtri

Trial = Literal["one_box", "one_fire", "two_fires"]

COUPONS_A_SIDE: Final = 2
"""Coupons of each side in one trial: a reading's own scatter is halved for next to nothing; own choice."""
HALF_BAND_SDS: Final = float(ndtri(0.95))


@dataclass(frozen=True)
class Scatter:
    """What makes two like coupons differ in one outcome, 1 sd each [mm or HRC].

    reading : the reading itself; box : what one box has to itself in a fire; fire : from fire to fire
    """

    reading: float
    box: float
    fire: float


def trial_variance(scatter: Scatter, trial: Trial) -> float:
    """Return the variance of the difference that one trial shows.

    scatter : as fitted; trial : both sides in one box, in two boxes of one fire, or in two fires alike
    Returns [mm2 or HRC2], of the mean of `COUPONS_A_SIDE` coupons less that of as many others.
    """
    own = scatter.reading**2 / COUPONS_A_SIDE
    if trial == "one_box":
        return 2.0 * own
    if trial == "one_fire":
        return 2.0 * (scatter.box**2 + own)
    return 2.0 * (scatter.fire**2 + scatter.box**2 + own)


def trials_needed(scatter: Scatter, trial: Trial, half_band: float, sd_now: float) -> int:
    """Return how many more trials bring the 90 % band down to give or take `half_band`.

    scatter : as fitted; half_band : wanted, above 0; sd_now : of the effect as it stands, above 0
    Returns 0 where the band is so narrow already. Precisions add: what the book says now is kept.
    """
    wanted = (HALF_BAND_SDS / half_band) ** 2
    missing = wanted - 1.0 / sd_now**2
    return max(0, ceil(missing * trial_variance(scatter, trial) - 1e-9))
