"""What many verdicts say together: coverage, place among the draws, width, errors; and what was asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binom

from model.rule_fits import RULES
from tests.honesty.trial import Verdict

SHARES = (0.50, 0.80, 0.90, 0.95)
# Asked of the long run, in percent (acceptance figures of the simulation study).
WANTED_INSIDE = {0.50: (44, 57), 0.80: (75, 86), 0.90: (86, 94), 0.95: (91, 98)}
WANTED_RANK = (0.45, 0.55)
WANTED_WIDTH = {
    "thermocouple": {3: 60, 10: 45, 30: 35},
    "colour": {3: 85, 10: 75, 30: 65},
}
WANTED_RATIO = 0.75
FAMILY_ERROR = 0.01


@dataclass(frozen=True)
class Figures:
    """Of one cell: inside, in percent by share; mean rank; width over middle, rms errors [mm or HRC].

    chance : standard error of the 90 % share in percent; jobs of one shop are not independent
    """

    shops: int
    jobs: int
    chance: float
    inside: tuple[float, ...]
    rank: float
    width_percent: float
    pooled_width_percent: float
    rms: float
    rules_rms: tuple[float, ...]
    rules_width_percent: tuple[float, ...]
    unsettled: int

    @property
    def ratio(self) -> float:
        """Return our rms over that of Harris's law with one fitted factor."""
        return self.rms / self.rules_rms[-1] if self.rules_rms else float("nan")


def figures_of(rows: Sequence[Verdict]) -> Figures:
    """Return the figures of verdicts on one target in one cell."""
    ranks = np.array([row.rank for row in rows])
    widths, middles = np.array([row.high - row.low for row in rows]), np.array([row.middle for row in rows])
    has_rules = bool(rows[0].rules)
    rules = np.array([row.rules for row in rows]) if has_rules else np.zeros((0, 0))
    truth = np.array([row.truth for row in rows])
    return Figures(
        shops=len({row.seed for row in rows}),
        jobs=len(rows),
        chance=100.0 * _chance([row.seed for row in rows], is_inside(ranks, 0.90)),
        inside=tuple(100.0 * float(np.mean(is_inside(ranks, share))) for share in SHARES),
        rank=float(ranks.mean()),
        width_percent=100.0 * float(np.median(widths / np.maximum(np.abs(middles), 1e-9))),
        pooled_width_percent=100.0 * float(widths.mean() / middles.mean()),
        rms=rms(middles - truth),
        rules_rms=tuple(rms(column - truth) for column in rules.T),
        rules_width_percent=tuple(_typical([row.widths for row in rows], k) for k in range(len(RULES)))
        if has_rules
        else (),
        unsettled=sum(not row.settled for row in rows),
    )


def is_inside(ranks: np.ndarray, share: float) -> np.ndarray:
    """Return which truths lie inside the middle share of their draws."""
    return np.asarray(np.abs(ranks - 0.5) <= 0.5 * share)


def _chance(seeds: Sequence[int], inside: np.ndarray) -> float:
    """Return the standard error of a share, shops taken as clusters."""
    _, shop = np.unique(seeds, return_inverse=True)
    away = np.bincount(shop, inside - inside.mean())
    return float(np.sqrt(np.sum(away**2)) / len(inside))


def rms(errors: np.ndarray) -> float:
    """Return the root mean square of errors that are known."""
    known = errors[np.isfinite(errors)]
    return float(np.sqrt(np.mean(known**2))) if len(known) else float("nan")


def _typical(widths: Sequence[tuple[float, ...]], rule: int) -> float:
    known = [row[rule] for row in widths if np.isfinite(row[rule])]
    return 100.0 * float(np.median(known)) if known else float("nan")


def chance_limits(shops: int, share: float, checks: int) -> tuple[int, int]:
    """Return how many of so many shops may lie inside, all checks together wrong in 1 of 100 runs.

    Exact: both tails of the binomial together hold at most `FAMILY_ERROR / checks`.
    """
    tail = 0.5 * FAMILY_ERROR / checks
    return int(binom.ppf(tail, shops, share)), int(binom.ppf(1.0 - tail, shops, share))


def misses(figures: Figures, heat: str, batches: int, target: str) -> list[str]:
    """Return what the long run asks and this cell does not give, in words."""
    told = []
    for share, inside in zip(SHARES, figures.inside, strict=True):
        low, high = WANTED_INSIDE[share]
        if not low <= round(inside) <= high:
            told.append(f"{share:.0%} band holds {inside:.0f}, not {low} to {high}")
    if not WANTED_RANK[0] <= figures.rank <= WANTED_RANK[1]:
        told.append(f"mean rank {figures.rank:.2f}")
    most = WANTED_WIDTH.get(heat.partition(":")[0], {}).get(batches)
    if target == "rim" and most is not None and figures.width_percent > most:
        told.append(f"band {figures.width_percent:.0f} % of the middle, not {most}")
    if target == "rim" and batches == 10 and figures.ratio > WANTED_RATIO:
        told.append(f"error {figures.ratio:.2f} of scaled Harris, not {WANTED_RATIO}")
    return told
