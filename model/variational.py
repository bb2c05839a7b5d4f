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
from model.earlier import Earlier
from model.evidence import Evidence
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE
from model.linearised import Linearised, at_point, over_belief, value_at
from model.scatter import Scale, student_weight

Array = NDArray[np.float64]

MOST_ROUNDS: Final = 25
SETTLED: Final = 5e-3  # gain in log density still to be had at which the search for the best point stops
WHOLE_ROUNDS: Final = 8
"""Rounds of that search after which a step that turns back on the last is halved: in a long logbook whole
ones can go to and fro."""
SURE: Final = 0.5
"""Promised gain below which a step off surfaces is taken without a look at what it brings: slopes kept from
close by are right, but what they are wrong by in a density adds up in a long logbook."""
MOST_DAMPING: Final = 1.0  # beyond it only the noise of the differences is left
VARIATIONAL_STEPS: Final = (4, 12)  # least and most
STEP_SETTLED: Final = 0.05
STEP_AT_REST: Final = 0.01
"""Largest step [sd] after which no further one is taken, however few there were."""


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

    @property
    def covariance(self) -> Array:
        """Return the whole covariance, (names, names), which is large in a long logbook."""
        return self.narrowed.full()

    @property
    def variance(self) -> Array:
        """Of each coordinate, (names,)."""
        return self.narrowed.diagonal


def best_point(evidence: Evidence, start: Array, scale: Scale | None = None) -> Gaussian:
    """Find the maximum a posteriori and its Laplace covariance.

    evidence : what was read; start : (names,) where to begin; scale : how far fires scatter, None if unknown
    Then it climbs twice: with fires that scatter as the books say, and again with what the first found.
    """
    if scale is not None:
        return _climb(evidence, start, scale)
    first = _climb(evidence, start, evidence.scatter.books())
    return _climb(evidence, first.mean, first.scale) if evidence.scatter.names else first


@dataclass(frozen=True)
class _Stand:
    """Where a climb stands: coordinates, what was read near them, and the normal equations there."""

    at: Array
    line: Linearised
    weight: Array
    precision: Pairs
    gradient: Array

    @classmethod
    def on(cls, line: Linearised, at: Array, room: Array) -> _Stand:
        """Stand at coordinates; room : (names,) as `latent_weight`."""
        weight = latent_weight(line.evidence, room, at)
        return cls(at, line, weight, *normal_equations(line, at, weight))

    @cached_property
    def covariance(self) -> Covariance:
        """The Laplace covariance."""
        return self.precision.inverse()

    @property
    def gain(self) -> float:
        """The gain in log density that a whole step promises."""
        return 0.5 * float(self.gradient @ self.covariance.times(self.gradient))

    def stepped(self, damping: float, share: float) -> Array:
        """Return the coordinates that a share of a damped step leads to."""
        damped = self.precision.plus(damping * self.precision.diagonal)
        return self.at + share * damped.inverse().times(self.gradient)


def _climb(evidence: Evidence, start: Array, scale: Scale) -> Gaussian:
    """Find the best point at one scatter of the fires (Levenberg-Marquardt)."""
    room, last = evidence.scatter.room(scale), np.zeros(len(start))
    here, damping, rounds = _Stand.on(at_point(evidence, start), start, room), 1e-3, 0
    while rounds < MOST_ROUNDS:
        rounds += 1
        if here.gain < SETTLED or damping > MOST_DAMPING:
            break
        goes_to_and_fro = rounds > WHOLE_ROUNDS and here.gradient @ last < 0.0
        there = here.stepped(damping, 0.5 if goes_to_and_fro else 1.0)
        if evidence.is_read_off and here.gain < SURE:
            here, last = _Stand.on(at_point(evidence, there), there, room), there - here.at
            continue
        trial = None if evidence.is_read_off else at_point(evidence, there)
        # off surfaces, a step that fails needs no slopes
        value = value_at(evidence, there) if trial is None else trial.value
        tried = _objective(evidence, room, value, there, here.line.doubt)
        if tried >= _objective(evidence, room, here.line.value, here.at, here.line.doubt):
            here, last = _Stand.on(trial or at_point(evidence, there), there, room), there - here.at
            damping = max(damping / 10.0, 1e-6)
        else:
            damping *= 10.0
    learnt = evidence.scatter.learnt(scale, here.line.told, here.line.information(here.at), here.weight)
    return Gaussian(here.at, here.covariance, here.line, here.gain, rounds, learnt)


def variational(evidence: Evidence, start: Gaussian, settled: float = STEP_SETTLED) -> Gaussian:
    """Move the best point's Gaussian to the one nearest the whole belief, in a few steps.

    evidence : what was read; start : the best point with its Laplace covariance
    settled : largest step [sd] after which it ends, once there were enough; `STEP_AT_REST` where what is read
        last is to hold for the next fit too: a step costs little where lines still hold
    A step that turns back on the last one has gone too far, and is halved: in a large logbook whole steps can
    go to and fro for ever.
    """
    mean, narrowed, line, scale = start.mean, start.narrowed, start.linearised, start.scale
    step_size, steps, step = np.inf, 0, np.zeros(len(mean))
    for steps in range(1, VARIATIONAL_STEPS[1] + 1):
        line, variance = over_belief(evidence, mean, narrowed), narrowed.diagonal
        information = line.information(mean)
        weight = latent_weight(evidence, evidence.scatter.room(scale), mean, variance)
        scale = evidence.scatter.learnt(scale, line.told, information, weight)
        weight = latent_weight(evidence, evidence.scatter.room(scale), mean, variance)
        precision = line.told.plus(weight)
        gradient, narrowed = information - precision.times(mean), precision.inverse()
        turns_back = gradient @ step < 0.0
        step = narrowed.times(gradient)
        step_size = float(np.max(np.abs(step) / np.sqrt(narrowed.diagonal), initial=0.0))
        step = 0.5 * step if turns_back else step
        mean = mean + step
        if step_size < (settled if steps >= VARIATIONAL_STEPS[0] else STEP_AT_REST):
            break
    return Gaussian(mean, narrowed, line, step_size, steps, scale)


def begun_on_lines(evidence: Evidence, mean: Array, covariance: Earlier, scale: Scale) -> Gaussian:
    """Return what the lines that are kept say, with those of readings that are new.

    mean, covariance, scale : of an earlier belief, which lies near enough to say where the new are read
    """
    line = over_belief(evidence, mean, covariance, only_new=True)
    weight = latent_weight(evidence, evidence.scatter.room(scale), mean, covariance.diagonal)
    precision, gradient = normal_equations(line, mean, weight)
    narrowed = precision.inverse()
    return Gaussian(mean + narrowed.times(gradient), narrowed, line, np.inf, 0, scale)


def latent_weight(evidence: Evidence, room: Array, mean: Array, variance: Array | float = 0.0) -> Array:
    """Return the precision that the books give each coordinate: 1, or Student's t weight for a fire.

    room : (names,) variance of a fire's own over that of the books
    """
    return np.where(evidence.is_latent, student_weight(mean**2 + variance, room), 1.0)


def weight_of_books(evidence: Evidence, fitted: Gaussian) -> Array:
    """Return `latent_weight` as a fit left it."""
    room = evidence.scatter.room(fitted.scale)
    return latent_weight(evidence, room, fitted.mean, fitted.variance)


def normal_equations(line: Linearised, mean: Array, weight: Array) -> tuple[Pairs, Array]:
    """Return precision and gradient: books, checks and readings together."""
    precision = line.told.plus(weight)
    return precision, line.information(mean) - precision.times(mean)


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
