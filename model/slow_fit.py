"""The slower fit: the belief itself, drawn, put right by full forecasts, and judged by what it foretells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.density import told_by_fire
from model.evidence import Evidence
from model.linearised import over_belief
from model.rest import AT_REST, Diagnostics, diagnosed, foretold, jobs_of, split_r_hat
from model.sampler import CHAINS, sample, steps_for
from model.scatter import Scale
from model.variational import Gaussian, latent_weight, normal_equations

Array = NDArray[np.float64]

KEPT: Final = 36  # draws of each chain that are judged
STORED: Final = 384
"""Draws that are stored, as large in a logbook as the covariance of 190 names; in an order along which
depth and hardness change evenly, so that every second of them is as good a picture."""
GROUPS: Final = 48
ROUNDS: Final = 3  # of going on where the chains have not come to rest
RIDGE: Final = 1e-6
LEAST_WORTH: Final = 200.0
"""How many even draws those left must be worth once full forecasts have weighed them."""


@dataclass(frozen=True)
class SlowFit:
    """What the sampler found.

    draws : (draws, names and scales), each as likely as the others, evenly along depth and hardness
    r_hat : the worst split R-hat of what is foretold
    worth : how many draws of even weight they were picked from
    """

    draws: Array
    r_hat: float
    worth: float

    @property
    def is_at_rest(self) -> bool:
        """Tell whether it may stand."""
        return self.r_hat < AT_REST and self.worth >= LEAST_WORTH


def settled_fit(
    evidence: Evidence, best: Gaussian, fitted: Gaussian, careful: bool
) -> tuple[Gaussian, Diagnostics, Array | None]:
    """Judge the quick fit and, where it is asked for and can be afforded, draw the belief itself.

    best, fitted : best point and quick fit of the evidence; careful : whether the slower fit is asked for
    Returns the Gaussian to score fires by, how the fit that stands came to rest, and its draws, None for the
    quick one. The Gaussian stays the quick one unless that is poor.
    """
    slow = slow_fit(evidence, fitted) if careful else None
    stands = slow is not None and slow.is_at_rest
    diagnostics = diagnosed(evidence, best, fitted, careful and not stands)
    if slow is None:
        return fitted, diagnostics, None
    told = replace(diagnostics, r_hat=slow.r_hat, worth=slow.worth)
    if not stands:
        return fitted, told, None
    about = fitted if diagnostics.settled else _gaussian(evidence, slow.draws, fitted)
    return about, replace(told, method="slow"), slow.draws


def slow_fit(evidence: Evidence, fitted: Gaussian) -> SlowFit | None:
    """Draw from the belief, beginning at the quick fit.

    evidence : what was read, which says how much may be asked of it; fitted : the quick fit
    Returns what was found, None where the logbook is too large for what may be asked.
    """
    steps, jobs = steps_for(evidence), jobs_of(evidence)
    if not steps or not jobs:
        return None
    chains, gone, told = None, [], []
    for _ in range(ROUNDS):
        chains = sample(evidence, fitted, steps, KEPT, chains)
        gone.append(chains.draws)
        flat = chains.draws.reshape(KEPT * CHAINS, -1)
        told.append(foretold(evidence, flat, jobs).reshape(KEPT, CHAINS, -1))
        first = min(1, len(gone) - 1)  # the first round does not count once there are others
        seen = np.concatenate(told[first:])
        r_hat = float(split_r_hat(seen).max())
        if r_hat < AT_REST:
            break
    flat = np.concatenate(gone[first:]).reshape(seen.shape[0] * CHAINS, -1)
    share = _share(evidence, flat)
    return SlowFit(
        flat[_picked(share, _ordered(seen.reshape(len(flat), -1)))],
        r_hat,
        float(1.0 / np.sum(share**2)),
    )


def _share(evidence: Evidence, draws: Array) -> Array:
    """Return how much each draw off surfaces counts once full forecasts are asked, (draws,), 1 in all."""
    judge = evidence.in_full(len(draws))
    if judge is None:
        return np.full(len(draws), 1.0 / len(draws))
    gain = (told_by_fire(judge, draws) - told_by_fire(evidence, draws, roughly=True)).sum(axis=1)
    share = np.exp(gain - gain.max())
    return np.asarray(share / share.sum())


def _ordered(told: Array) -> NDArray[np.intp]:
    """Return an order along which depth and hardness of the newest job both change evenly.

    told : as `foretold`; in groups by hardness, and up and down in depth from one group to the next
    """
    by_hardness = np.array_split(np.argsort(told[:, 1]), GROUPS)
    by_depth = (group[np.argsort(told[group, 0])] for group in by_hardness)
    return np.concatenate([group[:: 1 - 2 * (place % 2)] for place, group in enumerate(by_depth)])


def _picked(share: Array, order: NDArray[np.intp]) -> NDArray[np.intp]:
    """Pick draws as often as they count, evenly along an order, so that picking adds hardly any chance."""
    at = (np.arange(STORED) + 0.5) / STORED
    reached = np.cumsum(share[order])
    return np.asarray(order[np.searchsorted(reached / reached[-1], at)])


def _gaussian(evidence: Evidence, draws: Array, fitted: Gaussian) -> Gaussian:
    """Return the bell curve that the readings give where the draws lie, for where the quick fit is poor."""
    size, books = len(evidence.names), evidence.scatter.books()
    mean = draws[:, :size].mean(axis=0)
    covariance = np.atleast_2d(np.cov(draws[:, :size].T)) + RIDGE * np.eye(size)
    scales = draws[:, size:]
    scale = Scale(books.mean + books.sd * scales.mean(axis=0), books.sd * scales.std(axis=0))
    line = over_belief(evidence, mean, covariance)
    weight = latent_weight(evidence, evidence.scatter.room(scale), mean, np.diag(covariance))
    precision, _ = normal_equations(line, mean, weight)
    return Gaussian(mean, precision.inverse(), line, 0.0, fitted.steps, scale)
