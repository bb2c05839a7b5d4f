"""The keeper of the fit outlives whatever goes wrong in one fit, and says so."""

from __future__ import annotations

import os
import signal
import threading
import tracemalloc
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from time import monotonic
from typing import Any

import numpy as np
import pytest
from sqlmodel import col, select

from model.belief import handbook_belief
from model.stored_belief import read_belief
from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.fitted_demo import copy_fitted_demo
from tests.web.many_batches import fill
from tests.web.one_batch import NOW, add_read_batch, begin_shop
from tests.web.slow_reader import IS_READING
from webapp.fit_keeper import FITTER, LOOK, FitKeeper, FitState
from webapp.services import observations
from webapp.services.book_fit import look_for_news
from webapp.services.fit_job import run_fit
from webapp.services.fit_made import FitMade
from webapp.services.fit_news import fingerprint_of
from webapp.services.fitting import newest_summary, store_fit
from webapp.services.kept_file import KEPT_FILE
from webapp.services.observations import tell
from webapp.services.shop_view import view_shop
from webapp.settings import Settings
from webapp.store.engine import Store, open_store, read, strict_json
from webapp.store.errors import CannotSave
from webapp.store.tables import Fit, Photo, Plan
from webapp.store.unit_of_work import Actor, write
from webapp.worker import Job, JobState, Worker

PATIENCE_S = 20.0
A_MOMENT_S = 0.3


class BrokenWorker(Worker):
    """Breaks when it is asked anything, and notes how the keeper stood."""

    def __init__(self) -> None:
        super().__init__()
        self.tried: list[FitState] = []
        self.keeper: FitKeeper | None = None
        self.once, self.again = threading.Event(), threading.Event()

    def submit(self, *_: Any, **__: Any) -> Job:
        assert self.keeper is not None
        self.tried.append(self.keeper.state)
        (self.once if len(self.tried) == 1 else self.again).set()
        raise ValueError("a slip in a number")


def test_the_keeper_fits_again_after_a_fit_that_broke(store: Store, clock: FixedClock) -> None:
    worker = BrokenWorker()
    worker.keeper = keeper = FitKeeper(store, worker, clock)
    keeper.start()
    try:
        assert worker.once.wait(PATIENCE_S)
        store.changed.set()
        assert worker.again.wait(PATIENCE_S)
    finally:
        worker.close()
        keeper.close()
    assert keeper.state.trouble == "a slip in a number"
    assert worker.tried[1].trouble == "a slip in a number"


class RecordingWorker(Worker):
    """Answers at once, and notes what was asked and how the keeper stood; the careful sums may break."""

    def __init__(self, breaks: bool = False) -> None:
        super().__init__()
        self.asked: list[tuple[str, FitState]] = []
        self.breaks = breaks
        self.keeper: FitKeeper | None = None

    def submit(
        self, function: str, *arguments: Any, key: str = "", on_done: Any = None, gives_way: bool = False
    ) -> Job:
        assert self.keeper is not None
        is_look = function == LOOK
        careful = not is_look and bool(arguments[-1])
        assert gives_way == careful
        self.asked.append(("look" if is_look else "careful" if careful else "quick", self.keeper.state))
        job = Job(b"", key, on_done, JobState.FAILED if careful and self.breaks else JobState.DONE)
        job.result = look_for_news(*arguments) if is_look else a_fit(arguments[-2], careful)
        job.gives_way = gives_way
        job.error = "the worker was killed"
        job.ended.set()
        return job


def a_fit(fingerprint: str, careful: bool = False) -> FitMade:
    """Return a fit that learnt nothing."""
    belief = strict_json(handbook_belief().to_dict())
    return FitMade(fingerprint, "[]", belief, strict_json({"used": [], "left_out": {}, "careful": careful}))


def save_batch(store: Store, depth_m: float) -> int:
    """Save a batch of which one rim was read, in a shop that is there or is begun; return its id."""
    with write(store, Actor("bench"), NOW) as work:
        if not view_shop(work.session).is_set_up:
            begin_shop(work)
        return add_read_batch(work, depth_m)


def careful_of_newest(store: Store) -> bool:
    with read(store) as session:
        newest = newest_summary(session)
        assert newest is not None
        return bool(newest.summary["careful"])


def test_the_quick_sums_are_stored_first_and_the_careful_ones_follow_once(store: Store) -> None:
    save_batch(store, 0.9e-3)
    worker = RecordingWorker()
    worker.keeper = keeper = FitKeeper(store, worker, FixedClock(NOW))
    keeper.catch_up()
    keeper.catch_up()
    # a page that asks between the two fits is not told that all is done, for it would not ask again; and
    # what the keeper stores itself is no news to it
    assert worker.asked == [
        ("look", FitState()),
        ("quick", FitState(is_working=True, is_first=True)),
        ("careful", FitState(is_refining=True)),
    ]
    assert careful_of_newest(store)
    assert keeper.state == FitState()


def test_careful_sums_that_break_leave_the_quick_ones_and_are_tried_again(store: Store) -> None:
    save_batch(store, 0.9e-3)
    worker = RecordingWorker(breaks=True)
    worker.keeper = keeper = FitKeeper(store, worker, FixedClock(NOW))
    keeper.catch_up()
    assert keeper.state.trouble == "the worker was killed"
    assert not careful_of_newest(store)
    worker.breaks = False
    keeper.catch_up()
    assert [what for what, _ in worker.asked] == ["look", "quick", "careful", "careful"]
    assert careful_of_newest(store)


def test_a_logbook_that_tells_nothing_is_not_fitted(store: Store) -> None:
    worker = RecordingWorker()
    worker.keeper = keeper = FitKeeper(store, worker, FixedClock(NOW))
    keeper.catch_up()
    assert [what for what, _ in worker.asked] == ["look"]
    assert keeper.state == FitState()


