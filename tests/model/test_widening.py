"""What surprises do: readings count for less, the books in full, and nothing is less sure than the books."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from model.calibration import FitResult, fit
from model.inputs import LATENTS
from model.process import Process
from model.readings import NoHardSkin, Observation
from model.widening import MOST_SURPRISE, narrowed, stretch, widened, widening
from tests.model.linear_shop import drawn_shop, scores_of
from tests.model.logbooks import depth, job, unwidened

SPREAD = 1.6
AGREEING = (0.58, 0.6, 0.62)
AGAINST = (0.1, 0.6, 1.1)


def some_fit() -> tuple[np.ndarray, np.ndarray]:
    """Return a covariance that two readings narrowed, and the weight of the books."""
    books = np.array([1.0, 1.0, 0.4, 1.0])
    told = np.array([[3.0, 1.0, 0.0, 0.0], [0.5, -2.0, 4.0, 0.0]])
    return np.linalg.inv(np.diag(books) + told.T @ told), books


@cache
def fitted(depths_mm: tuple[float, ...], fires: int) -> FitResult:
    """Return the fit of coupons of so many fires, all else alike."""
    told = [depth(f"{n}", job(f"f{n % fires}"), value) for n, value in enumerate(depths_mm)]
    return fit(told, [])


def test_scores_widen_only_when_they_are_larger_than_chance() -> None:
    assert widening(()) == 1.0
    assert widening([0.9] * 10) == 1.0
    assert widening([0.9] * 10 + [9.0]) == pytest.approx(((8 + 8.1 + 16) / 19) ** 0.5)


def test_what_was_read_counts_less_and_the_books_in_full() -> None:
    covariance, books = some_fit()
    wider = widened(covariance, books, SPREAD)
    told = np.linalg.inv(covariance) - np.diag(books)
    assert np.linalg.inv(wider) == pytest.approx(told / SPREAD**2 + np.diag(books))
    assert (np.diag(wider)[:3] > np.diag(covariance)[:3]).all()
    assert (np.diag(wider) <= 1.0 / books + 1e-12).all()
    assert wider[3, 3] == pytest.approx(covariance[3, 3])  # nothing was read of it
    assert narrowed(wider, books, SPREAD) == pytest.approx(covariance)
    # an older fit gave the books no part in it
    assert widened(covariance, 0.0, SPREAD) == pytest.approx(SPREAD**2 * covariance)


def test_draws_are_stretched_to_what_the_covariance_is() -> None:
    covariance, books = some_fit()
    along = stretch(covariance, books, SPREAD)
    assert along @ covariance @ along.T == pytest.approx(widened(covariance, books, SPREAD))
    assert np.linalg.eigvals(along).real.min() >= 1.0 - 1e-9
    assert np.linalg.eigvals(along).real.max() < SPREAD
    assert along @ [0.0, 0.0, 0.0, 1.0] == pytest.approx([0.0, 0.0, 0.0, 1.0])
    assert stretch(covariance, books, 1.0) == pytest.approx(np.eye(4))


@pytest.mark.property
@pytest.mark.parametrize("fires", [1, 3])
def test_coupons_that_contradict_one_another_widen_what_they_taught(fires: int) -> None:
    agree, against = fitted(AGREEING, fires), fitted(AGAINST, fires)
    assert agree.belief.spread == 1.0
    assert against.belief.spread > 1.1
    before = unwidened(against.belief).covariance.diagonal
    after = against.belief.covariance.diagonal
    learnt = len(against.evidence.names)
    assert (after[:learnt] >= before[:learnt] * 0.999).all()
    transfer = against.belief.names.index("ln_transfer/shop")
    assert after[transfer] > 1.03 * before[transfer]
    assert after[learnt:] == pytest.approx(before[learnt:])  # the scale of the scatter has seen the surprises


@pytest.mark.property
def test_no_constant_is_less_sure_than_the_books_however_much_coupons_contradict() -> None:
    def odd(fire: int) -> Process:
        return job(f"f{fire}", box=str(fire % 2), mix=str(fire % 3))

    told = [depth(f"{n}", odd(n // 2), (0.2, 1.6)[n % 2]) for n in range(8)]
    found = fit([*told, Observation("none", odd(4), NoHardSkin(0.1e-3))], [])
    assert found.belief.spread > 1.2
    for belief in (found.belief, *(moment.belief for moment in found.course)):
        lasting = [not name.startswith(LATENTS) for name in belief.names]
        assert np.sqrt(belief.covariance.diagonal)[lasting].max() < 1.0 + 1e-9


@pytest.mark.property
def test_fires_of_shops_in_which_nothing_is_amiss_hardly_surprise() -> None:
    shops = [scores_of(drawn_shop(seed, 10)) for seed in range(12)]
    squares = [min(one.surprise, MOST_SURPRISE) ** 2 for scores in shops for one in scores]
    assert 0.7 < np.mean(squares) < 1.6  # 1 of the score, 0.2 of coupons that differ more than chance gives
    assert np.mean([widening(one.surprise for one in scores) for scores in shops]) < 1.15
