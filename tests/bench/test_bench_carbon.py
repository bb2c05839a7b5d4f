"""The carbon solver's speed, as ratios taken in one run on one machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg.lapack import dpttrf, dpttrs

from model import carbon
from model.carbon import CarbonProfile, Segment, depth_at_carbon, held, solve_carbon, unlimited_saturation
from model.diffusivity import diffusivity_agren_1986
from model.grid import Grid
from model.implicit import rosenbrock_step
from model.process import Section, Shape
from model.stretch import Stretch
from model.transport import Transport
from tests.bench.conftest import Tell
from tests.bench.test_bench_quench import least_of_each, least_s
from tests.published.fipy_reference import carbon_by_fipy

pytestmark = pytest.mark.bench

SECONDS, KELVIN, SKIN_wt = 4 * 3600.0, 1198.15, 1.25
CELLS, FINE_CELLS = 120, 480
MEMBERS = 200
OF_CONVERGED = 0.005  # of a depth, with the error of cells and of steps driven out
LEAST_OF_FIPY = 200.0
# one alone and each of 200; by our own quick fluxes, and as anybody would write the equations down
LEAST_OF_LSODA, LEAST_OF_LSODA_TOGETHER, LEAST_OF_PLAIN = 4.0, 10.0, 7.5
IN_A_ROW = 5
TOLERANCES = tuple(0.2 * 0.5 ** (0.5 * k) for k in range(23))
# of what LAPACK alone takes for as many systems of the same size: one member, and 200 as one array
MOST_OF_LAPACK = {1: 8.0, MEMBERS: 2.3}
MOST_OF_ONE_BY_ONE = 0.25
Rate = Callable[[float, np.ndarray], np.ndarray]


def plate(cells: int = CELLS) -> Grid:
    return Grid.of_sections([Section(Shape.PLATE, 10e-3)], cells=cells)


GRID = plate()


FOUR_HOURS = Segment(np.array([SECONDS]), np.array([KELVIN]), np.array([KELVIN]), held(SKIN_wt))


def profile(members: int = 1, grid: Grid = GRID, **options: float) -> CarbonProfile:
    return solve_carbon(grid, np.full(members, 0.2), [FOUR_HOURS], **options)


def depths(found: CarbonProfile) -> np.ndarray:
    return np.array([depth_at_carbon(found, carbon)[0][0] for carbon in (0.27, 0.40, 0.70)])


def worst(carbon_wt: np.ndarray, exact: np.ndarray) -> float:
    return float(np.abs(depths(replace(profile(), carbon_wt=carbon_wt[None, :])) / exact - 1.0).max())


@pytest.fixture(scope="module")
def exact() -> np.ndarray:
    """Depths on the same cells with the error of the steps driven out."""
    return depths(profile(tolerance=2e-6))


@pytest.fixture(scope="module")
def converged() -> np.ndarray:
    """Depths with the error of cells and of steps driven out."""
    return depths(profile(grid=plate(FINE_CELLS), tolerance=2e-6))


def test_the_depth_is_within_half_a_percent_of_a_converged_answer(converged: np.ndarray) -> None:
    assert np.abs(depths(profile()) / converged - 1.0).max() < OF_CONVERGED


def test_one_profile_is_two_hundred_times_faster_than_fipy_at_no_less_accuracy(
    exact: np.ndarray, tell: Tell
) -> None:
    carbon = carbon_by_fipy(GRID, 0.2, KELVIN, SECONDS, steps=100, sweeps=3, held_wt=SKIN_wt)
    theirs = worst(carbon, exact)
    ours = float(np.abs(depths(profile()) / exact - 1.0).max())
    fipy_s = least_s(
        lambda: carbon_by_fipy(GRID, 0.2, KELVIN, SECONDS, steps=100, sweeps=3, held_wt=SKIN_wt), rounds=1
    )
    ours_s = least_s(profile, rounds=20)
    ratio = fipy_s / ours_s
    tell(
        "carbon, 4 h at 925 C", ours_s, f"fipy {fipy_s:.1f} s, off by {theirs:.1e} (ours {ours:.1e})",
        ratio, f"at least {LEAST_OF_FIPY:.0f}",
    )  # fmt: skip
    assert ours <= theirs < 0.01
    assert ratio >= LEAST_OF_FIPY


def quick_rate() -> Rate:
    """Return the rate of change of cells [wt% per whole soak] by the very fluxes of our own solver."""
    transport = Transport.on(GRID, 1, diffusivity_agren_1986, unlimited_saturation)
    stretch, room = Stretch.of(transport, FOUR_HOURS), transport.rooms[0]
    (now,), nodes = stretch.at(0.0), np.zeros(CELLS + 2)

    def rate(_share: float, carbon_wt: np.ndarray) -> np.ndarray:
        nodes[1:-1] = carbon_wt
        return stretch.flow(nodes, now, room).net[1:-1] / GRID.volume_m[0]

    return rate


def plain_rate() -> Rate:
    """Return the same as anybody would write the equations down."""
    width, centre = np.diff(GRID.faces_m[0]), GRID.centres_m[0]
    gap = np.diff(centre, prepend=0.0)
    kelvin = np.array(KELVIN)

    def rate(_share: float, carbon_wt: np.ndarray) -> np.ndarray:
        carbon = np.concatenate([[SKIN_wt], carbon_wt])
        diffusivity = diffusivity_agren_1986(carbon, kelvin)
        flux = 0.5 * (diffusivity[1:] + diffusivity[:-1]) * (carbon[:-1] - carbon[1:]) / gap
        return SECONDS * (flux - np.append(flux[1:], 0.0)) / width

    return rate


def by_lsoda(tolerance: float, rate: Rate) -> np.ndarray:
    """Return cell carbon by scipy's banded LSODA."""
    start = np.full(CELLS, 0.2)
    found = solve_ivp(rate, (0.0, 1.0), start, "LSODA", (1.0,), lband=1, uband=1,
                      rtol=tolerance, atol=tolerance)  # fmt: skip
    assert found.success
    return np.asarray(found.y[:, -1])


