"""Every predicted value near some coordinates, with its slopes: at a point, or averaged over a belief.

Slopes at a point are finite differences of the few local inputs; over a belief they are those of the straight
line nearest to draws of it (statistical linearisation).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance, Pairs
from model.earlier import Earlier
from model.evidence import AT_ONCE, LEAST_VARIANCE, LOCAL, Evidence
from model.inputs import FITTED_INPUTS
from model.kept_lines import KeptLines, Line
from model.lower import inverted
from model.part import Part
from model.touching import Touching

Array = NDArray[np.float64]

# Finite difference of each local input: temperature [K], ln transfer, logit, ln lag, quantile, rim [wt%],
# ln bath, oven [K], ln of what a temper takes off, ln of soft austenite, martensite [HV], grain number, ln of
# the times of pearlite and bainite, activation energy [J/mol], the film's end [K].
DIFFERENCE: Final = np.array(
    [1.5, 0.03, 0.04, 0.03, 0.05, 0.003, 0.05, 3.0, 0.05, 0.05, 5.0, 0.1, 0.08, 0.08, 1e4, 15.0]
)
MOST_SDS: Final = 0.5
"""Sds of what is believed that a difference off surfaces may go: beyond, they are not true."""
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
    """Linearise by finite differences of the local inputs, all processes as one solve.

    Where lines are kept, a process that lies close to them is not read off anew.
    """
    lines, middle = evidence.lines("at a point"), evidence.local(coordinates)
    for part in evidence.parts(lines.moved_at(middle)):
        units = evidence.units_of(part.rows)
        lines.put(part, middle, units, 1.0, _read_at(evidence, part, middle, units))
    line = lines.at(middle)
    like = evidence.values.likelihood(line.value[:, None], line.doubt[:, None])
    slope, curvature = like.slope[:, 0], like.curvature[:, 0]
    return Linearised(evidence, line.value, line.doubt, slope, curvature, evidence.chained(line.local))


def value_at(evidence: Evidence, coordinates: Array) -> Array:
    """Return every predicted value at some coordinates, (points,), without its slopes; as `at_point`."""
    lines, middle = evidence.lines("at a point"), evidence.local(coordinates)
    value, part = lines.at(middle).value, evidence.part(lines.moved_at(middle))
    if len(part.rows):
        inputs = evidence.inputs_at(middle)[part.rows, None, :]
        value[part.values] = evidence.foretold_of(part, inputs, middle[part.observations, -1:]).value[:, 0]
    return value


def over_belief(
    evidence: Evidence, mean: Array, covariance: Array | Covariance | Earlier, only_new: bool = False
) -> Linearised:
    """Linearise over a Gaussian belief: averages over draws in place of values at a point.

    only_new : hold on to all lines that are kept, however far the belief is from theirs
    Each process is drawn from its own marginal over the few local inputs, with one set of standard
    draws whose mean is nothing and whose covariance is one, so that straight functions come out exact.
    """
    lines, middle = evidence.lines("over a belief"), evidence.local(mean)
    rows = np.flatnonzero(~lines.is_read) if only_new else np.arange(len(lines.is_read))
    roots = _root(evidence, covariance, rows)
    asked = ~lines.is_read if only_new else _moved_over(evidence, lines, middle, roots, covariance)
    for part in evidence.parts(asked):
        root = roots[np.searchsorted(rows, part.rows)]
        about = _About.of(root, evidence.bias_covariance(covariance, part.observations), part)
        lines.put(part, middle, about.units, about.bias_sd, _read_over(evidence, part, middle, about))
    line = lines.at(middle)
    touching = evidence.chained(line.local)
    return Linearised(evidence, line.value, line.doubt, line.slope, line.curvature, touching)


def _root(evidence: Evidence, covariance: Array | Covariance | Earlier, rows: NDArray[np.intp]) -> Array:
    """Return lower roots of what is believed of the inputs of some processes, (rows, F, F)."""
    return _roots(evidence.local_covariance(covariance, rows))


def _moved_over(
    evidence: Evidence,
    lines: KeptLines,
    middle: Array,
    roots: Array,
    covariance: Array | Covariance | Earlier,
) -> NDArray[np.bool_]:
    """Return of which processes the belief is another than their lines were read over, (processes,)."""
    if not lines.is_read.any() or isinstance(covariance, Earlier):
        return np.ones_like(lines.is_read)
    return lines.moved_over(middle, roots, evidence.bias_sd(covariance))


def _read_at(evidence: Evidence, part: Part, middle: Array, units: Array) -> Line:
    """Read a part off at a point and beside it by each local input: on both sides where that is cheap.

    A slope to one side is off by half of what it bends there; of many readings that bend alike it adds up.
    units : (processes of the part, F, F) inputs to sds of what is believed
    """
    moved, sides = evidence.moved, (1.0, -1.0) if evidence.is_read_off else (1.0,)
    many = len(moved)
    sharpness = np.sqrt(np.maximum((units**2).sum(axis=1), LEAST_VARIANCE))
    steps = np.minimum(DIFFERENCE, MOST_SDS / sharpness)[:, moved]
    members = np.repeat(evidence.inputs_at(middle)[part.rows, None, :], 1 + len(sides) * many, axis=1)
    for place, side in enumerate(sides):
        members[:, 1 + place * many + np.arange(many), moved] += side * steps
    bias = np.repeat(middle[part.observations, -1:], members.shape[1], axis=1)
    found = evidence.foretold_of(part, members, bias)
    value, doubt = found.value[:, :1], found.doubt[:, :1]
    upper, lower = found.value[:, 1 : 1 + many], found.value[:, 1 + many :] if len(sides) > 1 else value
    local = np.zeros((len(value), LOCAL))
    local[:, moved] = (upper - lower) / (len(sides) * steps[part.of[part.readings.owner]])
    local[:, -1] = 1.0  # a bias is added as it is
    return _averaged(part, value, doubt, local)


@dataclass(frozen=True)
class _About:
    """Belief of the local inputs of R processes and of the testers' biases of their N observations.

    root, units : (R, F, F) lower square root of the inputs' covariance, and its inverse
    follows, alone : (N, F), (N,) the bias by what moves the inputs, and on its own; bias_sd : (N,) in all
    """

    root: Array
    units: Array
    follows: Array
    alone: Array
    bias_sd: Array

    @classmethod
    def of(cls, root: Array, bias: Array, part: Part) -> _About:
        """Gather it for a part; bias : (N, LOCAL) covariance of the bias with the inputs and with itself."""
        units = inverted(root)
        follows = (units[part.of] @ bias[:, :FITTED_INPUTS, None])[:, :, 0]
        variance = np.maximum(bias[:, -1], LEAST_VARIANCE)
        alone = np.maximum(bias[:, -1] - (follows**2).sum(axis=1), JITTER * variance)
        return cls(root, units, follows, np.sqrt(alone), np.sqrt(variance))


def _read_over(evidence: Evidence, part: Part, middle: Array, about: _About) -> Line:
    """Read a part off over draws of a belief."""
    standard = _standard_draws()
    inputs = np.repeat(evidence.inputs_at(middle)[part.rows, None, :], DRAWS, axis=1)
    inputs[:, :, :FITTED_INPUTS] += standard[:, :FITTED_INPUTS] @ about.root.transpose(0, 2, 1)
    bias = middle[part.observations, -1:] + np.column_stack([about.follows, about.alone]) @ standard.T
    found = evidence.foretold_of(part, inputs, bias)
    along, owner = found.value @ standard / DRAWS, part.readings.owner
    by_bias = along[:, -1:] / about.alone[owner, None]
    towards = along[:, :FITTED_INPUTS] - about.follows[owner] * by_bias
    local = np.empty(along.shape)
    for first in range(0, len(along), AT_ONCE):
        some = slice(first, first + AT_ONCE)
        local[some, :FITTED_INPUTS] = (towards[some, None] @ about.units[part.of[owner[some]]])[:, 0]
    local[:, FITTED_INPUTS:] = by_bias
    return _averaged(part, found.value, found.doubt, local)


def _averaged(part: Part, value: Array, doubt: Array, local: Array) -> Line:
    """Return averages over members of the predicted values and of their likelihoods, (values, members)."""
    like = part.readings.likelihood(value, doubt)
    return Line(
        value=value.mean(axis=1),
        doubt=doubt.mean(axis=1),
        slope=like.slope.mean(axis=1),
        curvature=like.curvature.mean(axis=1),
        local=local,
    )


@cache
def _standard_draws() -> Array:
    """Return antithetic draws (DRAWS, LOCAL) with mean 0 and covariance exactly one."""
    half = np.random.default_rng(DRAW_SEED).standard_normal((DRAWS // 2, LOCAL))
    draws = np.vstack([half, -half])
    standard = np.asarray(draws @ np.linalg.inv(np.linalg.cholesky(draws.T @ draws / DRAWS)).T)
    standard.flags.writeable = False
    return standard


def _roots(local: Array) -> Array:
    """Return lower square roots of local covariances, (several, L, L)."""
    scale = np.sqrt(np.maximum(np.einsum("ijj->ij", local), LEAST_VARIANCE))
    correlation = local / (scale[:, :, None] * scale[:, None, :]) + JITTER * np.eye(local.shape[1])
    return np.asarray(scale[:, :, None] * np.linalg.cholesky(correlation))
