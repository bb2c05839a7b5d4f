"""Bands cover as often as they say, in shops drawn from the books whose seeds were fixed before looking.

Sized for every day: a few shops a cell, held to what chance allows, all checks together wrong in 1 of 100
runs. The long run, `python -m tests.honesty`, holds 300 shops a cell to fixed limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from scipy.stats import norm

from tests.honesty.figures import (
    FAMILY_ERROR,
    SHARES,
    chance_limits,
    figures_of,
    is_inside,
    misses,
)
from tests.honesty.shops import seeds
from tests.honesty.trial import Verdict, verdicts
from tests.honesty.worlds import WORLDS

# way of knowing the heat, batches, shops
CELLS = (("thermocouple", (1, 3), 16), ("colour", (3,), 8), ("thermocouple", (10,), 4))
TARGETS = ("rim", "HV550", "HRC")
CHECKED = [
    (heat, batches, shops, target)
    for heat, counts, shops in CELLS
    for batches in counts
    for target in TARGETS
]
CHECKS = len(CHECKED) * (len(SHARES) + 1)


@cache
def verdicts_of(cell: str, heat: str, counts: tuple[int, ...], shops: int) -> Sequence[Verdict]:
    found = (verdicts(seed, WORLDS["books"], f"{heat}:1", counts) for seed in seeds(cell, shops))
    return tuple(row for rows in found for row in rows)


def rows_of(heat: str, batches: int, shops: int, target: str) -> list[Verdict]:
    counts = next(
        counts for one, counts, size in CELLS if one == heat and batches in counts and size == shops
    )
    every = verdicts_of(f"every day {heat} {counts}", heat, counts, shops)
    return [row for row in every if (row.batches, row.target) == (batches, target)]


@pytest.mark.property
@pytest.mark.parametrize(("heat", "batches", "shops", "target"), CHECKED)
def test_bands_cover_as_often_as_they_say(heat: str, batches: int, shops: int, target: str) -> None:
    ranks = np.array([row.rank for row in rows_of(heat, batches, shops, target)])
    assert len(ranks) == shops
    for share in SHARES:
        hits, (low, high) = int(is_inside(ranks, share).sum()), chance_limits(shops, share, CHECKS)
        assert low <= hits <= high, (share, hits, shops)
    # mean of so many even draws from 0 to 1
    off = abs(ranks.mean() - 0.5) * (12.0 * shops) ** 0.5
    assert off < norm.ppf(1.0 - 0.5 * FAMILY_ERROR / CHECKS)


@pytest.mark.property
def test_ten_batches_foretell_better_than_any_rule_of_thumb() -> None:
    found = figures_of(rows_of("thermocouple", 10, 4, "rim"))
    assert found.rms < 1.2 * min(found.rules_rms)  # four shops only; the long run asks 0.75


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize("batches", [1, 3, 10, 30])
@pytest.mark.parametrize("heat", ["thermocouple", "colour"])
def test_bands_do_what_was_asked_in_the_long_run(heat: str, batches: int) -> None:
    rows = verdicts_of(f"books/{heat}", heat, (1, 3, 10, 30), 300)
    told = []
    for target in TARGETS:
        own = [row for row in rows if (row.batches, row.target) == (batches, target)]
        told += [f"{target}: {one}" for one in misses(figures_of(own), heat, batches, target)]
    assert told == []
