"""How odd each fire is against all the others, and how much wider the scatter is than assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.variational import Gaussian, latent_weight

Array = NDArray[np.float64]

# Widening s = sqrt((8 + sum u^2)/(8 + n)) with scores clipped at 4 (simulation study, section 4).
WIDENING_WEIGHT: Final = 8.0
MOST_SCORE: Final = 4.0
CHANCE_SDS: Final = 2.0  # coupons of one fire may differ by this many sds of chance before it counts


@dataclass(frozen=True)
class FireScore:
    """How odd a fire is, in sds, from what the others foretell of it.

    score : below 0 shallower than foretold, above 0 deeper
    surprise : the same with what its coupons say against one another, 0 or more
    """

    fire: str
    score: float
    surprise: float


@dataclass(frozen=True)
class Foretold:
    """Every reading as the other fires foretell it: (points,) each; score in sds, 0 within an interval."""

    median: Array
    sd: Array
    score: Array


def fire_scores(evidence: Evidence, fitted: Gaussian) -> tuple[tuple[FireScore, ...], Foretold]:
    """Leave out each fire in turn, foretell it from the rest, and score it.

    evidence : what was read; fitted : the belief learnt from all of it
    Returns the score of each fire, and every reading as foretold without its own fire.
    Source: the score is the standardised generalised-least-squares estimate of the fire's own latent, with
    the doubt of all parameters in its covariance (simulation study, section 6; there one step ahead).
    """
    points = len(fitted.linearised.value)
    foretold = Foretold(fitted.linearised.value.copy(), np.ones(points), np.zeros(points))
    fires = np.array([evidence.observations[owner].process.keys.fire for owner in fitted.linearised.owner])
    scores = [
        _score_fire(evidence, fitted, str(fire), np.flatnonzero(fires == fire), foretold)
        for fire in dict.fromkeys(fires.tolist())
    ]
    return tuple(score for score in scores if score.fire), foretold


def widening(scores: tuple[FireScore, ...]) -> float:
    """Return how much wider every band must be for the surprises seen: 1 or more.

    scores : of all fires; none of them gives 1
    """
    squares = sum(min(score.surprise, MOST_SCORE) ** 2 for score in scores)
    return float(max(1.0, np.sqrt((WIDENING_WEIGHT + squares) / (WIDENING_WEIGHT + len(scores)))))


def _score_fire(
    evidence: Evidence, fitted: Gaussian, fire: str, rows: NDArray[np.intp], foretold: Foretold
) -> FireScore:
    """Score one fire, and write its readings as the others foretell them."""
    jacobian = fitted.linearised.jacobian[rows]
    mean, covariance = _without(evidence, fitted, fire, rows)
    predicted = fitted.linearised.value[rows] + jacobian @ (mean - fitted.mean)
    noise = _noise(evidence, fitted, rows)
    total = jacobian @ covariance @ jacobian.T + np.diag(noise**2)
    residual, counts = _residuals(evidence, rows, predicted)
    foretold.median[rows] = predicted
    foretold.sd[rows] = np.sqrt(np.diag(total))
    foretold.score[rows] = residual / foretold.sd[rows]
    if not counts.any():
        return FireScore(fire, 0.0, 0.0)
    along = jacobian[counts][:, _latents_of(evidence, fire)].sum(axis=1)
    solved = np.linalg.solve(total[np.ix_(counts, counts)], np.stack([residual[counts], along], axis=1))
    known = float(along @ solved[:, 1])
    score = float(along @ solved[:, 0]) / known**0.5 if known > 0.0 else 0.0
    among = float(residual[counts] @ solved[:, 0]) - score**2
    return FireScore(fire, score, float(np.sqrt(score**2 + _excess(among, int(counts.sum()) - 1))))


def _excess(square: float, freedom: int) -> float:
    """Return how far a sum of squares goes beyond what chance gives."""
    return max(0.0, square - freedom - CHANCE_SDS * float(np.sqrt(2.0 * freedom)))


def _without(evidence: Evidence, fitted: Gaussian, fire: str, rows: NDArray[np.intp]) -> tuple[Array, Array]:
    """Return the belief as it would be without one fire; that fire's latents are as the books have them."""
    line = fitted.linearised
    weight = latent_weight(evidence, fitted.mean, np.diag(fitted.covariance))
    weight[_latents_of(evidence, fire)] = 1.0
    keep = np.ones(len(line.value), dtype=bool)
    keep[rows] = False
    jacobian, curvature = line.jacobian[keep], line.curvature[keep]
    precision = (jacobian.T * curvature) @ jacobian + evidence.check_precision + np.diag(weight)
    target = line.slope[keep] + curvature * (jacobian @ fitted.mean)
    covariance = np.asarray(np.linalg.inv(precision), dtype=float)
    return covariance @ (jacobian.T @ target + evidence.check_information), covariance


def _latents_of(evidence: Evidence, fire: str) -> NDArray[np.intp]:
    own = [name == f"fire/{fire}" or name.startswith(f"load/{fire}|") for name in evidence.names]
    return np.flatnonzero(own)


def _noise(evidence: Evidence, fitted: Gaussian, rows: NDArray[np.intp]) -> Array:
    """Return the sd of each reading itself."""
    line = fitted.linearised
    return np.array(
        [
            float(
                np.ravel(
                    evidence.readings[line.owner[row]].spread(line.value[row, None], line.doubt[row, None])
                )[0]
            )
            for row in rows
        ]
    )


def _residuals(
    evidence: Evidence, rows: NDArray[np.intp], predicted: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Return measured less predicted (0 within an interval), and which of them say something."""
    low, high = measured_limits(evidence)
    residual = np.clip(predicted, low[rows], high[rows]) - predicted
    return residual, (low[rows] == high[rows]) | (residual != 0.0)


def measured_limits(evidence: Evidence) -> tuple[Array, Array]:
    """Return the lowest and highest value that each reading allows, (points,) each."""
    limits = [reading.limits() for reading in evidence.readings]
    if not limits:
        return np.zeros(0), np.zeros(0)
    low, high = (np.concatenate([pair[side] for pair in limits]) for side in (0, 1))
    return low, high
