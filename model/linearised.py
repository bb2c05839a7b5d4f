"""Every predicted value near some coordinates, with its slopes: at a point, or averaged over a belief.

Slopes at a point are finite differences of the few local inputs; over a belief they are those of the straight
line nearest to draws of it (statistical linearisation).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Pairs
from model.evidence import LOCAL, Evidence
from model.inputs import FITTED_INPUTS
from model.touching import Touching

Array = NDArray[np.float64]

# Finite difference of each local input: temperature [K], ln transfer, logit, ln lag, quantile, rim [wt%],
# ln bath, oven [K], ln of what a temper takes off, ln of soft austenite, martensite [HV], grain number, ln of
# the times of pearlite and bainite, activation energy [J/mol], the film's end [K].
DIFFERENCE: Final = np.array(
    [1.5, 0.03, 0.04, 0.03, 0.05, 0.003, 0.05, 3.0, 0.05, 0.05, 5.0, 0.1, 0.08, 0.08, 1e4, 15.0]
)
DRAWS: Final = 48
DRAW_SEED: Final = 20
JITTER: Final = 1e-9


@dataclass(frozen=True)
class Linearised:
    """Every predicted value near some coordinates: what the normal equations are made of.

    evidence : what was read
    value, doubt, slope, curvature : (points,) prediction and the log likelihood's slope and curvature by it
    touching : slopes by the coordinates that each touches
    """

    evidence: Evidence
    value: Array
    doubt: Array
    slope: Array
    curvature: Array
    touching: Touching

    @property
    def owner(self) -> NDArray[np.intp]:
        """Observation of each point, (points,)."""
        return self.evidence.values.owner

    @cached_property
    def jacobian(self) -> Array:
        """Slopes by all coordinates, (points, names)."""
        return self.touching.full()

    @cached_property
    def told(self) -> Pairs:
        """The precision that readings and checks give the coordinates."""
        return self.evidence.told(self.touching, self.curvature)

    def information(self, mean: Array) -> Array:
        """Return what readings and checks say of the coordinates, (names,): their precision times where.

        mean : (names,) the coordinates that they were linearised at
        """
        return self.touching.gathered(self.target(mean)) + self.evidence.check_information

    def target(self, mean: Array) -> Array:
        """Return what each point adds to that along its slopes, (points,)."""
        return self.slope + self.curvature * self.touching.along(mean)


def at_point(evidence: Evidence, coordinates: Array) -> Linearised:
    """Linearise by finite differences of the local inputs, all processes as one solve."""
    moved = evidence.moved
    members = np.repeat(evidence.inputs(coordinates)[:, None, :], 1 + len(moved), axis=1)
    for member, place in enumerate(moved, start=1):
        members[:, member, place] += DIFFERENCE[place]
    bias = np.repeat(evidence.local(coordinates)[:, -1:], 1 + len(moved), axis=1)
    found = evidence.foretold(members, bias)
    value, doubt = found.value[:, :1], found.doubt[:, :1]
    local = np.zeros((len(value), LOCAL))
    local[:, moved] = (found.value[:, 1:] - value) / DIFFERENCE[moved]
    local[:, -1] = 1.0  # a bias is added as it is
    return _linearised(evidence, value, doubt, evidence.chained(local))


def value_at(evidence: Evidence, coordinates: Array) -> Array:
    """Return every predicted value at some coordinates, (points,), without its slopes."""
    inputs, bias = evidence.inputs(coordinates)[:, None, :], evidence.local(coordinates)[:, -1:]
    return evidence.foretold(inputs, bias).value[:, 0]


def over_belief(evidence: Evidence, mean: Array, covariance: Array | Covariance) -> Linearised:
    """Linearise over a Gaussian belief: averages over draws in place of values at a point.

    Each process is drawn from its own marginal over the few local inputs, with one set of standard
    draws whose mean is nothing and whose covariance is one, so that straight functions come out exact.
    """
    standard = _standard_draws()
    roots = _roots(evidence.local_covariance(covariance))
    inputs = np.repeat(evidence.inputs(mean)[:, None, :], DRAWS, axis=1)
    own = roots[evidence.first, :FITTED_INPUTS, :FITTED_INPUTS]
    inputs[:, :, :FITTED_INPUTS] += standard[:, :FITTED_INPUTS] @ own.transpose(0, 2, 1)
    bias = evidence.local(mean)[:, -1:] + roots[:, -1, :] @ standard.T
    found = evidence.foretold(inputs, bias)
    along = (found.value @ standard / DRAWS)[:, :, None]
    local = np.asarray(np.linalg.solve(roots.transpose(0, 2, 1)[evidence.values.owner], along)[:, :, 0])
    return _linearised(evidence, found.value, found.doubt, evidence.chained(local))


def _linearised(evidence: Evidence, value: Array, doubt: Array, touching: Touching) -> Linearised:
    """Return averages over members of the predicted values and of their likelihoods, (values, members)."""
    like = evidence.values.likelihood(value, doubt)
    return Linearised(
        evidence=evidence,
        value=value.mean(axis=1),
        doubt=doubt.mean(axis=1),
        slope=like.slope.mean(axis=1),
        curvature=like.curvature.mean(axis=1),
        touching=touching,
    )


def _standard_draws() -> Array:
    """Return antithetic draws (DRAWS, LOCAL) with mean 0 and covariance exactly one."""
    half = np.random.default_rng(DRAW_SEED).standard_normal((DRAWS // 2, LOCAL))
    draws = np.vstack([half, -half])
    return np.asarray(draws @ np.linalg.inv(np.linalg.cholesky(draws.T @ draws / DRAWS)).T)


def _roots(local: Array) -> Array:
    """Return lower square roots of local covariances, (observations, LOCAL, LOCAL)."""
    scale = np.sqrt(np.maximum(np.einsum("ijj->ij", local), 1e-12))
    correlation = local / (scale[:, :, None] * scale[:, None, :]) + JITTER * np.eye(LOCAL)
    return np.asarray(scale[:, :, None] * np.linalg.cholesky(correlation))
