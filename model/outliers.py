"""How odd each fire is against all the others."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import reduce
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.failed_seals import seal_odds
from model.fire_by_fire import Fire, FireByFire, Told, residuals
from model.likelihood import READING_VARIANCE
from model.variational import Gaussian

Array = NDArray[np.float64]

CHANCE_SDS: Final = 2.0  # coupons of one fire may differ by this many sds of chance before it counts


@dataclass(frozen=True)
class FireScore:
    """How odd a fire is, in sds, from what the others foretell of it.

    score : below 0 shallower than foretold, above 0 deeper; by the readings' stated sd
    surprise : the same with what its coupons say against one another, 0 or more; by the sd that the heavy
        tails of readings give, so that its square is about 1 where nothing is amiss
    seal : how likely it is that its seal failed, 0 to 1 (`failed_seals`)
    """

    fire: str
    score: float
    surprise: float
    seal: float = 0.0


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
    apart = FireByFire.of(evidence, fitted)
    told = {key: fire.told() for key, fire in apart.fires.items()}
    whole = reduce(Told.plus, told.values(), apart.books)
    scores = [
        _score_fire(evidence, fire, whole.less(told[key]), foretold) for key, fire in apart.fires.items()
    ]
    odds = seal_odds(evidence, fitted)
    return tuple(replace(score, seal=odds[score.fire]) for score in scores if score.fire), foretold


def _score_fire(evidence: Evidence, fire: Fire, others: Told, foretold: Foretold) -> FireScore:
    """Score one fire, and write its readings as the others foretell them."""
    predicted, total = fire.foretold(others)
    residual, counts = residuals(evidence, fire.rows, predicted)
    foretold.median[fire.rows] = predicted
    foretold.sd[fire.rows] = np.sqrt(np.diag(total))
    foretold.score[fire.rows] = residual / foretold.sd[fire.rows]
    if not counts.any():
        return FireScore(fire.key, 0.0, 0.0)
    along = fire.by_luck()[counts]
    among = np.ix_(counts, counts)
    score, _ = latent_score(residual[counts], total[among], along)
    surprise, apart = latent_score(residual[counts], (total + _tails(evidence, fire))[among], along)
    return FireScore(fire.key, score, float(np.sqrt(surprise**2 + _excess(apart, int(counts.sum()) - 1))))


def _tails(evidence: Evidence, fire: Fire) -> Array:
    """Return the variance that Student's tails add to that of the stated sd, (P, P); none in an interval."""
    is_point = evidence.values.low[fire.rows] == evidence.values.high[fire.rows]
    return np.diag((READING_VARIANCE - 1.0) * is_point * fire.noise**2)


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
