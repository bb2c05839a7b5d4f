"""How a belief narrowed as its fires came in: the same fit, cut off after each of a few fires."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief, handbook_belief
from model.evidence import Evidence
from model.learnt import STANDARD_CARBON_WT, Band
from model.look import look
from model.planner import band
from model.process import Process, Quench
from model.sight import signed_depth
from model.variational import Gaussian, weight_of_books
from model.widening import widened_by_fire

Array = NDArray[np.float64]

MOST_MOMENTS: Final = 8
DRAWS: Final = 60


@dataclass(frozen=True)
class Moment:
    """What was believed after so many fires: of what lasts, without the luck of any one fire."""

    fires: int
    coupons: int
    belief: ShopBelief


def doubt_course(evidence: Evidence, fitted: Gaussian, spread: float) -> tuple[Moment, ...]:
    """Return what the first fires alone would have taught, at a few moments up to the last.

    evidence : what was read, in the order of the logbook; fitted : the belief learnt from all of it
    spread : how much the whole fit's fires surprise (`widening`), 1 or more
    Returns moments, none where nothing was read. Instrument checks count from the first.
    Source: the fit's own normal equations with the rows of later fires taken away, so linear about what all
    fires together say; a test holds the last moment to the fit.
    """
    fires = evidence.fires.tolist()
    order = {fire: place for place, fire in enumerate(dict.fromkeys(fires), start=1)}
    line = fitted.linearised
    arrived = np.array([order[fires[owner]] for owner in line.owner], dtype=int)
    weight = fitted.narrowed.precision().diagonal - line.told.diagonal
    full = weight_of_books(evidence, fitted)
    target = line.target(fitted.mean)
    lasting = np.flatnonzero(~evidence.is_latent)
    names = tuple(evidence.names[place] for place in lasting)
    moments = []
    for count in _moments(len(order)):
        known = arrived <= count
        curvature = np.where(known, line.curvature, 0.0)
        said = evidence.told(line.touching, curvature)
        read = line.touching.gathered(np.where(known, target, 0.0)) + evidence.check_information
        precision = said.plus(weight)
        mean = precision.inverse().times(read)[lasting]
        wider = widened_by_fire(precision, full, spread)
        told = zip(evidence.observations, fires, strict=True)
        coupons = {one.coupon or one.key for one, fire in told if order[fire] <= count}
        belief = ShopBelief(names, mean, wider.only(lasting), 1.0, len(coupons))
        moments.append(Moment(count, len(coupons), belief))
    return tuple(moments)


def _moments(fires: int) -> list[int]:
    """Return after how many fires to look: each of the first few, then ever further apart."""
    if not fires:
        return []
    spaced = np.geomspace(1, fires, MOST_MOMENTS)
    return sorted({round(count) for count in spaced.tolist()})


def standard_job_course(moments: Sequence[Moment], job: Process) -> tuple[Band, ...]:
    """Return the standard job's depth over the books', of the books and then at every moment.

    moments : of `doubt_course`; job : of `learnt.standard_job`
    Returns one band more than there are moments, as `learnt.standard_job_ratio` gives them.
    """
    soaked = replace(job, steps=tuple(step for step in job.steps if not isinstance(step, Quench)))
    beliefs = (handbook_belief(), *(moment.belief for moment in moments))
    inputs = np.concatenate([belief.inputs(soaked, DRAWS, include_fire_scatter=False) for belief in beliefs])
    seen = look([soaked], inputs[None])[0]
    depths = signed_depth(seen.depth_m, seen.carbon_wt, STANDARD_CARBON_WT).reshape(len(beliefs), DRAWS)
    books = float(np.median(depths[0]))
    found = [band(row / books) for row in depths]
    return tuple(Band(float(middle), float(low), float(high)) for low, middle, high in found)
