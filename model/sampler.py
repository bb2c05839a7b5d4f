"""Draws of a whole belief, for where no bell curve is near enough: pCN in the space that whitens the fit.

Preconditioned Crank-Nicolson (Cotter, Roberts, Stuart, White, Statistical Science 28 (2013) 424): proposals
leave the quick fit's own Gaussian as it is, so that only what that gets wrong is put to the test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.density import coordinates_of, log_density, normal_of
from model.evidence import Evidence
from model.variational import Gaussian

Array = NDArray[np.float64]

CHAINS: Final = 32
STEPS: Final = (400, 3000)  # least and most a chain goes; the first third is not kept
BEGUN_WIDER: Final = (
    1.5  # the chains begin that much wider apart than the quick fit, to show if they do not mix
)
SAMPLER_SEED: Final = 40
ADAPTED_EVERY: Final = 25
WANTED_ACCEPTANCE: Final = 0.3
STRIDES: Final = (0.03, 0.9)
JITTER: Final = 1e-10
SLOPE_OVER: Final = 0.3


@dataclass(frozen=True)
class Chains:
    """What the chains went through after they settled.

    draws : (kept, chains, coordinates), the scales of the fires' scatter last; accepted : share of proposals
    """

    draws: Array
    accepted: float


def steps_for(evidence: Evidence) -> int:
    """Return how many steps the sampler may take for a logbook, 0 where too few to be of use."""
    steps = evidence.most_predicted // (CHAINS * max(1, len(evidence.processes)))
    return 0 if steps < STEPS[0] else min(steps, STEPS[1])


def sample(evidence: Evidence, fitted: Gaussian, steps: int, kept: int) -> Chains:
    """Draw from the belief itself, beginning at the quick fit.

    evidence : what was read; fitted : the quick fit; steps : 3 or more; kept : of each chain, 1 or more
    The same logbook gives the same draws.
    """
    mean, root = _reference(evidence, fitted)
    rng = np.random.default_rng([SAMPLER_SEED, len(mean)])
    white = BEGUN_WIDER * rng.standard_normal((CHAINS, len(mean)))
    stride, worth = 0.3, _worth(evidence, mean, root, white)
    burnt = steps // 3
    keep = set(np.linspace(burnt, steps - 1, kept).astype(int).tolist())
    draws, taken, asked = [], 0.0, 0.0
    for step in range(steps):
        own = np.clip(stride * np.exp(0.5 * rng.standard_normal((CHAINS, 1))), *STRIDES)
        trial = np.sqrt(1.0 - own**2) * white + own * rng.standard_normal(white.shape)
        trial_worth = _worth(evidence, mean, root, trial)
        goes = np.log(rng.uniform(size=CHAINS)) < trial_worth - worth
        white[goes], worth[goes] = trial[goes], trial_worth[goes]
        taken, asked = taken + goes.mean(), asked + 1.0
        if step < burnt and (step + 1) % ADAPTED_EVERY == 0:
            stride = float(np.clip(stride * np.exp(taken / asked - WANTED_ACCEPTANCE), *STRIDES))
            taken, asked = 0.0, 0.0
        if step in keep:
            draws.append(coordinates_of(evidence, mean + white @ root.T))
    return Chains(np.array(draws), taken / max(asked, 1.0))


def _worth(evidence: Evidence, mean: Array, root: Array, white: Array) -> Array:
    """Return by how much the belief differs from the quick fit at some draws, in ln."""
    return np.asarray(log_density(evidence, mean + white @ root.T) + 0.5 * np.sum(white**2, axis=1))


def _reference(evidence: Evidence, fitted: Gaussian) -> tuple[Array, Array]:
    """Return mean and lower root of covariance of the quick fit, in coordinates that begin as N(0, 1)."""
    middle, sd = evidence.scatter.coordinates(fitted.scale)
    size = len(fitted.mean)
    root = np.zeros((size + len(sd), size + len(sd)))
    root[:size, :size] = np.linalg.cholesky(fitted.covariance + JITTER * np.eye(size))
    root[range(size, len(root)), range(size, len(root))] = sd
    at = np.concatenate([fitted.mean, middle])
    either = normal_of(evidence, np.stack([at, at + SLOPE_OVER, at - SLOPE_OVER]))
    slope = (either[1, :size] - either[2, :size]) / (2.0 * SLOPE_OVER)
    root[:size] *= slope[:, None]
    return either[0], root
