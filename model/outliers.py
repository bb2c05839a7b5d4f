"""How odd each fire is against all the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.variational import Gaussian, weight_of_books

Array = NDArray[np.float64]

ROUND_OFF: Final = (
    1e-6  # how far below nothing a covariance may come by round-off, in a reading's own variance
)
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
    fires = evidence.fires[fitted.linearised.owner]
    whole = _Whole.of(evidence, fitted)
    scores = [
        _score_fire(evidence, whole, str(fire), np.flatnonzero(fires == fire), foretold)
        for fire in dict.fromkeys(fires.tolist())
    ]
    return tuple(score for score in scores if score.fire), foretold


@dataclass(frozen=True)
class _Whole:
    """What all fires together say: the covariance of it, the weight of the books, sum of information.

    room : variance of each coordinate over that of the books, for a fire never seen
    """

    fitted: Gaussian
    room: Array
    weight: Array
    covariance: Array
    information: Array
    noise: Array

    @classmethod
    def of(cls, evidence: Evidence, fitted: Gaussian) -> _Whole:
        """Gather it once for all fires."""
        line = fitted.linearised
        room = evidence.scatter.room(fitted.scale)
        weight = weight_of_books(evidence, fitted)
        precision = (line.jacobian.T * line.curvature) @ line.jacobian + evidence.check_precision
        return cls(
            fitted,
            room,
            weight,
            np.asarray(np.linalg.inv(precision + np.diag(weight)), dtype=float),
            line.jacobian.T @ _target(fitted, slice(None)) + evidence.check_information,
            evidence.values.spread(line.doubt),
        )


def _target(fitted: Gaussian, rows: NDArray[np.intp] | slice) -> Array:
    """Return what each row adds to the information, along its slope."""
    line = fitted.linearised
    return np.asarray(line.slope[rows] + line.curvature[rows] * (line.jacobian[rows] @ fitted.mean))


def _score_fire(
    evidence: Evidence, whole: _Whole, fire: str, rows: NDArray[np.intp], foretold: Foretold
) -> FireScore:
    """Score one fire, and write its readings as the others foretell them."""
    fitted = whole.fitted
    jacobian = fitted.linearised.jacobian[rows]
    latents = latents_of(evidence, fire)
    middle, doubt = _without(whole, latents, rows)
    predicted = fitted.linearised.value[rows] + middle - jacobian @ fitted.mean
    total = doubt + np.diag(whole.noise[rows] ** 2)
    residual, counts = residuals(evidence, rows, predicted)
    foretold.median[rows] = predicted
    foretold.sd[rows] = np.sqrt(np.diag(total))
    foretold.score[rows] = residual / foretold.sd[rows]
    if not counts.any():
        return FireScore(fire, 0.0, 0.0)
    along = jacobian[counts][:, latents].sum(axis=1)
    score, among = latent_score(residual[counts], total[np.ix_(counts, counts)], along)
    return FireScore(fire, score, float(np.sqrt(score**2 + _excess(among, int(counts.sum()) - 1))))


def latent_score(residual: Array, total: Array, along: Array) -> tuple[float, float]:
    """Return how many sds a fire's own latent is off, and the sum of squares that it does not explain.

    residual : (points,) measured less foretold; total : their covariance; along : what one sd of it shifts
    """
    solved = np.linalg.solve(total, np.stack([residual, along], axis=1))
    known = float(along @ solved[:, 1])
    score = float(along @ solved[:, 0]) / known**0.5 if known > 0.0 else 0.0
    return score, float(residual @ solved[:, 0]) - score**2


def _excess(square: float, freedom: int) -> float:
    """Return how far a sum of squares goes beyond what chance gives."""
    return max(0.0, square - freedom - CHANCE_SDS * float(np.sqrt(2.0 * freedom)))


def _without(whole: _Whole, latents: NDArray[np.intp], rows: NDArray[np.intp]) -> tuple[Array, Array]:
    """Return a fire's readings as the belief has them without it, middle and covariance, each about 0.

    That fire's latents are as the books have them. The belief loses only as many directions as the fire has
    readings and latents, so the whole is put right along those (Woodbury's identity) and not inverted again.
    Where more is taken out than the others hold, as may be where readings are far from straight in the
    constants, nothing is left to foretell it from but the books.
    """
    fitted, whole_covariance = whole.fitted, whole.covariance
    jacobian = fitted.linearised.jacobian[rows]
    changed = np.vstack([jacobian, np.eye(len(whole.weight))[latents]])
    change = np.concatenate(
        [-fitted.linearised.curvature[rows], 1.0 / whole.room[latents] - whole.weight[latents]]
    )
    spread = whole_covariance @ changed.T
    among = changed @ spread
    held = np.linalg.solve(np.eye(len(change)) + change[:, None] * among, change[:, None] * spread.T)
    covariance = jacobian @ whole_covariance @ jacobian.T - (jacobian @ spread) @ (held @ jacobian.T)
    by_noise = covariance / np.outer(whole.noise[rows], whole.noise[rows])
    if np.linalg.eigvalsh(0.5 * (by_noise + by_noise.T))[0] < -ROUND_OFF:
        return np.zeros(len(rows)), (jacobian * whole.room) @ jacobian.T
    information = whole.information - jacobian.T @ _target(fitted, rows)
    middle = jacobian @ (whole_covariance @ information) - (jacobian @ spread) @ (held @ information)
    return middle, covariance


def latents_of(evidence: Evidence, fire: str) -> NDArray[np.intp]:
    """Return the places of a fire's own luck among the coordinates."""
    own = [name == f"fire/{fire}" or name.startswith(f"load/{fire}|") for name in evidence.names]
    return np.flatnonzero(own)


def residuals(
    evidence: Evidence, rows: NDArray[np.intp], predicted: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Return measured less predicted (0 within an interval), and which of them say something."""
    low, high = evidence.values.low, evidence.values.high
    residual = np.clip(predicted, low[rows], high[rows]) - predicted
    return residual, (low[rows] == high[rows]) | (residual != 0.0)
