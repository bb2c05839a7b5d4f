"""A belief as it would be without one fire: that fire is then foretold by all the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.arrow import Covariance
from model.belief import ShopBelief
from model.evidence import Evidence
from model.linearised import over_belief
from model.look import Look
from model.look import look as look_by_forecast
from model.readings import Observation
from model.widening import narrowed, widened

Array = NDArray[np.float64]

LEAST_PRECISION: Final = 0.5
"""Least precision left in any direction, in prior sds [-]: the books alone leave 1, an odd fire less.
It keeps what is taken out, which is linear, from taking more than there was."""


def without_fire(
    belief: ShopBelief, fire: str, observations: Sequence[Observation], look: Look = look_by_forecast
) -> ShopBelief:
    """Take what the readings of one fire taught out of a belief.

    belief : learnt from these readings among others; fire : its key
    observations : the readings of that fire which the fit used, and no others
    look : what can be seen of processes; another one only in tests
    Returns the belief without them, in which that fire is one never seen.
    Source: the fit's own normal equations (`variational`) with the rows of one fire taken away, as
    `outliers` does; worked afresh from the stored belief, so exact where the readings are straight in the
    constants. A test holds it to the fit's own scores.
    """
    names = [name for name in belief.names if not _is_of(name, fire)]
    observations = [one for one in observations if _is_known(one, belief)]
    keep = [belief.names.index(name) for name in names]
    books = np.broadcast_to(belief.books, len(belief.names))[keep]
    mean, covariance = belief.mean, belief.covariance.only(np.array(keep, dtype=np.intp))
    if observations:
        mean, left = _taken_out(belief, observations, look)
        covariance = Covariance.whole(widened(left[np.ix_(keep, keep)], books, belief.spread))
    return ShopBelief(tuple(names), mean[keep], covariance, belief.spread, belief.coupons, books=books)


def _is_known(observation: Observation, belief: ShopBelief) -> bool:
    """Tell whether the belief speaks of all a reading touches: a record may have been put right since."""
    return set(Evidence([observation], (), look_by_forecast).names) <= set(belief.names)


def _is_of(name: str, fire: str) -> bool:
    return name in (f"fire/{fire}", f"temper/{fire}") or name.startswith(f"load/{fire}|")


def _taken_out(belief: ShopBelief, observations: Sequence[Observation], look: Look) -> tuple[Array, Array]:
    """Return mean and covariance without what the observations say, before surprises widen it."""
    evidence = Evidence(observations, (), look)
    at = [belief.names.index(name) for name in evidence.names]
    covariance = narrowed(belief.covariance.full(), belief.books, belief.spread)
    line = over_belief(evidence, belief.mean[at], covariance[np.ix_(at, at)])
    precision = np.linalg.inv(covariance)
    information = precision @ belief.mean
    jacobian, weighed = line.jacobian, line.jacobian * line.curvature[:, None]
    precision[np.ix_(at, at)] -= jacobian.T @ weighed
    information[at] -= jacobian.T @ line.slope + weighed.T @ (jacobian @ belief.mean[at])
    values, vectors = np.linalg.eigh(0.5 * (precision + precision.T))
    held = np.maximum(values, LEAST_PRECISION)
    return vectors @ ((vectors.T @ information) / held), (vectors / held) @ vectors.T