def loosest(found: Callable[[float], np.ndarray], wanted: np.ndarray, most: float) -> tuple[float, float]:
    """Return the loosest tolerance whose depths are off by no more, and what they are off by."""
    tried = ((tolerance, worst(found(tolerance), wanted)) for tolerance in TOLERANCES)
    return next(one for one in tried if one[1] <= most)


def least_of_warm(*works: Callable[[], object], rounds: int = 12) -> list[float]:
    """Return the least processor time of each in turns, a few times in a row, so that none is cold [s]."""
    turns = [[least_s(work, rounds=IN_A_ROW) for work in works] for _ in range(rounds)]
    return [min(own) for own in zip(*turns, strict=True)]


def test_both_rates_are_the_same() -> None:
    carbon = 0.2 + 0.9 * np.exp(-GRID.centres_m[0] / 0.5e-3)
    np.testing.assert_allclose(quick_rate()(0.0, carbon), plain_rate()(0.0, carbon), rtol=1e-9, atol=1e-9)


def test_a_profile_within_half_a_percent_is_faster_than_banded_lsoda(
    converged: np.ndarray, tell: Tell
) -> None:
    quick, plain = quick_rate(), plain_rate()
    ours, our_error = loosest(lambda each: profile(tolerance=each).carbon_wt[0], converged, OF_CONVERGED)
    theirs, their_error = loosest(lambda each: by_lsoda(each, plain), converged, OF_CONVERGED)
    works = (
        lambda: profile(tolerance=ours),
        lambda: by_lsoda(theirs, quick),
        lambda: by_lsoda(theirs, plain),
    )
    one_s, quick_s, plain_s = least_of_warm(*works)
    errors = f"off by {their_error:.1e} (ours {our_error:.1e})"
    for lsoda_s, words, least in (
        (quick_s, "our own quick", LEAST_OF_LSODA),
        (plain_s, "plain", LEAST_OF_PLAIN),
    ):
        against = f"banded LSODA on {words} fluxes {1e3 * lsoda_s:.1f} ms, {errors}"
        tell("within 0.5 % of converged", one_s, against, lsoda_s / one_s, f"at least {least:g}")
        assert lsoda_s >= least * one_s


def test_a_profile_of_usual_accuracy_alone_and_together_is_faster_than_banded_lsoda(
    exact: np.ndarray, tell: Tell
) -> None:
    ours = float(np.abs(depths(profile()) / exact - 1.0).max())
    rate = quick_rate()
    tolerance, theirs = loosest(lambda each: by_lsoda(each, rate), exact, ours)
    works = (profile, lambda: profile(MEMBERS), lambda: by_lsoda(tolerance, rate))
    one_s, together_s, lsoda_s = least_of_each(*works, rounds=6)
    words = f"banded LSODA {1e3 * lsoda_s:.1f} ms each, off by {theirs:.1e} (ours {ours:.1e})"
    alone, each = lsoda_s / one_s, lsoda_s * MEMBERS / together_s
    tell("of usual accuracy", one_s, words, alone, "at least 1")
    tell("200 of them as one array", together_s, words, each, f"at least {LEAST_OF_LSODA_TOGETHER:.0f}")
    assert alone >= 1.0
    assert each >= LEAST_OF_LSODA_TOGETHER


def systems(members: int, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int]:
    """Return how many matrices a solve factors, and how many right-hand sides it answers: two a step."""
    counted = 0

    def counting(*arguments: Any) -> tuple[np.ndarray, float]:
        nonlocal counted
        counted += 1
        return rosenbrock_step(*arguments)

    with monkeypatch.context() as patch:
        patch.setattr(carbon, "rosenbrock_step", counting)
        profile(members)
    return counted, 2 * counted


@pytest.mark.parametrize("members", list(MOST_OF_LAPACK))
def test_a_solve_costs_few_times_its_bare_tridiagonal_systems(
    members: int, monkeypatch: pytest.MonkeyPatch, tell: Tell
) -> None:
    factored, solved = systems(members, monkeypatch)
    size = members * CELLS
    diagonal, off, right = np.full(size, 3.0), np.full(size - 1, -1.0), np.ones(size)
    factors = dpttrf(diagonal, off)

    def bare() -> None:
        for _ in range(factored):
            dpttrf(diagonal, off)
        for _ in range(solved):
            dpttrs(factors[0], factors[1], right)

    ours_s, bare_s = least_of_warm(lambda: profile(members), bare, rounds=12 if members == 1 else 2)
    ratio = ours_s / bare_s
    tell(
        f"carbon, {members} as one array", ours_s, f"LAPACK alone, {factored} + {solved} systems",
        ratio, f"at most {MOST_OF_LAPACK[members]:g}",
    )  # fmt: skip
    assert ratio <= MOST_OF_LAPACK[members]


def test_two_hundred_members_cost_less_than_a_quarter_of_one_by_one(tell: Tell) -> None:
    one_s, together_s = least_of_each(profile, lambda: profile(MEMBERS), rounds=5)
    share = together_s / (MEMBERS * one_s)
    tell("carbon, 200 as one array", together_s, "one by one", share, f"at most {MOST_OF_ONE_BY_ONE:g}")
    assert share < MOST_OF_ONE_BY_ONE  # LAPACK alone takes half of it
