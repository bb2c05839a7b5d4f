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
from model.fire_by_fire import FireByFire, Told
from model.inputs import ROW
from model.misses import Misses, latent_score
from model.process import Keys
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
    is_named = np.array([bool(key) for key in apart.keys], dtype=bool)
    score, first = np.zeros(len(apart.keys)), np.zeros(len(apart.keys), dtype=np.intp)
    for fires, before in apart.after_those_before(is_named):
        misses = Misses.of(evidence, fires, before)
        score[fires.places], first[fires.places] = latent_score(misses, fires.by_luck)[0], fires.rows[:, 0]
    owner = fitted.linearised.owner[first].tolist()
    keys = [evidence.observations[reading].process.keys for reading in owner]
    foreseen = zip(keys, score.tolist(), strict=True)
    return tuple(Foreseen(one.fire, one.heat_method, at, _changes(one)) for one, at in foreseen if one.fire)


def _changes(keys: Keys) -> tuple[str, ...]:
    """Return the dated changes that touched the way of knowing a fire's heat before it."""
    name = f"temperature_bias/{keys.heat_method}"
    return tuple(one.change for one in keys.loosened if one.touches(name))


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


def _shift_K(evidence: Evidence, fitted: Gaussian, since: Sequence[str]) -> tuple[float, float]:
    """Return by how much the work runs hotter in some fires than in all before, and 1 sd of it [K].

    The shift is one more coordinate that all share, of which the fires before know nothing.
    """
    apart = FireByFire.of(evidence, fitted)
    size, steps = len(apart.shared) + 1, _by_heat(evidence, fitted, since)
    known = Told(np.eye(size), np.zeros(size))
    known.precision[:-1, :-1], known.information[:-1] = apart.books.precision, apart.books.information
    is_named = np.array([bool(key) for key in apart.keys], dtype=bool)
    for fires in apart.fires():
        by_shared = np.concatenate([fires.by_shared, steps[fires.rows][:, :, None]], axis=2)
        told = replace(fires, by_shared=by_shared).told()
        known = known.plus(told.only(is_named[fires.places]).summed())
    covariance = np.linalg.inv(known.precision)
    shift, variance = float((covariance @ known.information)[-1]), float(covariance[-1, -1])
    return SHIFT_SD_K * shift, SHIFT_SD_K * variance**0.5


def _by_heat(evidence: Evidence, fitted: Gaussian, since: Sequence[str]) -> Array:
    """Return what work that runs hotter by `SHIFT_SD_K` in some fires does to every reading, (points,)."""
    touching = fitted.linearised.touching
    lucks = [f"fire/{key}" for key in since]
    shifts = [
        SHIFT_SD_K / _kelvin_of(evidence, luck) * touching.by(evidence.names.index(luck)) for luck in lucks
    ]
    return np.asarray(np.sum(shifts, axis=0))


def _kelvin_of(evidence: Evidence, luck: str) -> float:
    """Return what one sd of a fire's luck is worth [K]."""
    terms = (term for linked in evidence.links for term in linked.terms)
    return next(sd for name, row, sd in terms if name == luck and row == ROW["temperature_K"])
