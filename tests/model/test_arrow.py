"""Sums fire by fire against the same with whole matrices."""

from __future__ import annotations

import numpy as np
import pytest

from model.alike_fires import alike_fires
from model.arrow import Layout, Pairs
from model.fire_by_fire import FireByFire, Told
from model.lower import inverted
from model.touching import Touching
from model.variational import normal_equations, weight_of_books
from tests.model.linear_shop import drawn_shop, fitted

# what readings of three fires touch: 0 and 1 by several, 8 by one fire but in two readings; 9 a check touches
COLUMNS = np.array([[0, 1, 2, 3, 3], [0, 1, 4, 5, 6], [1, 7, 1, 1, 1], [8, 1, 8, 8, 8], [9, 0, 9, 9, 9]])
FIRES = np.array([0, 1, 2, 0, 2])
IS_READ = np.array([[1, 1, 1, 1, 0], [1, 1, 1, 1, 1], [1, 1, 0, 0, 0], [1, 1, 0, 0, 0], [1, 1, 0, 0, 0]])
LAYOUT = Layout.of(10, COLUMNS, FIRES, [9])


@pytest.fixture
def summed() -> tuple[Pairs, np.ndarray]:
    """Return a precision by pairs, and the same as a whole matrix."""
    rng = np.random.default_rng(1)
    touching = Touching(COLUMNS, rng.standard_normal(COLUMNS.shape) * IS_READ, LAYOUT)
    books, weight = rng.uniform(1.0, 2.0, 10), rng.uniform(0.5, 1.0, len(COLUMNS))
    slopes = touching.full()
    pairs = Pairs.summed(LAYOUT, alike_fires(FIRES, 3), touching.by_slot, weight).plus(books)
    return pairs, (slopes.T * weight) @ slopes + np.diag(books)


def test_only_what_one_fire_touches_is_its_own() -> None:
    assert LAYOUT.shared.tolist() == [0, 1, 9]
    assert LAYOUT.own.tolist() == [[2, 3, 8], [4, 5, 6], [7, 10, 10]]


def test_fires_of_as_many_values_are_worked_together() -> None:
    one, two = alike_fires(FIRES, 3)
    assert (one.fires.tolist(), one.rows.tolist()) == ([1], [[1]])
    assert (two.fires.tolist(), two.rows.tolist()) == ([0, 2], [[0, 3], [2, 4]])


def test_sums_and_inverses_fire_by_fire_are_those_of_the_whole_matrix(
    summed: tuple[Pairs, np.ndarray],
) -> None:
    pairs, whole = summed
    vector, inverse, narrowed = np.linspace(-1.0, 2.0, 10), np.linalg.inv(whole), pairs.inverse()
    assert pairs.diagonal == pytest.approx(np.diag(whole))
    assert pairs.times(vector) == pytest.approx(whole @ vector)
    assert narrowed.times(vector) == pytest.approx(inverse @ vector)
    assert narrowed.full() == pytest.approx(inverse)
    assert narrowed.precision().flat == pytest.approx(pairs.flat)
    assert narrowed.full(np.array([8, 0, 4])) == pytest.approx(inverse[np.ix_([8, 0, 4], [8, 0, 4])])
    read = narrowed.pairs.flat[LAYOUT.pairs(COLUMNS, FIRES)]
    assert read == pytest.approx(inverse[COLUMNS[:, :, None], COLUMNS[:, None, :]])
    several = np.stack([vector, np.where(vector > 0.5, vector, 0.0)])
    assert narrowed.squared(several) == pytest.approx([one @ inverse**2 @ one for one in several])
    slopes = Touching(COLUMNS, np.cos(np.arange(25.0)).reshape(5, 5), LAYOUT)
    along = np.einsum("vi,ij,vj->v", slopes.full(), inverse, slopes.full())
    assert narrowed.along(slopes.by_slot(), FIRES) == pytest.approx(along)


def test_what_hangs_on_nothing_else_stands_behind_a_whole_matrix(summed: tuple[Pairs, np.ndarray]) -> None:
    pairs, whole = summed
    longer = np.pad(np.linalg.inv(whole), (0, 2))
    longer[10, 10], longer[11, 11] = 0.5, 2.0
    beside = pairs.inverse().and_beside(np.array([0.5, 2.0]))
    assert beside.full() == pytest.approx(longer)
    assert beside.diagonal == pytest.approx(np.diag(longer))


@pytest.mark.property
def test_some_coordinates_by_row_or_alone_are_as_in_the_whole_matrix(
    summed: tuple[Pairs, np.ndarray],
) -> None:
    narrowed, whole = summed[0].inverse(), np.linalg.inv(summed[1])
    across_fires = np.array([[2, 4, 0, 2], [7, 3, 8, 9]])
    told = whole[across_fires[:, :, None], across_fires[:, None, :]]
    assert narrowed.each(across_fires) == pytest.approx(told)
    assert narrowed.by(np.array([3, 0, 8])) == pytest.approx(whole[:, [3, 0, 8]])
    for places in ([0, 1, 8, 3, 5, 9], [1, 9, 0], [0, 1, 7, 9, 2], [2, 0, 8], []):
        only = narrowed.only(np.array(places, dtype=np.intp))
        assert only.full() == pytest.approx(whole[np.ix_(places, places)])
        assert only.precision().diagonal == pytest.approx(np.diag(np.linalg.inv(only.full())))
    assert narrowed.only(np.array([0, 1, 9, 8])).layout.own.tolist() == [[3]]  # no room for other fires


