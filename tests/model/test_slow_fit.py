"""The diagnostic that admits when the quick fit is poor, and the slow fit that then stands in for it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from model import slow_fit as slow_module
from model.arrow import Covariance
from model.belief import ShopBelief
from model.density import coordinates_of, log_density, normal_of, own_of_fires, told_by_fire
from model.emulated import EmulatedEvidence, fit_by_surfaces
from model.evidence import Evidence, InstrumentCheck
from model.kept_forecasts import KeptForecasts
from model.readings import DepthReading, Observation
from model.rest import AT_REST, Diagnostics, foretold, jobs_of, split_r_hat, starts_apart
from model.sampler import CHAINS, STEPS, sample, steps_for
from model.slow_fit import KEPT, STORED, settled_fit, slow_fit
from model.stored_belief import read_belief
from model.variational import Gaussian, best_point, variational
from tests.model.logbooks import depth, job, logbook
from tests.model.test_calibration_referee import QuickShop, quick_look

pytestmark = pytest.mark.property

CALM = Diagnostics(3, 4, 0.01, 0.2, 0.01)


@pytest.fixture(scope="module")
def observations() -> list[Observation]:
    return logbook(QuickShop(7), 2)


@pytest.fixture
def evidence(observations: list[Observation]) -> Evidence:
    return Evidence(observations, [], quick_look)


def fitted(evidence: Evidence) -> Gaussian:
    return variational(evidence, best_point(evidence, np.zeros(len(evidence.names))))


def test_it_admits_a_large_step_a_far_mean_and_starts_that_disagree() -> None:
    assert CALM.settled
    assert not replace(CALM, last_step=0.2).settled
    assert not replace(CALM, mean_shift=1.2).settled
    assert not replace(CALM, starts_apart=0.2).settled
    assert replace(CALM, mean_shift=1.2, method="slow").settled


def test_a_plain_logbook_comes_out_the_same_from_any_start(evidence: Evidence) -> None:
    assert starts_apart(evidence, fitted(evidence)) < 0.1


def test_split_r_hat_is_one_for_chains_alike_and_large_for_chains_apart() -> None:
    rng = np.random.default_rng(1)
    alike = rng.standard_normal((200, 8, 2))
    assert split_r_hat(alike) == pytest.approx([1.0, 1.0], abs=0.02)
    apart = alike + np.array([0.0, 3.0]) * np.arange(8)[:, None]
    assert split_r_hat(apart)[0] < 1.05 < 2.0 < split_r_hat(apart)[1]
    drifting = alike + np.linspace(0.0, 4.0, 200)[:, None, None]
    assert (split_r_hat(drifting) > 1.3).all()


def test_heavy_tails_and_their_scale_go_there_and_back_through_normal_coordinates(evidence: Evidence) -> None:
    normal = np.random.default_rng(2).standard_normal((50, len(evidence.names) + len(evidence.scatter.names)))
    there = coordinates_of(evidence, normal)
    assert normal_of(evidence, there) == pytest.approx(normal, abs=1e-9)
    lucks = [name.startswith(("fire/", "load/")) for name in (*evidence.names, *evidence.scatter.names)]
    assert (there != normal).all(axis=0).tolist() == lucks
    assert np.isfinite(log_density(evidence, 30.0 * normal)).any()


def test_the_sampler_finds_the_books_where_nothing_was_read() -> None:
    loose = Evidence([replace(depth("a", job("f"), 0.5))], [], quick_look)
    loose.values.own[:] = 1e3  # a reading that says nothing
    found = sample(loose, fitted(loose), 600, 40).draws.reshape(40 * CHAINS, -1)
    plain = [k for k, name in enumerate(loose.names) if not name.startswith(("fire/", "load/"))]
    assert np.abs(found[:, plain].mean(axis=0)).max() < 0.25
    assert found[:, plain].std(axis=0) == pytest.approx(np.ones(len(plain)), abs=0.2)


def test_chains_that_go_on_begin_where_they_were_and_are_the_same_each_time(evidence: Evidence) -> None:
    quick = fitted(evidence)
    first = sample(evidence, quick, 40, 4)
    one, two = (sample(evidence, quick, 40, 4, first) for _ in range(2))
    assert np.array_equal(one.draws, two.draws)
    assert (first.rounds, one.rounds) == (1, 2)
    apart = np.abs(one.normal[0] - first.normal[-1]).mean()
    assert apart < np.abs(one.normal[0] - np.roll(first.normal[-1], 1, axis=0)).mean()


def test_the_same_logbook_gives_the_same_draws_and_little_to_ask_means_no_try(evidence: Evidence) -> None:
    quick = fitted(evidence)
    one, two = (sample(evidence, quick, 30, 4).draws for _ in range(2))
    assert np.array_equal(one, two)
    evidence.most_predicted = CHAINS * len(evidence.processes) * (STEPS[0] - 1)
    assert steps_for(evidence) == 0
    assert slow_fit(evidence, quick) is None


def test_what_one_fire_sees_alone_is_its_own_and_what_is_checked_or_shared_is_not(
    observations: list[Observation],
) -> None:
    check = InstrumentCheck("files:1", 60.0, 61.0, 1.0)
    evidence = Evidence(observations, [check], quick_look)
    owner = dict(
        zip((*evidence.names, *evidence.scatter.names), own_of_fires(evidence).tolist(), strict=True)
    )
    assert [owner[name] for name in ("fire/f0", "fire/f1")] == [0, 1]
    shared = ("ln_transfer/shop", "rim_carbon/shop", "tester/files:1", *evidence.scatter.names)
    assert {owner[name] for name in shared} == {-1}
    normal = np.random.default_rng(3).standard_normal((5, len(owner)))
    moved = np.where(own_of_fires(evidence) == 1, normal + 0.3, normal)
    before, after = (told_by_fire(evidence, coordinates_of(evidence, one)) for one in (normal, moved))
    assert after[:, 0] == pytest.approx(before[:, 0], abs=1e-12)
    assert (after[:, 1] != before[:, 1]).all()


def test_the_slow_fit_stands_where_it_is_asked_for_and_came_to_rest(observations: list[Observation]) -> None:
    evidence = EmulatedEvidence(observations, [], quick_look, KeptForecasts())
    size = len(evidence.names)
    best, quick = fit_by_surfaces(evidence, np.zeros(size), np.eye(size))
    kept, told, draws = settled_fit(evidence, best, quick, careful=False)
    assert (kept is quick, told.method, draws) == (True, "quick", None)
    evidence.most_predicted = 900 * CHAINS * len(evidence.processes)
    kept, told, draws = settled_fit(evidence, best, quick, careful=True)
    assert draws is not None
    assert draws.shape == (STORED, size + len(evidence.scatter.names))
    assert (kept is quick, told.method, told.settled) == (True, "slow", True)
    assert 0.0 < told.r_hat < AT_REST
    poor = replace(quick, rest=1.0)
    assert not settled_fit(evidence, best, poor, careful=False)[1].settled
    about, told, _ = settled_fit(evidence, best, poor, careful=True)
    assert told.settled
    near = foretold(evidence, np.stack([quick.mean, about.mean]), jobs_of(evidence))
    assert np.abs(near[0, ::2] - near[1, ::2]).max() < 0.1e-3


def test_draws_off_rough_surfaces_are_weighed_by_what_they_stand_for() -> None:
    observations = logbook(QuickShop(7), 1)

    class Blurred(Evidence):
        """Reads its depths 0.05 mm too deep, until the forecast is asked."""

        def in_full(self, draws: int) -> Evidence:
            del draws
            return self

        def roughly(self, inputs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            value, doubt = self.predicted(inputs)
            is_depth = np.array([isinstance(one, DepthReading) for one in self.readings])[self.values.owner]
            return value + np.where(is_depth, 5e-5, 0.0)[:, None], doubt

    found = []
    for kind in (Evidence, Blurred):
        evidence = kind(observations, [], quick_look)
        evidence.most_predicted = STEPS[0] * CHAINS * len(evidence.processes)
        slow = slow_fit(evidence, fitted(evidence))
        assert slow is not None
        assert slow.worth == pytest.approx(KEPT * CHAINS) if kind is Evidence else slow.worth < KEPT * CHAINS
        found.append(foretold(evidence, slow.draws, jobs_of(evidence))[:, 0])
    assert np.median(found[1]) == pytest.approx(np.median(found[0]), abs=1e-5)


def test_chains_that_do_not_rest_go_on_and_are_judged_without_their_first_round(
    evidence: Evidence, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(slow_module, "AT_REST", 0.5)
    monkeypatch.setattr(slow_module, "steps_for", lambda _: 120)
    judged = []

    def noted(values: np.ndarray) -> np.ndarray:
        judged.append(len(values))
        return split_r_hat(values)

    monkeypatch.setattr(slow_module, "split_r_hat", noted)
    slow = slow_fit(evidence, fitted(evidence))
    assert slow is not None
    assert judged == [KEPT, KEPT, 2 * KEPT]
    assert slow.worth == pytest.approx(2 * KEPT * CHAINS)
    assert not slow.is_at_rest


def test_a_belief_of_draws_is_drawn_from_them_and_survives_storage() -> None:
    drawn = np.array([[0.0, 1.0], [2.0, 1.0], [4.0, 4.0], [2.0, 2.0]])
    mean = drawn.mean(axis=0)
    belief = ShopBelief(("lag/shop", "lag/box:1"), mean, Covariance.whole(np.cov(drawn.T)), 1.5, 3, drawn)
    back = read_belief(json.loads(json.dumps(belief.to_dict())))
    for one in (belief, back):
        found = one.drawn(("lag/box:1", "ln_transfer/shop", "lag/shop"), 8, 1)
        assert sorted(map(tuple, found[:, [2, 0]])) == sorted(map(tuple, np.repeat(drawn, 2, axis=0)))
        assert np.unique(found[:, 1]).size == 8
        alone = one.drawn(("lag/shop",), 8, 1)
        assert np.array_equal(alone[:, 0], found[:, 2])
