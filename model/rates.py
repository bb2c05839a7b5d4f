"""How often something happens, from few counts: shares with honest bands."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Final

import numpy as np
from scipy.special import betaincinv

from model.argument_trial import HALF_BAND_SDS

TAILS: Final = (0.05, 0.5, 0.95)
JEFFREYS: Final = 0.5
GRID: Final = 400


@dataclass(frozen=True)
class Rate:
    """A share of times, with its 90 % band; `happened` of `times` were seen."""

    happened: int
    times: int
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class RateDifference:
    """The second share less the first, with its 90 % band."""

    low: float
    middle: float
    high: float


def jeffreys_rate(happened: int, times: int) -> Rate:
    """Return a share and its 90 % band from counts.

    happened : 0 to times; times : 0 or more; with none the band is nearly everything
    Returns the quantiles of Beta(happened + 1/2, times - happened + 1/2); an end that was always or never
    seen is closed (Brown, Cai & DasGupta, Statistical Science 16 (2001) 101, from memory).
    """
    low, middle, high = np.asarray(betaincinv(happened + JEFFREYS, times - happened + JEFFREYS, TAILS))
    return Rate(
        happened,
        times,
        0.0 if happened == 0 else float(low),
        float(middle),
        1.0 if happened == times else float(high),
    )


def rate_difference(first: Rate, second: Rate) -> RateDifference:
    """Return the second share less the first, each as `jeffreys_rate` has it and independent.

    Quantiles over a grid of equally likely values of each, so that the same counts always give the same.
    """
    shares = (np.arange(GRID) + 0.5) / GRID
    one, other = (
        betaincinv(rate.happened + JEFFREYS, rate.times - rate.happened + JEFFREYS, shares)
        for rate in (first, second)
    )
    low, middle, high = np.quantile(other[:, None] - one[None, :], TAILS)
    return RateDifference(float(low), float(middle), float(high))


def times_needed(first: Rate, second: Rate, half_band: float) -> int:
    """Return how many times in all each way must be seen for the difference to be known to a half band.

    first, second : as seen so far; half_band : wanted, 0 to 1
    Returns the times on each side, by the normal law of two shares at the middle of what both say together.
    """
    together = jeffreys_rate(first.happened + second.happened, first.times + second.times).middle
    return ceil(2.0 * together * (1.0 - together) * (HALF_BAND_SDS / half_band) ** 2)