def test_a_matrix_without_fires_is_inverted_too(summed: tuple[Pairs, np.ndarray]) -> None:
    _, whole = summed
    narrowed = Pairs.full(whole).inverse()
    assert narrowed.full() == pytest.approx(np.linalg.inv(whole))
    assert narrowed.squared(np.ones((1, 10))) == pytest.approx([(np.linalg.inv(whole) ** 2).sum()])


@pytest.mark.property
def test_lower_roots_are_inverted_together_as_one_by_one() -> None:
    several = np.random.default_rng(2).standard_normal((5, 7, 20))
    roots = np.linalg.cholesky(several @ several.transpose(0, 2, 1))
    assert inverted(roots) == pytest.approx(np.linalg.inv(roots), rel=1e-10, abs=1e-14)
    assert inverted(np.ones((0, 3, 3))).shape == (0, 3, 3)


def test_nothing_read_is_inverted_too() -> None:
    assert Pairs.full(np.zeros((0, 0))).inverse().full().shape == (0, 0)


@pytest.mark.parametrize("at_once", [1, 1_000_000])
def test_a_fire_left_out_is_foretold_as_by_the_whole_matrix_without_its_readings(
    monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr("model.fire_by_fire.NUMBERS_AT_ONCE", at_once)
    monkeypatch.setattr("model.fire_by_fire.MOST_KEPT", at_once)
    shop = drawn_shop(3, 6, failed=(4,))
    found = fitted(shop)
    line, weight, room = found.linearised, weight_of_books(shop, found), shop.scatter.room(found.scale)
    precision, _ = normal_equations(line, found.mean, weight)
    whole, information = np.linalg.inv(precision.inverse().full()), line.information(found.mean)
    apart = FireByFire.of(shop, found)
    assert len(apart.lots) == (6 if at_once == 1 else 1)
    for fires, others in apart.without_each():
        predicted, total = fires.foretold(others)
        for place, rows, middle, doubt in zip(fires.places, fires.rows, predicted, total, strict=True):
            own = shop.layout.own[place]
            slopes, curvature = line.jacobian[rows], line.curvature[rows]
            left = whole - (slopes.T * curvature) @ slopes
            left[own, own] += 1.0 / room[own] - weight[own]
            said = information - slopes.T @ (line.slope[rows] + curvature * (slopes @ found.mean))
            noise = np.diag(shop.values.spread(line.doubt)[rows] ** 2)
            expected = line.value[rows] + slopes @ (np.linalg.solve(left, said) - found.mean)
            assert middle == pytest.approx(expected, rel=1e-9)
            exact = slopes @ np.linalg.solve(left, slopes.T) + noise
            assert doubt == pytest.approx(exact, rel=1e-7, abs=1e-14)


@pytest.mark.parametrize("at_once", [1, 2_500, 1_000_000])
def test_the_fires_before_one_say_what_each_of_them_says(
    monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr("model.fire_by_fire.NUMBERS_AT_ONCE", at_once)
    shop, counts = drawn_shop(3, 6, failed=(4,)), np.arange(6) != 1
    apart = FireByFire.of(shop, fitted(shop))
    said = {}
    for fires in apart.fires():
        told = fires.told()
        said |= dict(
            zip(fires.places.tolist(), zip(told.precision, told.information, strict=True), strict=True)
        )
    for fires, before in apart.after_those_before(counts):
        for own, place in enumerate(fires.places.tolist()):
            known = [said[earlier] for earlier in range(place) if counts[earlier]]
            expected = sum((one[0] for one in known), start=apart.books.precision)
            assert before.precision[own] == pytest.approx(expected, rel=1e-12)
            expected = sum((one[1] for one in known), start=apart.books.information)
            assert before.information[own] == pytest.approx(expected, rel=1e-12)
    assert sorted(said) == list(range(6))


def test_a_fire_is_foretold_as_the_books_have_it_where_the_others_hold_less_than_nothing() -> None:
    shop = drawn_shop(3, 6)
    apart = FireByFire.of(shop, fitted(shop))
    ((fires, others),) = apart.without_each()
    precision, size = others.precision.copy(), len(apart.shared)
    precision[2] = -np.eye(size)
    middle, doubt = fires.foretold(Told(precision, others.information))
    usual, sure = fires.foretold(others)
    kept = [fire for fire in range(6) if fire != 2]
    assert middle[kept] == pytest.approx(usual[kept])
    assert doubt[kept] == pytest.approx(sure[kept])
    assert middle[2] == pytest.approx(fires.offset[2])
    own = (fires.by_own[2] * fires.room[2]) @ fires.by_own[2].T + np.diag(fires.noise[2] ** 2)
    assert doubt[2] == pytest.approx(fires.by_shared[2] @ fires.by_shared[2].T + own)