def stored(store: Store) -> list[tuple[int, bool]]:
    """How many readings each fit used, in the order they were stored, and whether it was the careful one."""
    with read(store) as session:
        return [(len(row.reading_ids), row.summary["careful"]) for row in session.exec(select(Fit))]


def test_fits_that_no_plan_goes_by_are_forgotten_once_nobody_can_be_asking_them(
    settings: Settings,
) -> None:
    def stored_after(hours: float) -> list[int]:
        now = A_SPRING_DAY + timedelta(hours=hours)
        with write(store, FITTER, now) as work:
            store_fit(work, a_fit("a mark"), now)
        with read(store) as session:
            return sorted(row.id or 0 for row in session.exec(select(Fit)))

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


def told_here(*_: object) -> None:
    raise AssertionError("the book was told in the server's process")


@pytest.mark.property
def test_a_save_in_the_middle_of_careful_sums_has_its_quick_answer_at_once_from_a_warm_worker(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(observations, "_tell_batch", told_here)
    first = save_batch(store, 0.9e-3)
    worker = Worker()
    keeper = FitKeeper(store, worker, FixedClock(NOW))
    child = worker.submit("os:getpid")
    keeper.start()
    try:
        until(lambda: keeper.state.is_refining)
        with write(store, Actor("bench"), NOW) as work:  # a save that tells the fit nothing new
            work.add(Photo(batch_id=first, sha256="0" * 64, size_bytes=1, width_px=1, height_px=1))
        until(lambda: not store.changed.is_set())
        assert keeper.state.is_refining
        save_batch(store, 1.1e-3)
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


@pytest.mark.property
def test_a_fit_killed_in_its_middle_is_told_the_old_one_stands_and_the_next_start_fits_again(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(FitKeeper, "refines", False)

    def started(worker: Worker) -> FitState:
        with closing(worker):
            keeper = FitKeeper(store, worker, FixedClock(NOW))
            keeper.catch_up()
            return keeper.state

    save_batch(store, 0.9e-3)
    assert started(Worker()).trouble == ""
    save_batch(store, 1.1e-3)
    assert "stopped twice in the middle" in started(DeadlyWorker()).trouble
    assert stored(store) == [(1, False)]
    assert started(Worker()).trouble == ""
    assert stored(store) == [(1, False), (2, False)]
    assert_as_if_told_here(store)


def assert_as_if_told_here(store: Store) -> None:
    """Hold the newest fit, which the worker made of what it read, to one of what this process reads."""
    with read(store) as session:
        told = tell(session, NOW)
        row = session.exec(select(Fit).order_by(col(Fit.id).desc())).first()
        before = session.exec(select(Fit.belief).order_by(col(Fit.id))).first()
    assert row is not None
    assert before is not None
    here = run_fit(told.observations, told.checks, read_belief(before), told.jobs, told.sides)
    assert row.fingerprint == fingerprint_of(told)
    assert row.summary.keys() == here.summary.keys()
    assert (row.summary["used"], row.summary["left_out"]) == (["1", "2"], {})
    kept, made = read_belief(row.belief), read_belief(here.belief)
    assert kept.names == made.names
    # where forecasts were made for an earlier fit, the answer differs by up to a tenth of a sd
    assert kept.mean == pytest.approx(made.mean, abs=0.15 * float(np.sqrt(made.covariance.diagonal).min()))


def test_an_exchange_of_the_logbook_waits_until_the_worker_has_read_it(store: Store) -> None:
    save_batch(store, 0.9e-3)
    worker = Worker()
    try:
        reading = worker.submit("tests.web.slow_reader:read_for_a_second", store.folder)
        until(lambda: (store.folder / IS_READING).exists())
        assert (store.folder / "logbook.db-wal").exists()
        with store.exchanging():
            assert not (store.folder / "logbook.db-wal").exists()
        assert reading.wait(PATIENCE_S)
    finally:
        worker.close()
    save_batch(store, 1.1e-3)
    assert len(look_for_news(store.folder, NOW).fires) == 2


def test_a_worker_killed_while_it_reads_leaves_the_logbook_to_all_others(store: Store) -> None:
    save_batch(store, 0.9e-3)
    worker = Worker()
    child = worker.submit("os:getpid")
    reading = worker.submit("tests.web.slow_reader:read_for_ever", store.folder)
    try:
        until(lambda: (store.folder / IS_READING).exists())
        with pytest.raises(CannotSave, match="Another program has the logbook open"), store.exchanging():
            pass
        save_batch(store, 1.1e-3)
        os.kill(child.result, signal.SIGKILL)
        worker.drop(reading)
        assert reading.wait(PATIENCE_S)
    finally:
        worker.close()
    with store.exchanging():
        pass  # no lock and no file of the dead reader stands in the way
    news = look_for_news(store.folder, NOW)
    assert (len(news.fires), news.asks_for_a_fit) == (2, True)


def most_memory_of(what: Callable[[], Any]) -> tuple[Any, int]:
    tracemalloc.start()
    found = what()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return found, most


def test_the_server_hears_what_is_new_of_a_book_and_holds_none_of_it(store: Store) -> None:
    fill(store, 20)
    worker = Worker()
    keeper = FitKeeper(store, worker, FixedClock(NOW))
    keeper.refines = False  # type: ignore[misc]  # of this one alone
    asked = worker.submit("os:getpid")
    assert asked.wait(PATIENCE_S)
    try:
        heard, here = most_memory_of(keeper._news)
    finally:
        worker.close()
    told, there = most_memory_of(lambda: look_for_news(store.folder, NOW))
    assert heard == told
    assert len(told.fires) == 20
    assert 10 * here < there
