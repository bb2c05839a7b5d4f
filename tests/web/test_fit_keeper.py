"""The keeper of the fit outlives whatever goes wrong in one fit, and says so."""

from __future__ import annotations

import threading
from typing import Any

import pytest

from tests.conftest import FixedClock
from webapp import fit_keeper
from webapp.fit_keeper import FitKeeper, FitState
from webapp.services.fit_job import FitOutcome
from webapp.services.fitting import newest_fit
from webapp.services.observations import Told
from webapp.store.engine import Store, read
from webapp.worker import Job, JobState, Worker

PATIENCE_S = 20.0


def test_the_keeper_fits_again_after_a_fit_that_broke(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[str] = []
    once, again = threading.Event(), threading.Event()

    def tell(*_: object) -> object:
        tried.append(keeper.state.trouble)
        (once if len(tried) == 1 else again).set()
        raise ValueError("a slip in a number")

    monkeypatch.setattr(fit_keeper, "tell", tell)
    worker = Worker()
    keeper = FitKeeper(store, worker, clock)
    keeper.start()
    try:
        assert once.wait(PATIENCE_S)
        store.changed.set()
        assert again.wait(PATIENCE_S)
    finally:
        worker.close()
        keeper.close()
    assert keeper.state.trouble == "a slip in a number"
    assert tried[1] == "a slip in a number"


class RecordingWorker(Worker):
    """Answers at once, and notes what was asked and how the keeper stood; the careful sums may break."""

    def __init__(self, breaks: bool = False) -> None:
        super().__init__()
        self.asked: list[tuple[bool, FitState]] = []
        self.breaks = breaks
        self.keeper: FitKeeper | None = None

    def submit(self, _function: str, *arguments: Any, key: str = "", on_done: Any = None) -> Job:
        careful = bool(arguments[-1])
        assert self.keeper is not None
        self.asked.append((careful, self.keeper.state))
        job = Job(b"", key, on_done, JobState.FAILED if careful and self.breaks else JobState.DONE)
        belief = {"names": [], "mean": [], "covariance": [], "spread": 1.0, "coupons": 0}
        job.result = FitOutcome(belief, {"used": [], "left_out": {}, "careful": careful})
        job.error = "the worker was killed"
        job.ended.set()
        return job


def one_check_to_learn_from(*_: object) -> Told:
    return Told(observations=(), checks=("a check",), untold={}, jobs=(), sides={})  # type: ignore[arg-type]


def careful_of_newest(store: Store) -> bool:
    with read(store) as session:
        row = newest_fit(session)
        assert row is not None
        return bool(row.summary["careful"])


def test_the_quick_sums_are_stored_first_and_the_careful_ones_follow_once(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fit_keeper, "tell", one_check_to_learn_from)
    worker = RecordingWorker()
    worker.keeper = keeper = FitKeeper(store, worker, clock)
    keeper.catch_up()
    keeper.catch_up()
    assert worker.asked == [(False, FitState(is_working=True)), (True, FitState(is_refining=True))]
    assert careful_of_newest(store)
    assert keeper.state == FitState()


def test_careful_sums_that_break_leave_the_quick_ones_and_are_tried_again(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fit_keeper, "tell", one_check_to_learn_from)
    worker = RecordingWorker(breaks=True)
    worker.keeper = keeper = FitKeeper(store, worker, clock)
    keeper.catch_up()
    assert keeper.state.trouble == "the worker was killed"
    assert not careful_of_newest(store)
    worker.breaks = False
    keeper.catch_up()
    assert [careful for careful, _ in worker.asked] == [False, True, True]
    assert careful_of_newest(store)
