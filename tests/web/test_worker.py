"""The compute worker: results come back, a dead child is replaced, a stop is at once."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Iterator
from time import monotonic, perf_counter
from types import FrameType

import pytest

from webapp import worker as worker_module
from webapp import worker_child
from webapp.worker import Job, JobState, Worker
from webapp.worker_child import Cut, Desk

PATIENCE_S = 60.0
FOR_EVER = ("timeit:timeit", "pass", "pass", perf_counter, 10**15)


@pytest.fixture
def worker() -> Iterator[Worker]:
    made = Worker()
    yield made
    made.close()


def test_a_sum_is_done_in_a_child_process_with_one_blas_thread(worker: Worker) -> None:
    process, threads = worker.submit("os:getpid"), worker.submit("os:getenv", "OPENBLAS_NUM_THREADS")
    assert process.wait(PATIENCE_S)
    assert threads.wait(PATIENCE_S)
    assert process.state is JobState.DONE
    assert process.result != os.getpid()
    assert threads.result == "1"


def test_the_one_who_asked_is_called_back_in_the_server_process(worker: Worker) -> None:
    told: list[tuple[Job, int]] = []
    job = worker.submit("operator:add", 2, 3, on_done=lambda job: told.append((job, os.getpid())))
    assert job.wait(PATIENCE_S)
    assert told == [(job, os.getpid())]
    assert job.result == 5


def test_what_goes_wrong_in_a_sum_comes_back_as_words_and_the_worker_goes_on(worker: Worker) -> None:
    broken, unknown = worker.submit("operator:truediv", 1, 0), worker.submit("operator:no_such_function")
    fine = worker.submit("operator:add", 1, 1)
    assert fine.wait(PATIENCE_S)
    assert broken.state is JobState.FAILED
    assert broken.error.startswith("ZeroDivisionError")
    assert "Traceback" in broken.detail
    assert unknown.error.startswith("AttributeError")
    assert fine.result == 2


def test_a_stray_print_in_a_sum_does_not_spoil_its_result(worker: Worker) -> None:
    assert worker.submit("builtins:print", "noise").wait(PATIENCE_S)
    after = worker.submit("operator:add", 1, 1)
    assert after.wait(PATIENCE_S)
    assert after.result == 2


def test_a_child_that_was_killed_is_replaced(worker: Worker) -> None:
    first = worker.submit("os:getpid")
    assert first.wait(PATIENCE_S)
    os.kill(first.result, signal.SIGKILL)
    second = worker.submit("os:getpid")
    assert second.wait(PATIENCE_S)
    assert second.state is JobState.DONE
    assert second.result != first.result


def test_a_sum_that_kills_the_child_twice_is_given_up_and_the_next_one_runs(worker: Worker) -> None:
    deadly, fine = worker.submit("os:abort"), worker.submit("operator:add", 1, 1)
    assert fine.wait(PATIENCE_S)
    assert deadly.state is JobState.FAILED
    assert "stopped twice" in deadly.error
    assert fine.result == 2


def test_a_bad_callback_does_not_end_the_worker(worker: Worker) -> None:
    def fail(_: Job) -> None:
        raise LookupError("no such batch")

    job = worker.submit("operator:add", 1, 1, on_done=fail)
    assert job.wait(PATIENCE_S)
    assert (job.state, job.error) == (JobState.FAILED, "LookupError: no such batch")
    after = worker.submit("operator:add", 2, 2)
    assert after.wait(PATIENCE_S)
    assert after.result == 4


def test_only_the_newest_of_the_waiting_sums_with_one_key_is_done(worker: Worker) -> None:
    gate, holding = threading.Event(), threading.Event()

    def hold(_: Job) -> None:
        holding.set()
        gate.wait(PATIENCE_S)

    worker.submit("operator:add", 0, 0, key="fit", on_done=hold)
    assert holding.wait(PATIENCE_S)
    assert worker.is_busy("fit")
    older, newer = (worker.submit("operator:add", 1, n, key="fit") for n in (1, 2))
    gate.set()
    assert older.wait(PATIENCE_S)
    assert newer.wait(PATIENCE_S)
    assert (older.state, newer.state, newer.result) == (JobState.DROPPED, JobState.DONE, 3)
    assert not worker.is_busy("fit")


def test_a_stop_in_the_middle_of_a_long_sum_is_at_once_and_ends_the_child() -> None:
    worker = Worker()
    child = worker.submit("os:getpid")
    assert child.wait(PATIENCE_S)
    long_sum = worker.submit("time:sleep", 10 * PATIENCE_S)
    waiting = worker.submit("operator:add", 1, 1)
    worker.close()
    assert long_sum.wait(PATIENCE_S)
    assert waiting.state is JobState.DROPPED
    with pytest.raises(ProcessLookupError):
        os.kill(child.result, 0)
    with pytest.raises(RuntimeError, match="closed"):
        worker.submit("operator:add", 1, 1)


def until_it_runs(job: Job) -> None:
    until = monotonic() + PATIENCE_S
    while job.state is JobState.WAITING and monotonic() < until:
        threading.Event().wait(0.01)
    assert job.state is JobState.RUNNING


def test_a_sum_that_nobody_wants_any_more_is_cut_and_the_child_lives_on(worker: Worker) -> None:
    child = worker.submit("os:getpid")
    endless = worker.submit(*FOR_EVER)
    until_it_runs(endless)
    worker.drop(endless)
    same = worker.submit("os:getpid")
    assert same.wait(PATIENCE_S)
    assert (endless.state, endless.ended.is_set()) == (JobState.DROPPED, True)
    assert same.result == child.result
    worker.drop(same)
    assert same.state is JobState.DONE


def test_a_sum_that_gives_way_is_cut_or_never_begun_when_another_comes(worker: Worker) -> None:
    endless = worker.submit(*FOR_EVER, gives_way=True)
    until_it_runs(endless)
    assert worker.submit("operator:add", 1, 1).wait(PATIENCE_S)
    assert endless.state is JobState.DROPPED
    busy = worker.submit(*FOR_EVER)
    waiting = worker.submit("operator:add", 1, 2, gives_way=True)
    worker.submit("operator:add", 1, 3)
    assert (waiting.state, waiting.ended.is_set()) == (JobState.DROPPED, True)
    assert busy.state in (JobState.WAITING, JobState.RUNNING)


def test_a_child_that_does_not_answer_to_a_cut_is_ended_and_nothing_is_tried_twice(
    worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "CUT_TIMEOUT_S", 0.1)
    child = worker.submit("os:getpid")
    assert child.wait(PATIENCE_S)
    deaf = worker.submit("time:sleep", 10 * PATIENCE_S)
    until_it_runs(deaf)
    worker.drop(deaf)
    after = worker.submit("os:getpid")
    assert after.wait(PATIENCE_S)
    assert deaf.state is JobState.DROPPED
    assert after.result != child.result


def test_a_cut_falls_on_its_own_sum_only_and_never_into_an_import(monkeypatch: pytest.MonkeyPatch) -> None:
    tried_again = threading.Event()
    monkeypatch.setattr(worker_child, "TRY_AGAIN_S", 0.0)
    monkeypatch.setattr(worker_child._thread, "interrupt_main", tried_again.set)
    desk = Desk()
    desk.unwanted = 4
    for at_work in (0, 3):
        desk.at_work = at_work
        desk.interrupted(0, sys._getframe())
    desk.at_work = 4
    here: dict[str, FrameType] = {"sys": sys}  # type: ignore[dict-item]
    exec(compile("frame = sys._getframe()", "<frozen importlib._bootstrap>", "exec"), here)
    desk.interrupted(0, here["frame"])
    assert tried_again.wait(PATIENCE_S)
    with pytest.raises(Cut):
        desk.interrupted(0, sys._getframe())
    desk.interrupted(0, sys._getframe())
