"""How odd each fire is against all the others."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.failed_seals import seal_odds
from model.fire_by_fire import FireByFire, Fires, Told, diagonal
from model.likelihood import READING_VARIANCE
from model.misses import Misses, latent_score
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
    score, surprise = np.zeros(len(apart.keys)), np.zeros(len(apart.keys))
    for fires, others in apart.without_each():
        score[fires.places], surprise[fires.places] = _scored(evidence, fires, others, foretold)
    odds = seal_odds(evidence, fitted, apart)
    scores = zip(apart.keys, score.tolist(), surprise.tolist(), strict=True)
    return tuple(FireScore(*one, odds[one[0]]) for one in scores if one[0]), foretold


def _scored(evidence: Evidence, fires: Fires, others: Told, foretold: Foretold) -> tuple[Array, Array]:
    """Return score and surprise of alike fires, (N,) each, and write how others foretell their readings."""
    misses, rows = Misses.of(evidence, fires, others), fires.rows
    foretold.median[rows], foretold.sd[rows] = misses.predicted, misses.sd
    foretold.score[rows] = misses.by / misses.sd
    score, _ = latent_score(misses, fires.by_luck)
    with_tails = replace(misses, doubt=misses.doubt + _tails(evidence, fires))
    surprise, apart = latent_score(with_tails, fires.by_luck)
    freedom = np.maximum(misses.counts.sum(axis=1) - 1, 0)
    return score, np.sqrt(surprise**2 + _excess(apart, freedom))


def _tails(evidence: Evidence, fires: Fires) -> Array:
    """Return the variance that Student's tails add to that of a stated sd, (N, P, P); none in an interval."""
    is_point = evidence.values.low[fires.rows] == evidence.values.high[fires.rows]
    return diagonal((READING_VARIANCE - 1.0) * is_point * fires.noise**2)


def _excess(square: Array, freedom: Array) -> Array:
    """Return how far a sum of squares goes beyond what chance gives."""
    return np.maximum(0.0, square - freedom - CHANCE_SDS * np.sqrt(2.0 * freedom))
