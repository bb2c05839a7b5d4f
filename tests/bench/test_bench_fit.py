"""A fit by surfaces against one by full forecasts: from nothing, after one more reading, and how it grows."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter, thread_time
from typing import TypeVar

import numpy as np
import pytest

from model.argument_columns import Column
from model.argument_solve import solve
from model.calibration import FitResult, fit
from model.doubt_course import doubt_course
from model.drift import watch
from model.kept_forecasts import KeptForecasts
from model.look import look
from model.outliers import fire_scores
from model.piecework import in_turn
from model.readings import Observation
from model.variational import variational
from tests.model.linear_shop import LinearEvidence, fires_of, fitted, read_of, straight_of
from tests.model.many_coupons import many_coupons
from webapp.side_by_side import side_by_side

pytestmark = pytest.mark.bench

# least times that surfaces must save over full forecasts, in the same run
FROM_NOTHING, ONE_MORE = 1.5, 8.0
# processor time over batches may grow no faster than so many times as batches do
MOST_GROWTH = 1.3
FORECAST = 8  # fires whose forecasts stand for those of all others where only the algebra counts

Found = TypeVar("Found")


def seconds(work: Callable[[], Found]) -> tuple[float, Found]:
    # of this thread alone: those of BLAS spin while they wait, and the app's worker has none
    start = thread_time()
    found = work()
    return thread_time() - start, found


def fitted_twice(book: list[Observation]) -> tuple[float, float, FitResult]:
    """Return seconds of a fit from nothing, of one after one more reading, and the last fit."""
    kept = KeptForecasts()
    cold_s, before = seconds(lambda: fit(book[:-1], [], kept=kept).belief)
    more_s, found = seconds(lambda: fit(book, [], previous=before, kept=kept))
    return cold_s, more_s, found


@pytest.mark.parametrize("size", [(8, 26), pytest.param((30, 100), marks=pytest.mark.long)])
def test_surfaces_fit_several_times_faster_than_full_forecasts(size: tuple[int, int]) -> None:
    book = many_coupons(*size)  # what is cached of baths and boxes is warm for both
    exact_s, exact = seconds(lambda: fit(book, [], exact=True))
    cold_s, more_s, found = fitted_twice(book)
    print(f"\n{size}: exact {exact_s:.1f} s, cold {cold_s:.2f} s, one more {more_s:.2f} s")  # noqa: T201
    assert len(found.belief.names) == len(exact.belief.names)
    assert exact_s > FROM_NOTHING * cold_s
    assert exact_s > ONE_MORE * more_s


@pytest.mark.long
@pytest.mark.parametrize("size", [(30, 100), (200, 600)])
def test_two_processes_fit_sooner_than_one(size: tuple[int, int]) -> None:
    book = many_coupons(*size)
    fit(book, [], kept=KeptForecasts())  # tables and all else that is cached
    walls: list[float] = []
    for piecework in (in_turn, side_by_side):
        start = perf_counter()
        fit(book, [], kept=KeptForecasts(), piecework=piecework)
        walls.append(perf_counter() - start)
    print(f"\n{size}: by one process {walls[0]:.2f} s on the clock, by two {walls[1]:.2f} s")  # noqa: T201
    assert walls[1] < walls[0]


def algebra_seconds(fires: int) -> float:
    """Return seconds of a step of a fit and of all that is read off it, forecasts left out."""
    _, (value, slope, doubt) = straight_of(FORECAST, "thermocouple:1")
    shop = LinearEvidence(read_of(fires_of(fires)), [], look)
    again = np.arange(len(shop.values.owner)) % len(value)
    shop.straight = (value[again], slope[again], doubt[again])
    found = fitted(shop)

    sides = np.where(np.arange(len(shop.values.owner)) % 3, 1.0, -1.0)
    columns = [Column("effect", name, "depth", sides * size, 1.0) for name, size in (("a", 0.1), ("b", 0.2))]

    def read_off() -> None:
        fire_scores(shop, found)
        watch(shop, found)
        doubt_course(shop, found, 1.1)
        solve(shop, found.linearised, found.mean, found.narrowed, columns)

    def once() -> float:
        step_s, fit_again = seconds(lambda: variational(shop, found))
        return step_s / fit_again.steps + seconds(read_off)[0]

    return min(once() for _ in range(3))


def test_the_algebra_of_a_fit_grows_no_faster_than_its_fires() -> None:
    few_s, many_s = algebra_seconds(60), algebra_seconds(240)
    print(f"\n60 fires {few_s:.3f} s, 240 fires {many_s:.3f} s")  # noqa: T201
    assert many_s < MOST_GROWTH * 4.0 * few_s


@pytest.mark.long
def test_a_fit_grows_no_faster_than_its_batches() -> None:
    took = {}
    for batches in (50, 100, 200):
        cold_s, more_s, _ = fitted_twice(many_coupons(batches, 3 * batches))
        took[batches] = cold_s
        print(f"\n{batches} batches, {3 * batches} coupons: cold {cold_s:.2f} s, one more {more_s:.2f} s")  # noqa: T201
    assert took[200] < MOST_GROWTH * 4.0 * took[50]
