"""Whether a forge has come to run otherwise: each fire against those before it, summed up one way.

A fire is scored as the fires before it foretell it, and two sums gather what lies below and above (Page's
cumulative sums). One odd fire never rings; several that lean the same way do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.fire_by_fire import Fire, FireByFire, Told, residuals
from model.inputs import ROW
from model.outliers import latent_score
from model.variational import Gaussian

Array = NDArray[np.float64]

# Allowance and limit [sd]. The simulation study has 4 for the limit; with that, fires that scatter by the
# fit's own heavy tails ring in 20 of 100 clean shops. Rates by the table in DEVELOPERS.md.
ALLOWANCE: Final = 0.5
LIMIT: Final = 4.5
MOST_SCORE: Final = 3.0
FAILED_SEAL: Final = -2.5  # below it a fire is taken for one with a failed seal, ...
FAILED_SEAL_COUNTS: Final = -1.0  # ... and counts as no more than this
FIRST_FIRE: Final = 4
SHIFT_SD_K: Final = 20.0  # how far a forge may have drifted, before its fires are looked at (the same study)


@dataclass(frozen=True)
class Foreseen:
    """One fire as those before it foretell it.

    score : sds that its own luck is off: below 0 shallower than foretold; 0 where it told nothing
    """

    fire: str
    heat_method: str
    score: float
    changes: tuple[str, ...]


@dataclass(frozen=True)
class Drift:
    """A forge that has come to run otherwise, by one way of knowing its heat.

    first, rang : keys of the first fire that leans so, and of the one at which the sum passed its limit
    fires : how many since the first
    by_K, sd_K : what the work is hotter by than before, at the same reading, and 1 sd of it [K]
    """

    heat_method: str
    first: str
    rang: str
    fires: int
    by_K: float
    sd_K: float


def watch(evidence: Evidence, fitted: Gaussian) -> tuple[Drift, ...]:
    """Return each way of knowing the heat by which the forge has drifted since its newest dated change.

    evidence : what was read, in the order of the fires' days; fitted : the belief learnt from all of it
    Source: two-sided cumulative sum of clipped one-step-ahead scores (Page, Biometrika 41 (1954) 100, from
    memory), allowance and limit from the simulation study made for this model; DEVELOPERS.md has its rates.
    """
    seen = foreseen(evidence, fitted)
    found = []
    for method in dict.fromkeys(one.heat_method for one in seen if one.heat_method):
        series = [one for one in seen if one.heat_method == method]
        newest = [one for one in series if one.changes == series[-1].changes]
        rung = ring([one.score for one in newest], skipped=max(0, FIRST_FIRE - 1 - len(series) + len(newest)))
        if rung is not None:
            first, at = rung
            since = tuple(one.fire for one in newest[first:])
            by_K, sd_K = _shift_K(evidence, fitted, since)
            found.append(Drift(method, newest[first].fire, newest[at].fire, len(since), by_K, sd_K))
    return tuple(found)


def foreseen(evidence: Evidence, fitted: Gaussian) -> tuple[Foreseen, ...]:
    """Return every fire as the ones before it foretell it, in order.

    Source: the fit's own normal equations, rows of earlier fires only, with each one's luck summed over
    (Schur complement); the score is `outliers`', one step ahead.
    """
    apart = FireByFire.of(evidence, fitted)
    known, found = apart.books, []
    for key, fire in apart.fires.items():
        if not key:
            continue
        keys = evidence.observations[fitted.linearised.owner[fire.rows[0]]].process.keys
        name = f"temperature_bias/{keys.heat_method}"
        changes = tuple(one.change for one in keys.loosened if one.touches(name))
        found.append(Foreseen(key, keys.heat_method, _score(evidence, fire, known), changes))
        known = known.plus(fire.told())
    return tuple(found)


def ring(scores: Sequence[float], skipped: int = 0) -> tuple[int, int] | None:
    """Return where a lean begins and where its sum passes the limit, None where none does.

    scores : [sd] in order; skipped : how many of the first do not count
    The lean begins with the fire after the last at which its sum was nothing.
    """
    rung = [found for side in (-1.0, 1.0) if (found := _ring_of(scores, side, skipped)) is not None]
    return min(rung, key=lambda found: found[1], default=None)


def _ring_of(scores: Sequence[float], side: float, skipped: int) -> tuple[int, int] | None:
    total, begun = 0.0, skipped
    for place, score in enumerate(scores[skipped:], start=skipped):
        total = max(0.0, total + side * _counted(score) - ALLOWANCE)
        if total == 0.0:
            begun = place + 1
        elif total > LIMIT:
            return begun, place
    return None


def _counted(score: float) -> float:
    """Return a score as the sums take it: a failed seal is no drift."""
    return FAILED_SEAL_COUNTS if score < FAILED_SEAL else float(np.clip(score, -MOST_SCORE, MOST_SCORE))


def _score(evidence: Evidence, fire: Fire, known: Told) -> float:
    """Return how many sds a fire's luck is off what is known so far."""
    predicted, total = fire.foretold(known)
    residual, counts = residuals(evidence, fire.rows, predicted)
    if not counts.any():
        return 0.0
    return latent_score(residual[counts], total[np.ix_(counts, counts)], fire.by_luck()[counts])[0]


def _shift_K(evidence: Evidence, fitted: Gaussian, since: Sequence[str]) -> tuple[float, float]:
    """Return by how much the work runs hotter in some fires than in all before, and 1 sd of it [K].

    The shift is one more coordinate that all share, of which the fires before know nothing.
    """
    apart = FireByFire.of(evidence, fitted)
    size = len(apart.shared) + 1
    known = Told(np.eye(size), np.zeros(size))
    known.precision[:-1, :-1], known.information[:-1] = apart.books.precision, apart.books.information
    for key, fire in apart.fires.items():
        if key:
            step = _by_heat(evidence, fire) if key in since else np.zeros(len(fire.rows))
            known = known.plus(replace(fire, by_shared=np.column_stack([fire.by_shared, step])).told())
    covariance = np.linalg.inv(known.precision)
    shift, variance = float((covariance @ known.information)[-1]), float(covariance[-1, -1])
    return SHIFT_SD_K * shift, SHIFT_SD_K * variance**0.5


def _by_heat(evidence: Evidence, fire: Fire) -> Array:
    """Return what work that runs hotter by `SHIFT_SD_K` does to a fire's readings, (points,)."""
    luck = f"fire/{fire.key}"
    by_luck = fire.by_own[:, fire.own.index(luck)]
    return np.asarray(SHIFT_SD_K / _kelvin_of(evidence, luck) * by_luck)


def _kelvin_of(evidence: Evidence, luck: str) -> float:
    """Return what one sd of a fire's luck is worth [K]."""
    terms = (term for linked in evidence.links for term in linked.terms)
    return next(sd for name, row, sd in terms if name == luck and row == ROW["temperature_K"])
