"""A fit whose predictions come off surfaces: where it begins, and how it settles."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.earlier import Earlier
from model.emulated import EmulatedEvidence
from model.evidence import Look
from model.scatter import Scale
from model.variational import Gaussian, best_point, variational

Array = NDArray[np.float64]

MOST_ROUNDS: Final = 4
"""Rounds of laying surfaces and fitting by them."""
PLACING: Final = 32
"""Forecasts of each work from which it is told where a belief lies, over the whole width of the books."""


def fit_from_nothing(evidence: EmulatedEvidence, rough_look: Look) -> tuple[Gaussian, Gaussian]:
    """Find the best point and the belief with nothing known but the books.

    rough_look : what finds out where the belief lies; the forecasts that the fit leans on are made there
    """
    begun = placed(evidence, rough_look)
    evidence.emulate(begun.mean, begun.narrowed, begins=True)
    return _settled(evidence, variational(evidence, begun))


def fit_by_surfaces(
    evidence: EmulatedEvidence, mean: Array, covariance: Array | Earlier, scale: Scale | None = None
) -> tuple[Gaussian, Gaussian]:
    """Find the best point and the belief, beginning from another belief.

    mean, covariance : of the belief to begin with, in the order of the evidence's names
    scale : how far fires scatter by that belief, None where it does not say
    """
    evidence.emulate(mean, covariance, begins=True)
    return _settled(evidence, variational(evidence, best_point(evidence, mean, scale)))


def placed(evidence: EmulatedEvidence, look: Look) -> Gaussian:
    """Find about where the belief lies, by a look that may be rough, from the books' whole width.

    Its own forecasts are not kept.
    """
    rough, begin = evidence.seen_by(look, PLACING), np.zeros(len(evidence.names))
    rough.emulate(begin, Earlier.of(ShopBelief(), rough.names), begins=True)
    return variational(rough, best_point(rough, begin, rough.scatter.books()))


def _settled(evidence: EmulatedEvidence, fitted: Gaussian) -> tuple[Gaussian, Gaussian]:
    """Lay surfaces about each belief in turn until they stand; return the best point and the belief."""
    for _ in range(MOST_ROUNDS - 1):
        if not evidence.emulate(fitted.mean, fitted.narrowed):
            break
        fitted = variational(evidence, fitted)
    best = best_point(evidence, fitted.mean, fitted.scale)
    if evidence.give_up():
        best = best_point(evidence, best.mean, fitted.scale)
        fitted = variational(evidence, best)
    return best, fitted
