"""The best point of a belief, and then its mean and covariance, by reweighted Gauss-Newton.

First the maximum a posteriori (Levenberg-Marquardt on finite differences), then a few Gaussian variational
steps: the same normal equations with slopes and curvatures averaged over antithetic draws of the belief
itself (Opper & Archambeau, Neural Computation 21 (2009) 786; statistical linearisation for the slopes).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Pairs
from model.evidence import LOCAL, Evidence, Touching
from model.inputs import FITTED_INPUTS
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.scatter import Scale, student_weight

Array = NDArray[np.float64]

# Finite difference of each local input: temperature [K], ln transfer, logit, ln lag, quantile, rim [wt%],
# ln bath, oven [K], ln of what a temper takes off, ln of soft austenite, martensite [HV], grain number, ln of
# the times of pearlite and bainite, activation energy [J/mol], the film's end [K].
DIFFERENCE: Final = np.array(
    [1.5, 0.03, 0.04, 0.03, 0.05, 0.003, 0.05, 3.0, 0.05, 0.05, 5.0, 0.1, 0.08, 0.08, 1e4, 15.0]
)
MOST_ROUNDS: Final = 25
SETTLED: Final = 5e-3  # gain in log density still to be had at which the search for the best point stops
MOST_DAMPING: Final = 1.0  # beyond it only the noise of the differences is left
DRAWS: Final = 48
DRAW_SEED: Final = 20
VARIATIONAL_STEPS: Final = (4, 12)  # least and most
STEP_SETTLED: Final = 0.05
JITTER: Final = 1e-9


@dataclass(frozen=True)
class Linearised:
    """Every predicted value near some coordinates: what the normal equations are made of.

    value, doubt, slope, curvature : (points,) prediction and the log likelihood's slope and curvature by it
    touching : slopes by the coordinates that each touches; owner : (points,) observation of each point
    """

    value: Array
    doubt: Array
    slope: Array
    curvature: Array
    touching: Touching
    owner: NDArray[np.intp]

    @cached_property
    def jacobian(self) -> Array:
        """Slopes by all coordinates, (points, names)."""
        return self.touching.full()


@dataclass(frozen=True)
class Gaussian:
    """A mean and covariance, and the linearisation they came from.

    narrowed : the covariance fire by fire, `covariance` the same as (names, names)
    rest : what was left to do: gain in log density [-] for the best point, largest step [sd] after it
    scale : how far fires scatter over what the books say
    """

    mean: Array
    narrowed: Covariance
    linearised: Linearised
    rest: float
    steps: int
    scale: Scale

    @cached_property
    def covariance(self) -> Array:
        """The whole covariance, (names, names)."""
        return self.narrowed.full()

    @property
    def variance(self) -> Array:
        """Of each coordinate, (names,)."""
        return self.narrowed.pairs.diagonal


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


def best_point(evidence: Evidence, start: Array, scale: Scale | None = None) -> Gaussian:
    """Find the maximum a posteriori and its Laplace covariance.

    evidence : what was read; start : (names,) where to begin; scale : how far fires scatter, None if unknown
    Then it climbs twice: with fires that scatter as the books say, and again with what the first found.
    """
    if scale is not None:
        return _climb(evidence, start, scale)
    first = _climb(evidence, start, evidence.scatter.books())
    return _climb(evidence, first.mean, first.scale) if evidence.scatter.names else first


def _climb(evidence: Evidence, start: Array, scale: Scale) -> Gaussian:
    """Find the best point at one scatter of the fires (Levenberg-Marquardt)."""
    here, line, damping, gain, rounds = start, at_point(evidence, start), 1e-3, 0.0, 0
    room = evidence.scatter.room(scale)
    while rounds < MOST_ROUNDS:
        rounds += 1
        precision, gradient = normal_equations(evidence, line, here, latent_weight(evidence, room, here))
        gain = 0.5 * float(gradient @ precision.inverse().times(gradient))
        if gain < SETTLED or damping > MOST_DAMPING:
            break
        there = here + precision.plus(damping * precision.diagonal).inverse().times(gradient)
        trial = None if evidence.is_read_off else at_point(evidence, there)
        # off surfaces, a step that fails needs no slopes
        value = value_at(evidence, there) if trial is None else trial.value
        tried = _objective(evidence, room, value, there, line.doubt)
        if tried >= _objective(evidence, room, line.value, here, line.doubt):
            here, line, damping = there, trial or at_point(evidence, there), max(damping / 10.0, 1e-6)
        else:
            damping *= 10.0
    weight = latent_weight(evidence, room, here)
    covariance = normal_equations(evidence, line, here, weight)[0].inverse()
    return Gaussian(here, covariance, line, gain, rounds, _scale_of(evidence, line, here, weight, scale))


def variational(evidence: Evidence, start: Gaussian) -> Gaussian:
    """Move the best point's Gaussian to the one nearest the whole belief, in a few steps.

    evidence : what was read; start : the best point with its Laplace covariance
    A step that turns back on the last one has gone too far, and is halved: in a large logbook whole steps can
    go to and fro for ever.
    """
    mean, narrowed, line, scale = start.mean, start.narrowed, start.linearised, start.scale
    step_size, steps, step = np.inf, 0, np.zeros(len(mean))
    for steps in range(1, VARIATIONAL_STEPS[1] + 1):
        line, variance = over_belief(evidence, mean, narrowed), narrowed.pairs.diagonal
        weight = latent_weight(evidence, evidence.scatter.room(scale), mean, variance)
        scale = _scale_of(evidence, line, mean, weight, scale)
        weight = latent_weight(evidence, evidence.scatter.room(scale), mean, variance)
        precision, gradient = normal_equations(evidence, line, mean, weight)
        narrowed = precision.inverse()
        turns_back = gradient @ step < 0.0
        step = narrowed.times(gradient)
        step_size = float(np.max(np.abs(step) / np.sqrt(narrowed.pairs.diagonal), initial=0.0))
        step = 0.5 * step if turns_back else step
        mean = mean + step
        if steps >= VARIATIONAL_STEPS[0] and step_size < STEP_SETTLED:
            break
    return Gaussian(mean, narrowed, line, step_size, steps, scale)


def latent_weight(evidence: Evidence, room: Array, mean: Array, variance: Array | float = 0.0) -> Array:
    """Return the precision that the books give each coordinate: 1, or Student's t weight for a fire.

    room : (names,) variance of a fire's own over that of the books
    """
    return np.where(evidence.is_latent, student_weight(mean**2 + variance, room), 1.0)


def weight_of_books(evidence: Evidence, fitted: Gaussian) -> Array:
    """Return `latent_weight` as a fit left it."""
    room = evidence.scatter.room(fitted.scale)
    return latent_weight(evidence, room, fitted.mean, fitted.variance)


def _scale_of(evidence: Evidence, line: Linearised, mean: Array, weight: Array, scale: Scale) -> Scale:
    """Return what readings near some coordinates say of how far fires scatter."""
    told = evidence.told(line.touching, line.curvature)
    return evidence.scatter.learnt(scale, told, information_of(evidence, line, mean), weight)


def information_of(evidence: Evidence, line: Linearised, mean: Array) -> Array:
    """Return what readings and checks say of the coordinates, (names,): their precision times where."""
    target = line.slope + line.curvature * line.touching.along(mean)
    return line.touching.gathered(target) + evidence.check_information


def normal_equations(evidence: Evidence, line: Linearised, mean: Array, weight: Array) -> tuple[Pairs, Array]:
    """Return precision and gradient: books, checks and readings together."""
    precision = evidence.told(line.touching, line.curvature).plus(weight)
    return precision, information_of(evidence, line, mean) - precision.times(mean)


def _objective(evidence: Evidence, room: Array, value: Array, at: Array, doubt: Array) -> float:
    """Log of the belief's density at a point, up to a constant, by the doubts of another point nearby.

    value : (points,) predicted at the point; doubt : (points,) of the other
    The slopes take the doubts for given too; were these to change here, steps that they promise would fail.
    """
    tail = 0.5 * (LATENT_FREEDOM + 1.0) * np.log1p(at**2 / (LATENT_FREEDOM * LATENT_SCALE**2 * room))
    books = float(np.where(evidence.is_latent, tail, 0.5 * at**2).sum())
    shared = at[evidence.layout.shared]
    checks = at @ evidence.check_information - 0.5 * shared @ evidence.check_precision_of_shared @ shared
    readings = evidence.values.likelihood(value[:, None], doubt[:, None]).log.sum()
    return float(readings - books + checks)


def _linearised(evidence: Evidence, value: Array, doubt: Array, touching: Touching) -> Linearised:
    """Return averages over members of the predicted values and of their likelihoods, (values, members)."""
    like = evidence.values.likelihood(value, doubt)
    return Linearised(
        value=value.mean(axis=1),
        doubt=doubt.mean(axis=1),
        slope=like.slope.mean(axis=1),
        curvature=like.curvature.mean(axis=1),
        touching=touching,
        owner=evidence.values.owner,
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
