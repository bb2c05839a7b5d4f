"""Bands cover as often as they say, in shops drawn from the books whose seeds were fixed before looking.

Sized for every day: some shops of every kind together, held to what chance allows, all checks together wrong
in 1 of 100 runs. The long run, `python -m tests.honesty`, holds 300 shops a cell to fixed limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import norm

from tests.honesty.figures import FAMILY_ERROR, SHARES, chance_limits, figures_of, is_inside, misses
from tests.honesty.shops import seeds
from tests.honesty.trial import Verdict, verdicts
from tests.honesty.worlds import WORLDS

# way of knowing the heat, batches, shops; no shop stands in two cells, so that all verdicts are independent
CELLS = (
    ("thermocouple", 1, 14), ("thermocouple", 3, 12), ("colour", 3, 10),
    ("thermocouple", 10, 4), ("colour", 10, 3), ("thermocouple", 30, 1),
)  # fmt: skip
SHOPS = sum(shops for _, _, shops in CELLS)
TARGETS = ("rim", "HV550", "HRC")
CHECKS = len(TARGETS) * (len(SHARES) + 1)


@cache
def every_day() -> Sequence[Verdict]:
    """Return the verdicts on all shops of the every-day run."""
    return tuple(
        row
        for heat, batches, shops in CELLS
        for seed in seeds(f"every day {heat} {batches}", shops)
        for row in verdicts(seed, WORLDS["books"], f"{heat}:1", (batches,))
    )


def outside_chance(ranks: np.ndarray) -> list[str]:
    """Return where places among the draws lie outside what chance allows, in words."""
    told = []
    for share in SHARES:
        hits, (low, high) = int(is_inside(ranks, share).sum()), chance_limits(len(ranks), share, CHECKS)
        if not low <= hits <= high:
            told.append(f"{hits} of {len(ranks)} in the {share:.0%} band, not {low} to {high}")
    # mean of so many even draws from 0 to 1
    if abs(ranks.mean() - 0.5) * (12.0 * len(ranks)) ** 0.5 > norm.ppf(1.0 - 0.5 * FAMILY_ERROR / CHECKS):
        told.append(f"mean place {ranks.mean():.2f}")
    return told


@pytest.mark.property
@pytest.mark.parametrize("target", TARGETS)
def test_bands_cover_as_often_as_they_say(target: str) -> None:
    ranks = np.array([row.rank for row in every_day() if row.target == target])
    assert len(ranks) == SHOPS
    assert outside_chance(ranks) == []


@pytest.mark.property
@pytest.mark.parametrize(("wide", "shift"), [(0.45, 0.0), (2.5, 0.0), (1.0, 0.8)])
def test_as_many_shops_would_turn_down_bands_that_are_far_off(wide: float, shift: float) -> None:
    # bands less than half or more than twice as wide as the truth scatters, or off to one side
    turned_down = 0
    for seed in range(20):
        truths = np.random.default_rng(seed).standard_normal(SHOPS)
        turned_down += bool(outside_chance(ndtr((truths + shift) / wide)))
    assert turned_down >= 16


@pytest.mark.property
def test_a_shop_of_ten_batches_foretells_no_worse_than_rules_of_thumb() -> None:
    found = figures_of([row for row in every_day() if row.target == "rim" and row.batches >= 10])
    assert found.rms < 1.2 * min(found.rules_rms)  # eight shops only; the long run asks 0.75


@cache
def long_run(heat: str) -> Sequence[Verdict]:
    found = (
        verdicts(seed, WORLDS["books"], f"{heat}:1", (1, 3, 10, 30)) for seed in seeds(f"books/{heat}", 300)
    )
    return tuple(row for rows in found for row in rows)


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize("batches", [1, 3, 10, 30])
@pytest.mark.parametrize("heat", ["thermocouple", "colour"])
def test_bands_do_what_was_asked_in_the_long_run(heat: str, batches: int) -> None:
    told = []
    for target in TARGETS:
        own = [row for row in long_run(heat) if (row.batches, row.target) == (batches, target)]
        told += [f"{target}: {one}" for one in misses(figures_of(own), heat, batches, target)]
    assert told == []
