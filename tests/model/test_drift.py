"""The watch for drift: how often it rings where nothing changed, and how soon where something did.

Shops are drawn from the books. `linear_shop` holds the physics straight, so that many cost little; the long
run has the app's own full forecast as the world.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import binom

from model.calibration import fit
from model.dated_changes import Loosened, loosened_by
from model.drift import FIRST_FIRE, Drift, foreseen, ring
from model.evidence import Evidence
from model.look import look
from model.outliers import fire_scores
from model.priors import prior_for
from model.readings import Observation
from model.variational import Gaussian
from tests.model.invented import InventedShop
from tests.model.linear_shop import after, drawn_shop, drifts_of, fires_of, fitted, read_of

SEEDS = range(500000, 500040)
CHANGED = 15
MOST_FALSE, LEAST_CAUGHT = 0.15, 0.65
CHANCE = 0.005  # of a right watch failing one of the limits below


def colder(by_K: float) -> Callable[[int], float]:
    return lambda fire: by_K * (fire >= CHANGED)


def rang(drifts: Sequence[Drift]) -> int | None:
    return int(drifts[0].rang[1:]) if drifts else None


def caught_in_ten(drifts: Sequence[Drift]) -> bool:
    """Tell whether a drift is caught within ten fires, and not rung before it began."""
    at = rang(drifts)
    return at is not None and CHANGED <= at < CHANGED + 10


@cache
def clean_shops() -> tuple[tuple[Evidence, Gaussian], ...]:
    shops = [drawn_shop(seed, 28) for seed in SEEDS]
    return tuple((shop, fitted(shop)) for shop in shops)


@pytest.mark.property
def test_a_clean_shop_rings_no_oftener_than_stated() -> None:
    false = sum(bool(drifts_of(shop, found)) for shop, found in clean_shops())
    assert false <= binom.ppf(1.0 - CHANCE, len(SEEDS), MOST_FALSE)


@pytest.mark.property
def test_a_drift_of_thirty_kelvin_is_caught_within_ten_fires_as_often_as_stated() -> None:
    shops = [drawn_shop(seed, 25, colder_K=colder(30.0)) for seed in SEEDS]
    found = [drifts_of(shop) for shop in shops]
    assert sum(caught_in_ten(drifts) for drifts in found) >= binom.ppf(CHANCE, len(SEEDS), LEAST_CAUGHT)
    shifts = [drifts[0].by_K for drifts in found if caught_in_ten(drifts)]
    # what the books make likely is nearer nothing than 30 K
    assert -32.0 < np.median(shifts) < -15.0
    begun = [int(drifts[0].first[1:]) for drifts in found if caught_in_ten(drifts)]
    assert abs(np.median(begun) - CHANGED) <= 2


@pytest.mark.property
def test_scores_one_step_ahead_are_about_nothing_with_a_spread_of_about_one() -> None:
    scores = np.array([[one.score for one in foreseen(*shop)[FIRST_FIRE - 1 :]] for shop in clean_shops()])
    # 40 shops of 25 fires: the mean is known to 0.03, and the tails are a little heavier than normal
    assert abs(scores.mean()) < 0.12
    assert 0.9 < scores.std() < 1.2


@pytest.mark.property
def test_the_last_fire_is_foretold_by_the_watch_as_the_odd_ones_out_foretell_it() -> None:
    shop, found = clean_shops()[0]
    ahead = {one.fire: one.score for one in foreseen(shop, found)}
    others = {one.fire: one.score for one in fire_scores(shop, found)[0]}
    last = list(ahead)[-1]
    assert ahead[last] == pytest.approx(others[last], abs=1e-6)
    assert abs(ahead["f0"] - others["f0"]) > 1e-3  # all the others against none


@pytest.mark.property
def test_a_known_change_begins_the_watch_anew_and_takes_up_the_shift() -> None:
    moved = loosened_by("7", "heat_drift", "1")

    def told_of(fire: int) -> tuple[Loosened, ...]:
        return moved if fire >= CHANGED else ()

    known = [drawn_shop(seed, 25, colder_K=colder(30.0), told_of=told_of) for seed in SEEDS[:20]]
    rung = sum(bool(drifts_of(shop)) for shop in known)
    assert rung <= binom.ppf(1.0 - CHANCE, 20, MOST_FALSE)


@pytest.mark.property
def test_a_forge_found_as_it_was_is_not_asked_again_for_the_same_fires() -> None:
    as_before = loosened_by("7", "heat_as_before", "1")
    shop = next(shop for seed in SEEDS if drifts_of(shop := drawn_shop(seed, 20, colder_K=colder(40.0))))
    told = [
        after(one, as_before if int(one.process.keys.fire[1:]) >= 19 else ()) for one in shop.observations
    ]
    answered = type(shop)(told, [], look)
    answered.straight = shop.straight
    assert drifts_of(answered) == ()
    assert answered.names == shop.names  # and nothing is loosened


def test_one_odd_fire_never_rings_and_two_that_differ_in_sign_do_not_add_up() -> None:
    assert ring([0.0] * 10 + [9.0] + [0.0] * 10) is None
    assert ring([0.0] * 10 + [-9.0] + [0.0] * 10) is None
    assert ring([2.0, -2.0] * 20) is None


def test_the_lean_begins_after_the_last_fire_at_which_its_sum_was_nothing() -> None:
    assert ring([0.0, 0.0, 0.0, 2.0, 2.0, 2.0, 2.0]) == (3, 6)
    assert ring([0.0, 0.0, 0.0, -2.0, -2.0, -2.0, -2.0]) == (3, 6)
    assert ring([2.0] * 3 + [0.0] * 20 + [-1.5] * 5) == (23, 27)


def test_failed_seals_one_after_another_count_as_little_as_a_light_lean() -> None:
    assert ring([-6.0] * 8) is None
    assert ring([-1.0] * 8) is None
    assert ring([-2.4] * 3) == (0, 2)


def test_the_first_fires_do_not_count() -> None:
    scores = [3.0, 3.0, 3.0, 0.0, 0.0, 0.0]
    assert ring(scores) == (0, 1)
    assert ring(scores, skipped=FIRST_FIRE - 1) is None


def test_a_logbook_of_nothing_has_no_drift() -> None:
    assert fit([], []).drifts == ()


def full_shop(seed: int, fires: int, by_K: float = 0.0, failed: Sequence[int] = ()) -> list[Observation]:
    """Return what a shop drawn from the books would note, the app's own full forecast being the world."""
    shop, asked = InventedShop(seed), read_of(fires_of(fires))
    processes = tuple(dict.fromkeys(one.process for one in asked))
    inputs = np.array([shop.inputs(process) for process in processes])
    for row, process in enumerate(processes):
        fire = int(process.keys.fire[1:])
        inputs[row, 0] -= by_K * (fire >= CHANGED)
        inputs[row, 1:3] += (np.log(0.4), -1.0) if fire in failed else (0.0, 0.0)
    seen = dict(zip(processes, look(processes, inputs[:, None, :]), strict=True))
    rng = np.random.default_rng([seed, 1])
    noted = []
    for one in asked:
        key, _ = one.reading.tester
        bias = shop.coordinate(f"tester/{key}") * prior_for(f"tester/{key}").sd if key else 0.0
        noted.append(replace(one, reading=one.reading.simulated(seen[one.process], bias, rng)))
    return noted


@pytest.mark.long
@pytest.mark.property
def test_in_the_long_run_with_the_full_forecast_as_the_world_the_stated_rates_hold() -> None:
    seeds = range(600000, 600100)
    clean = sum(bool(fit(full_shop(seed, 28), []).drifts) for seed in seeds)
    caught = sum(caught_in_ten(fit(full_shop(seed, 25, 30.0), []).drifts) for seed in seeds)
    assert clean <= binom.ppf(1.0 - CHANCE, len(seeds), MOST_FALSE)
    assert caught >= binom.ppf(CHANCE, len(seeds), LEAST_CAUGHT)
