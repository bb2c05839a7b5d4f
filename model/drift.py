"""Whether a forge has come to run otherwise: each fire against those before it, summed up one way.

A fire is scored as the fires before it foretell it, and two sums gather what lies below and above (Page's
cumulative sums). One odd fire never rings; several that lean the same way do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.inputs import ROW
from model.outliers import latent_score, latents_of, residuals
from model.variational import Gaussian, weight_of_books

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


@dataclass(frozen=True)
class _Own:
    """Places of one fire: its readings, its luck among the coordinates, its temper among them too."""

    rows: NDArray[np.intp]
    luck: NDArray[np.intp]
    latents: NDArray[np.intp]


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
    shared, weight = np.flatnonzero(~evidence.is_latent), weight_of_books(evidence, fitted)
    precision = np.diag(weight[shared]) + evidence.check_precision[np.ix_(shared, shared)]
    information = evidence.check_information[shared].copy()
    found = []
    for fire, own in _fires(evidence, fitted).items():
        score = _score(evidence, fitted, own, shared, precision, information)
        keys = evidence.observations[fitted.linearised.owner[own.rows[0]]].process.keys
        name = f"temperature_bias/{keys.heat_method}"
        changes = tuple(one.change for one in keys.loosened if one.touches(name))
        found.append(Foreseen(fire, keys.heat_method, score, changes))
        more, told = _taught(fitted, own, fitted.linearised.jacobian[:, shared], weight, fitted.mean[shared])
        precision, information = precision + more, information + told
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


def _fires(evidence: Evidence, fitted: Gaussian) -> dict[str, _Own]:
    fires = evidence.fires[fitted.linearised.owner]
    known = (fire for fire in dict.fromkeys(fires.tolist()) if fire)
    return {fire: _own(evidence, fire, np.flatnonzero(fires == fire)) for fire in known}


def _own(evidence: Evidence, fire: str, rows: NDArray[np.intp]) -> _Own:
    luck = latents_of(evidence, fire)
    temper = [place for place, name in enumerate(evidence.names) if name == f"temper/{fire}"]
    return _Own(rows, luck, np.concatenate([luck, np.array(temper, dtype=np.intp)]))


def _room(evidence: Evidence, fitted: Gaussian) -> Array:
    """Return the variance of every coordinate over that of the books: how far this shop's fires scatter."""
    return evidence.scatter.room(fitted.scale)


def _score(
    evidence: Evidence,
    fitted: Gaussian,
    own: _Own,
    shared: NDArray[np.intp],
    precision: Array,
    information: Array,
) -> float:
    """Return how many sds a fire's luck is off what is known so far."""
    line = fitted.linearised
    by_shared, by_own = line.jacobian[np.ix_(own.rows, shared)], line.jacobian[np.ix_(own.rows, own.latents)]
    covariance = np.linalg.inv(precision)
    away = covariance @ information - fitted.mean[shared]
    predicted = line.value[own.rows] + by_shared @ away - by_own @ fitted.mean[own.latents]
    residual, counts = residuals(evidence, own.rows, predicted)
    if not counts.any():
        return 0.0
    room = _room(evidence, fitted)[own.latents]
    total = by_shared @ covariance @ by_shared.T + (by_own * room) @ by_own.T
    total += np.diag(evidence.values.spread(line.doubt)[own.rows] ** 2)
    along = line.jacobian[np.ix_(own.rows[counts], own.luck)].sum(axis=1)
    return latent_score(residual[counts], total[np.ix_(counts, counts)], along)[0]


def _taught(fitted: Gaussian, own: _Own, shared: Array, weight: Array, at: Array) -> tuple[Array, Array]:
    """Return the precision and information that one fire adds to what all share, its luck summed over.

    shared : (points, shared) slopes; weight : (names,) of all coordinates; at : (shared,) where taken
    """
    line = fitted.linearised
    by_own, by_shared = line.jacobian[np.ix_(own.rows, own.latents)], shared[own.rows]
    curvature = line.curvature[own.rows, None]
    inner = by_own.T @ (curvature * by_own) + np.diag(weight[own.latents])
    across = by_shared.T @ (curvature * by_own)
    gain = np.linalg.solve(inner, across.T).T
    linear = by_shared @ at + by_own @ fitted.mean[own.latents]
    target = line.slope[own.rows] + line.curvature[own.rows] * linear
    precision = by_shared.T @ (curvature * by_shared) - gain @ across.T
    return precision, by_shared.T @ target - gain @ (by_own.T @ target)


def _shift_K(evidence: Evidence, fitted: Gaussian, since: Sequence[str]) -> tuple[float, float]:
    """Return by how much the work runs hotter in some fires than in all before, and 1 sd of it [K]."""
    line, weight = fitted.linearised, weight_of_books(evidence, fitted)
    shared = np.flatnonzero(~evidence.is_latent)
    step = np.zeros((len(line.value), 1))
    fires = _fires(evidence, fitted)
    for fire in since:
        luck = f"fire/{fire}"
        rows = fires[fire].rows
        step[rows, 0] = (
            SHIFT_SD_K / _kelvin_of(evidence, luck) * line.jacobian[rows, evidence.names.index(luck)]
        )
    slopes = np.hstack([line.jacobian[:, shared], step])
    precision = np.diag(np.append(weight[shared], 1.0))
    precision[:-1, :-1] += evidence.check_precision[np.ix_(shared, shared)]
    information = np.append(evidence.check_information[shared], 0.0)
    for own in fires.values():
        more, told = _taught(fitted, own, slopes, weight, np.append(fitted.mean[shared], 0.0))
        precision, information = precision + more, information + told
    covariance = np.linalg.inv(precision)
    return SHIFT_SD_K * float((covariance @ information)[-1]), SHIFT_SD_K * float(covariance[-1, -1] ** 0.5)


def _kelvin_of(evidence: Evidence, luck: str) -> float:
    """Return what one sd of a fire's luck is worth [K]."""
    terms = (term for linked in evidence.links for term in linked.terms)
    return next(sd for name, row, sd in terms if name == luck and row == ROW["temperature_K"])
