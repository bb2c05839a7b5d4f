"""The slower fit, where the quick one is poor: the belief itself, drawn, and judged by what it foretells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.evidence import Evidence
from model.rest import AT_REST, Diagnostics, diagnosed, foretold, jobs_of, split_r_hat
from model.sampler import CHAINS, sample, steps_for
from model.scatter import Scale
from model.variational import Gaussian, over_belief

Array = NDArray[np.float64]

KEPT: Final = 60  # draws of each chain that are judged
STORED: Final = 12  # and that are stored: 384 in all, as large in a logbook as the covariance of thirty fires
RIDGE: Final = 1e-6


@dataclass(frozen=True)
class SlowFit:
    """What the sampler found.

    fitted : its mean and covariance, as the quick fit has them; draws : (draws, names and scales)
    r_hat : the worst split R-hat of what is foretold
    """

    fitted: Gaussian
    draws: Array
    r_hat: float


def settled_fit(
    evidence: Evidence, best: Gaussian, fitted: Gaussian, careful: bool
) -> tuple[Gaussian, Diagnostics, Array | None]:
    """Judge the quick fit, and draw the belief itself where that is asked for and the quick fit is poor.

    best, fitted : best point and quick fit of the evidence; careful : whether the slower fit may be tried
    Returns the fit that stands, how it came to rest, and draws of the slower one, None for the quick one.
    """
    diagnostics = diagnosed(evidence, best, fitted, careful)
    slow = slow_fit(evidence, fitted) if careful and not diagnostics.settled else None
    if slow is None:
        return fitted, diagnostics, None
    diagnostics = replace(diagnostics, r_hat=slow.r_hat)
    if slow.r_hat >= AT_REST:
        return fitted, diagnostics, None
    return slow.fitted, replace(diagnostics, method="slow"), slow.draws


def slow_fit(evidence: Evidence, fitted: Gaussian) -> SlowFit | None:
    """Draw from the belief, beginning at the quick fit.

    evidence : what was read, which says how much may be asked of it; fitted : the quick fit
    Returns what was found, None where the logbook is too large for what may be asked.
    """
    steps, jobs = steps_for(evidence), jobs_of(evidence)
    if not steps or not jobs:
        return None
    chains = sample(evidence, fitted, steps, KEPT)
    flat = chains.draws.reshape(KEPT * CHAINS, -1)
    told = foretold(evidence, flat, jobs).reshape(KEPT, CHAINS, -1)
    stored = np.linspace(0, KEPT - 1, STORED).astype(int)
    return SlowFit(
        _moments(evidence, flat, steps),
        chains.draws[stored].reshape(STORED * CHAINS, -1),
        float(split_r_hat(told).max()),
    )


def _moments(evidence: Evidence, draws: Array, steps: int) -> Gaussian:
    """Return the draws as a mean and covariance, with what is predicted about them."""
    size, books = len(evidence.names), evidence.scatter.books()
    mean = draws[:, :size].mean(axis=0)
    covariance = np.atleast_2d(np.cov(draws[:, :size].T)) + RIDGE * np.eye(size)
    scales = draws[:, size:]
    scale = Scale(books.mean + books.sd * scales.mean(axis=0), books.sd * scales.std(axis=0))
    return Gaussian(
        mean, Covariance.whole(covariance), over_belief(evidence, mean, covariance), 0.0, steps, scale
    )
