"""The keeper of the fit outlives whatever goes wrong in one fit, and says so."""

from __future__ import annotations

import os
import signal
import threading
from contextlib import closing
from datetime import timedelta
from time import monotonic
from typing import Any

import pytest
from sqlmodel import select

from model.belief import handbook_belief
from tests.conftest import A_SPRING_DAY, FixedClock
from tests.model.logbooks import depth, job
from tests.web.fitted_demo import copy_fitted_demo
from webapp import fit_keeper
from webapp.fit_keeper import FITTER, FitKeeper, FitState
from webapp.services.fit_job import FitOutcome
from webapp.services.fitting import newest_fit, news_of, store_fit
from webapp.services.kept_file import KEPT_FILE
from webapp.services.observations import Told
from webapp.settings import Settings
from webapp.store.engine import Store, open_store, read
from webapp.store.tables import Fit, Plan
from webapp.store.unit_of_work import write
from webapp.worker import Job, JobState, Worker

PATIENCE_S = 20.0
A_MOMENT_S = 0.3


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

    def submit(
        self, _function: str, *arguments: Any, key: str = "", on_done: Any = None, gives_way: bool = False
    ) -> Job:
        careful = bool(arguments[-2])
        assert gives_way == careful
        assert self.keeper is not None
        self.asked.append((careful, self.keeper.state))
        job = Job(b"", key, on_done, JobState.FAILED if careful and self.breaks else JobState.DONE)
        belief = handbook_belief().to_dict()
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
    seen: list[FitState] = []

    def noting(*_: object) -> Told:
        seen.append(keeper.state)
        return one_check_to_learn_from()

    monkeypatch.setattr(fit_keeper, "tell", noting)
    worker = RecordingWorker()
    worker.keeper = keeper = FitKeeper(store, worker, clock)
    keeper.catch_up()
    keeper.catch_up()
    # a page that asks between the two fits is not told that all is done, for it would not ask again
    assert seen == [FitState(), FitState(is_working=True, is_first=True), FitState()]
    assert worker.asked == [
        (False, FitState(is_working=True, is_first=True)),
        (True, FitState(is_refining=True)),
    ]
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


def stored(store: Store) -> list[tuple[int, bool]]:
    """How many readings each fit used, in the order they were stored, and whether it was the careful one."""
    with read(store) as session:
        return [(len(row.reading_ids), row.summary["careful"]) for row in session.exec(select(Fit))]


def test_fits_that_no_plan_goes_by_are_forgotten_once_nobody_can_be_asking_them(
    settings: Settings,
) -> None:
    def stored_after(hours: float) -> list[int]:
        now = A_SPRING_DAY + timedelta(hours=hours)
        belief = handbook_belief().to_dict()
        with write(store, FITTER, now) as work:
            store_fit(work, news_of(told), FitOutcome(belief, {"used": [], "left_out": {}}), now)
        with read(store) as session:
            return sorted(row.id or 0 for row in session.exec(select(Fit)))

    told = Told(observations=(), checks=(), untold={})
    copy_fitted_demo(settings.data_folder)
    with closing(open_store(settings.data_folder)) as store:
        with write(store, FITTER, A_SPRING_DAY) as work:
            plan = work.session.exec(select(Plan)).first()
            assert plan is not None
            work.change(plan, plan.version, fit_id=1)
        assert stored_after(1.0) == [1, 2]
        assert stored_after(1.1) == [1, 2, 3]
        assert stored_after(2.0) == [1, 4]


def until(what: Any) -> None:
    end = monotonic() + 3 * PATIENCE_S
    while not what() and monotonic() < end:
        threading.Event().wait(0.02)
    assert what()


@pytest.mark.property
def test_a_save_in_the_middle_of_careful_sums_has_its_quick_answer_at_once_from_a_warm_worker(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    readings = [depth("1", job("f1"), 0.9), depth("2", job("f2"), 1.1)]
    saved = readings[:1]
    monkeypatch.setattr(fit_keeper, "tell", lambda *_: Told(observations=tuple(saved), checks=(), untold={}))
    worker = Worker()
    keeper = FitKeeper(store, worker, clock)
    child = worker.submit("os:getpid")
    keeper.start()
    try:
        until(lambda: keeper.state.is_refining)
        store.changed.set()  # a save that tells the fit nothing new
        until(lambda: not store.changed.is_set())
        assert keeper.state.is_refining
        saved.append(readings[1])
        store.changed.set()
        until(lambda: len(stored(store)) == 2)
        assert stored(store) == [(1, False), (2, False)]
        until(lambda: keeper.state.is_refining)
        same = worker.submit("os:getpid")  # what a page asks need not wait for them either
        assert same.wait(PATIENCE_S)
        assert same.result == child.result
        until(lambda: keeper.state.is_refining)
        os.kill(child.result, signal.SIGKILL)
    finally:
        worker.close()
        keeper.close()
    assert stored(store) == [(1, False), (2, False)]
    assert (store.folder / KEPT_FILE).exists()


class DeadlyWorker(Worker):
    """Its child is killed a moment after it was asked for a sum, each time."""

    def _ask_child(self, job: Job) -> tuple[JobState, Any]:
        threading.Timer(A_MOMENT_S, self._end_child_of, (job,)).start()
        return super()._ask_child(job)

    def _end_child_of(self, job: Job) -> None:
        with self._changed:
            if self._running is job and self._child is not None:
                self._child.kill()


def test_a_fit_killed_in_its_middle_is_told_the_old_one_stands_and_the_next_start_fits_again(
    store: Store, clock: FixedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = [depth("1", job("f1"), 0.9)]
    monkeypatch.setattr(fit_keeper, "tell", lambda *_: Told(observations=tuple(saved), checks=(), untold={}))
    monkeypatch.setattr(FitKeeper, "refines", False)

    def started(worker: Worker) -> FitState:
        with closing(worker):
            keeper = FitKeeper(store, worker, clock)
            keeper.catch_up()
            return keeper.state

    assert started(Worker()).trouble == ""
    saved.append(depth("2", job("f2"), 1.1))
    assert "stopped twice in the middle" in started(DeadlyWorker()).trouble
    assert stored(store) == [(1, False)]
    assert started(Worker()).trouble == ""
    assert stored(store) == [(1, False), (2, False)]
