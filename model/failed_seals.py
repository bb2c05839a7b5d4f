"""Which fires came out as a leaking box would, weighed against the fires' own luck.

A mixture of two: each fire is either clean, and off by its luck alone, or its seal failed, and off by what a
leak does to depth and hardness as well. Failed fires are kept out of the scale of the clean ones' luck, which
they would widen until they hid in it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.fire_by_fire import FireByFire
from model.misses import Misses
from model.priors import prior_for
from model.scatter import Scale
from model.tables import read_table
from model.variational import Gaussian, weight_of_books

Array = NDArray[np.float64]

# How many seals fail: one in twenty, as sure as ten fires make it [-]; common practice, no source.
FAILED_FIRES: Final = 0.5
FIRES_OF_PRIOR: Final = 10.0
ROUNDS: Final = 4  # of share and scale in turn; the odds move by less than 0.02 after them
SHARE_ROUNDS: Final = 20
MOST_LOG_ODDS: Final = 30.0
SHIFTED: Final = {"ln_transfer": "ln_transfer/shop", "activity_logit": "activity/shop"}


def seal_odds(evidence: Evidence, fitted: Gaussian, apart: FireByFire) -> dict[str, float]:
    """Return how likely it is that each fire's seal failed, by the fire's key, 0 to 1.

    evidence : what was read; fitted : the belief learnt from all of it; apart : the same fire by fire
    Source: two-part mixture by expectation and maximisation (Dempster, Laird and Rubin, J. Roy. Stat. Soc.
    B 39 (1977) 1, from memory); the leak is the middle of the row `seal_failed` of `data/causes.csv`.
    """
    leak = fitted.linearised.touching.along(_leak(evidence.names))
    odds = _odds(evidence, apart, leak)
    for _ in range(ROUNDS - 1):
        fitted = replace(fitted, scale=_scale_of_clean(evidence, fitted, odds))
        apart = apart.scattered(evidence, fitted)
        odds = _odds(evidence, apart, leak)
    return odds


def _odds(evidence: Evidence, apart: FireByFire, leak: Array) -> dict[str, float]:
    """Return the odds of each fire."""
    return dict(zip(apart.keys, _mixed(_log_ratios(evidence, apart, leak)).tolist(), strict=True))


@cache
def _shifts() -> dict[str, float]:
    """Return what a leak adds to coordinates of the shop, in sds of the books."""
    (row,) = (row for row in read_table("causes.csv") if row["way"] == "seal_failed")
    changes = zip(row["change"].split(), row["low"].split(), row["high"].split(), strict=True)
    middle = {name: (float(low) + float(high)) / 2.0 for name, low, high in changes}
    return {SHIFTED[name]: amount / prior_for(SHIFTED[name]).sd for name, amount in middle.items()}


def _leak(names: tuple[str, ...]) -> Array:
    shifts = _shifts()
    return np.array([shifts.get(name, 0.0) for name in names])


def _log_ratios(evidence: Evidence, apart: FireByFire, leak: Array) -> Array:
    """Return ln of how much likelier a leak makes each fire's readings than luck does, (fires,)."""
    ratios = np.zeros(len(apart.keys))
    for fires, others in apart.without_each():
        misses, moved = Misses.of(evidence, fires, others), leak[fires.rows]
        weighed = misses.solved(moved)
        ratios[fires.places] = (weighed * (misses.by - 0.5 * moved)).sum(axis=1)
    return ratios


def _mixed(log_ratios: Array) -> Array:
    """Return the odds of each fire, with the share of seals that fail in this shop."""
    ratios = np.exp(np.clip(log_ratios, -MOST_LOG_ODDS, MOST_LOG_ODDS))
    share = FAILED_FIRES / FIRES_OF_PRIOR
    odds = np.zeros(len(ratios))
    for _ in range(SHARE_ROUNDS):
        odds = share * ratios / (share * ratios + 1.0 - share)
        share = (odds.sum() + FAILED_FIRES) / (len(odds) + FIRES_OF_PRIOR)
    return odds


def _scale_of_clean(evidence: Evidence, fitted: Gaussian, odds: dict[str, float]) -> Scale:
    """Return what the clean fires alone say of how far fires scatter."""
    line, clean = fitted.linearised, np.ones(len(evidence.names) + 1)
    for chance, own in zip(odds.values(), evidence.layout.own, strict=True):
        clean[own] = 1.0 - chance
    return evidence.scatter.learnt(
        fitted.scale,
        line.told,
        line.information(fitted.mean),
        weight_of_books(evidence, fitted),
        clean[:-1],
    )
