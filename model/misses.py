"""By how much readings miss what is foretold of them, and how odd that makes each fire's own luck."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.fire_by_fire import Fires, Told

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Misses:
    """By how much N fires of P readings miss what is foretold; within its interval one says nothing.

    predicted : (N, P) what is foretold; sd : (N, P) its doubt, the reading's own in it
    by : (N, P) measured less foretold, 0 where it says nothing
    doubt : (N, P, P) its covariance; what says nothing has 1 there, and nothing to do with the others
    counts : (N, P) which say something
    """

    predicted: Array
    sd: Array
    by: Array
    doubt: Array
    counts: NDArray[np.bool_]

    @classmethod
    def of(cls, evidence: Evidence, fires: Fires, others: Told) -> Misses:
        """Return how far alike fires lie from what others foretell of each."""
        predicted, doubt = fires.foretold(others)
        low, high = evidence.values.low[fires.rows], evidence.values.high[fires.rows]
        by = np.clip(predicted, low, high) - predicted
        counts = (low == high) | (by != 0.0)
        both = counts[:, :, None] & counts[:, None]
        apart = np.where(both, doubt, np.eye(by.shape[1]))
        return cls(predicted, np.sqrt(np.einsum("npp->np", doubt)), by, apart, counts)

    def solved(self, moved: Array) -> Array:
        """Return the inverse of the doubt times what is moved, (N, P) both; 0 for what says nothing."""
        return np.asarray(np.linalg.solve(self.doubt, (moved * self.counts)[:, :, None])[:, :, 0])


def latent_score(misses: Misses, along: Array) -> tuple[Array, Array]:
    """Return how many sds each fire's own latent is off, and the square that it does not explain, (N,) each.

    along : (N, P) what one sd of it shifts
    """
    weighed = misses.solved(misses.by)
    known = (along * misses.solved(along)).sum(axis=1)
    off = (along * weighed).sum(axis=1)
    score = np.where(known > 0.0, off / np.sqrt(np.where(known > 0.0, known, 1.0)), 0.0)
    return score, (misses.by * weighed).sum(axis=1) - score**2
