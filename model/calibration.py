"""Constants of a shop from its coupons, with their doubt.

fit: usable readings -> best point -> variational steps -> if asked, draws of the belief itself -> odd fires
and widening -> a belief.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.belief import ShopBelief
from model.doubt_course import Moment, doubt_course
from model.drift import Drift, watch
from model.earlier import Earlier
from model.emulated import EmulatedEvidence, fit_by_surfaces
from model.errors import ModelError
from model.evidence import Check, Evidence
from model.kept_forecasts import KeptForecasts, done_to, mark_of
from model.look import Look
from model.look import look as look_by_forecast
from model.outliers import FireScore, Foretold, fire_scores
from model.piecework import Piecework, in_turn
from model.process import Process
from model.readings import Observation
from model.rest import Diagnostics
from model.scatter import Scale
from model.slow_fit import settled_fit
from model.usable import why_not_learnt, why_not_used
from model.variational import Gaussian, best_point, variational, weight_of_books
from model.widening import stretch, widened_by_fire, widening

Array = NDArray[np.float64]

NORMAL_90: Final = 1.6448536  # half width of a 90 % band in sds


@dataclass(frozen=True)
class LeftOut:
    """A reading that the fit did not use, and why in plain words."""

    key: str
    reason: str


@dataclass(frozen=True)
class Predicted:
    """One value of a reading beside what was measured, in the reading's own unit.

    median, low, high : as the fit has it, with the reading's own scatter; 90 %
    measured_low, measured_high : equal for a point; the two files, or the limit, for an interval
    score : sds from what the other fires foretell; 0 within an interval
    foretold : what the other fires foretell
    """

    key: str
    point: int
    median: float
    low: float
    high: float
    measured_low: float
    measured_high: float
    score: float
    foretold: float


@dataclass(frozen=True)
class FitResult:
    """What a logbook says of its shop; `course` is how it came to be known, fire by fire.

    evidence, fitted : the readings as they were used, and what they say before any widening: for questions
        that are asked of the same fit afterwards
    """

    belief: ShopBelief
    used_keys: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    predictions: tuple[Predicted, ...]
    fires: tuple[FireScore, ...]
    diagnostics: Diagnostics
    evidence: Evidence
    fitted: Gaussian
    course: tuple[Moment, ...] = ()
    drifts: tuple[Drift, ...] = ()


def fit(
    observations: Sequence[Observation],
    checks: Sequence[Check],
    *,
    previous: ShopBelief | None = None,
    look: Look = look_by_forecast,
    kept: KeptForecasts | None = None,
    exact: bool = False,
    careful: bool = False,
    piecework: Piecework = in_turn,
) -> FitResult:
    """Learn a shop's constants from its readings and the checks of its instruments.

    observations : any readings, in the order of their fires' days, by which the watch for drift goes; those
        that cannot be used are set aside with the reason
    checks : dated checks of testers and heat methods
    previous : an earlier belief to begin from; it changes the time taken, not the answer
    look : what can be seen of processes; another one only in tests
    kept : forecasts of earlier fits, to which those made now are added; they change the time taken, and the
        answer by no more than surfaces are wrong by (`emulator`)
    exact : ask the full forecast for every prediction, ten times slower: the referee of the surfaces
    careful : draw the belief itself too, which takes some seconds; where the draws do not come to rest the
        quick fit stands, put to the test from other starts
    piecework : how its forecasts are worked through; it changes the time taken, not the answer
    Returns the belief, what it was learnt from, and each reading beside its prediction.
    Source: recommended set and method of the simulation study made for this model (DEVELOPERS.md).
    """
    begun = previous or ShopBelief()
    used, left_out = _sorted_out(observations, {})
    try:
        evidence, best, quick = _fitted(used, checks, begun, look, kept, exact, piecework)
    except ModelError:
        refused = _refused(used, look, kept)
        if not refused:
            raise
        used, left_out = _sorted_out(observations, refused)
        evidence, best, quick = _fitted(used, checks, begun, look, kept, exact, piecework)
    fitted, diagnostics, draws = settled_fit(evidence, best, quick, careful)
    fires, foretold = fire_scores(evidence, fitted)
    spread = widening(fire.surprise for fire in fires)
    coupons = len({observation.coupon or observation.key for observation in used})
    widened = widened_by_fire(fitted.narrowed.precision(), weight_of_books(evidence, fitted), spread)
    belief = _belief(evidence, fitted, widened, draws, spread, coupons)
    return FitResult(
        belief=belief,
        used_keys=tuple(observation.key for observation in used),
        left_out=left_out,
        predictions=_predictions(evidence, fitted, foretold, widened),
        fires=fires,
        diagnostics=diagnostics,
        evidence=evidence,
        fitted=fitted,
        course=doubt_course(evidence, fitted, spread),
        drifts=watch(evidence, fitted),
    )


def _belief(
    evidence: Evidence,
    fitted: Gaussian,
    widened: Covariance,
    draws: Array | None,
    spread: float,
    coupons: int,
) -> ShopBelief:
    """Return the belief as surprises leave it, `widened`, with the scales of the fires' scatter after it.

    The scales are not widened: they have seen the surprises.
    """
    middle, sd = evidence.scatter.coordinates(fitted.scale)
    learnt, mean = len(evidence.names), np.concatenate([fitted.mean, middle])
    books = weight_of_books(evidence, fitted)
    if draws is not None and learnt:
        mean = draws.mean(axis=0)
        wider = (draws - mean)[:, :learnt] @ stretch(fitted.covariance, books, spread).T
        draws = np.hstack([mean[:learnt] + wider, draws[:, learnt:]])
    return ShopBelief(
        names=(*evidence.names, *evidence.scatter.names),
        mean=mean,
        covariance=widened.and_beside(sd**2),
        spread=spread,
        coupons=coupons,
        draws=draws,
        books=np.concatenate([books, sd**-2]),
    )


def _fitted(
    used: Sequence[Observation],
    checks: Sequence[Check],
    previous: ShopBelief,
    look: Look,
    kept: KeptForecasts | None,
    exact: bool,
    piecework: Piecework,
) -> tuple[Evidence, Gaussian, Gaussian]:
    """Return the evidence, its best point and the Gaussian nearest to what it says."""
    if exact:
        evidence = Evidence(used, checks, look, piecework)
        best = best_point(evidence, _begun(previous, evidence.names)[0])
        return evidence, best, variational(evidence, best)
    emulated = EmulatedEvidence(used, checks, look, kept or KeptForecasts(), piecework)
    return emulated, *fit_by_surfaces(emulated, *_begun(previous, emulated.names), _scale(previous, emulated))


def _scale(previous: ShopBelief, evidence: Evidence) -> Scale | None:
    """Return how far fires scatter as an earlier belief has it, None where it does not say."""
    sds = np.sqrt(previous.covariance.diagonal).tolist()
    told = zip(previous.mean.tolist(), sds, strict=True)
    return evidence.scatter.begun(dict(zip(previous.names, told, strict=True)))


def _begun(previous: ShopBelief, names: Sequence[str]) -> tuple[Array, Earlier]:
    """Return mean and covariance of named coordinates as an earlier belief has them, else as the books do."""
    earlier = Earlier.of(previous, names)
    known = np.append(previous.mean, 0.0)  # the last for what it does not know
    return known[earlier.place], earlier


def _sorted_out(
    observations: Sequence[Observation], refused: Mapping[Process, str]
) -> tuple[list[Observation], tuple[LeftOut, ...]]:
    """Split readings into those that can be used and those set aside with the reason.

    refused : processes that the model cannot forecast, and why
    """
    reasons = {
        observation.key: why_not_used(observation)
        or why_not_learnt(observation)
        or refused.get(observation.process)
        for observation in observations
    }
    used = [observation for observation in observations if reasons[observation.key] is None]
    return used, tuple(LeftOut(key, reason) for key, reason in reasons.items() if reason)


def _refused(
    observations: Sequence[Observation], look: Look, kept: KeptForecasts | None
) -> dict[Process, str]:
    """Return the processes that the model cannot forecast, and why; those of which one is kept it could."""
    known = KeptForecasts() if kept is None else kept
    reasons = {
        process: _refusal(one, look)
        for process, one in {one.process: one for one in observations}.items()
        if known.forecasts.get(mark_of(done_to(process))) is None
    }
    return {process: reason for process, reason in reasons.items() if reason}


def _refusal(observation: Observation, look: Look) -> str | None:
    """Return why the model cannot forecast a reading, None when it can."""
    evidence = Evidence([observation], [], look)
    start = evidence.inputs(np.zeros(len(evidence.names)))[:, None, :]
    try:
        evidence.predicted(start)
    except ModelError as refusal:
        return str(refusal)
    return None


def _predictions(
    evidence: Evidence, fitted: Gaussian, foretold: Foretold, widened: Covariance
) -> tuple[Predicted, ...]:
    line, values = fitted.linearised, evidence.values
    doubt = widened.along(line.touching.by_slot(), evidence.fire_places[line.owner])
    half = NORMAL_90 * np.hypot(np.sqrt(doubt), values.spread(line.doubt))
    first = np.cumsum(values.counts) - values.counts
    return tuple(
        Predicted(
            key=evidence.observations[owner].key,
            point=row - int(first[owner]),
            median=float(line.value[row]),
            low=float(line.value[row] - half[row]),
            high=float(line.value[row] + half[row]),
            measured_low=float(values.low[row]),
            measured_high=float(values.high[row]),
            score=float(foretold.score[row]),
            foretold=float(foretold.median[row]),
        )
        for row, owner in enumerate(line.owner)
    )
