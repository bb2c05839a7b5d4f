"""Work shared by two processes: the same answers, errors as they are, and nothing left of the second."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from time import monotonic, sleep

import pytest

from webapp import side_by_side as pieces_module
from webapp.side_by_side import has_a_processor_free, side_by_side
from webapp.worker import Job, JobState, Worker
from webapp.worker_child import must_go_on

PATIENCE_S = 60.0
AT_ONCE_S = 20.0  # less than the copy would be at its piece
SHARED = "tests.web.shared_pieces:"

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="no process can be copied here")


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    with closing(Worker()) as made:
        yield made


def ended(job: Job) -> Job:
    assert job.wait(PATIENCE_S)
    return job


def until(what: Callable[[], bool], within_s: float = PATIENCE_S) -> None:
    stop = monotonic() + within_s
    while not what():
        assert monotonic() < stop
        sleep(0.01)


def is_running(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"  # one that ended and was never heard of lies there so


def both_at_work(worker: Worker, folder: Path) -> tuple[Job, int, int]:
    """Return a job that two processes are at, the worker's process and its copy."""
    here = ended(worker.submit("os:getpid")).result
    job = worker.submit(f"{SHARED}endless", folder)
    until(lambda: len(list(folder.iterdir())) == 2)
    (copy,) = {int(path.name) for path in folder.iterdir()} - {here}
    return job, here, copy


def test_pieces_come_back_in_order_from_two_processes(worker: Worker) -> None:
    assert ended(worker.submit(f"{SHARED}squares", 9)).result == ([n**2 for n in range(9)], 2)
    assert ended(worker.submit(f"{SHARED}squares", 1)).result == ([0], 1)


def test_a_fit_by_two_processes_is_that_by_one_to_the_last_digit(worker: Worker) -> None:
    alone, both, processes = ended(worker.submit(f"{SHARED}fits_either_way")).result
    assert len(alone) > 1000
    assert both == alone
    assert processes > 2  # a copy for each round of forecasts


@pytest.mark.parametrize("fails_here", [True, False])
def test_an_error_is_raised_as_it_is_for_the_first_piece_that_has_one(
    worker: Worker, fails_here: bool
) -> None:
    found = ended(worker.submit(f"{SHARED}refused", 2, fails_here))
    if fails_here:
        assert found.error == "NotPossible: piece 2: it cannot be done. Leave it out."
    else:  # where only the copy fails, nothing is wrong with the work
        assert found.result == list(range(6))


def test_what_a_copy_owes_that_died_is_done_here(worker: Worker) -> None:
    assert ended(worker.submit(f"{SHARED}deserted")).result == list(range(4))


def test_a_cut_ends_the_copy_and_the_worker_lives_on(worker: Worker, tmp_path: Path) -> None:
    job, here, copy = both_at_work(worker, tmp_path)
    worker.drop(job)
    assert ended(job).state is JobState.DROPPED
    assert not Path(f"/proc/{copy}").exists()  # ended, and heard of
    assert ended(worker.submit("os:getpid")).result == here


def test_a_worker_killed_in_the_middle_leaves_no_copy(tmp_path: Path) -> None:
    with closing(Worker()) as worker:
        _, here, copy = both_at_work(worker, tmp_path)
        assert is_running(copy)
        worker.close()
        assert not is_running(here)
        until(lambda: not is_running(copy), AT_ONCE_S)


def test_no_job_is_cut_as_a_copy_begins_or_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    goes_on: list[bool] = []

    def look(*_: object) -> int:
        goes_on.append(must_go_on(sys._getframe()))
        return -1

    for name in ("fork", "kill", "waitpid"):
        monkeypatch.setattr(os, name, look)
    monkeypatch.setattr(pieces_module, "has_a_processor_free", lambda: True)
    side_by_side(look, [1, 2])
    assert goes_on == [True, False, False, True, True]  # fork, two pieces, kill and waitpid


def test_where_no_processor_is_free_for_it_no_copy_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "fork", lambda: pytest.fail("a copy was made"))
    monkeypatch.setattr(pieces_module, "LOAD", tmp_path / "load")
    for processors, at_work, is_free in ((1, 1, False), (2, 3, False), (2, 2, True)):
        pieces_module.LOAD.write_text(f"0.50 0.40 0.30 {at_work}/200 4711\n")
        monkeypatch.setattr(os, "sched_getaffinity", lambda _, there=processors: set(range(there)))
        assert has_a_processor_free() is is_free
        assert is_free or side_by_side(str, [1, 2, 3]) == ["1", "2", "3"]


def test_where_no_copy_can_be_made_all_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(os, "fork", refuse)
    monkeypatch.setattr(pieces_module, "has_a_processor_free", lambda: True)
    before = len(os.listdir("/proc/self/fd"))
    assert side_by_side(str, [1, 2, 3]) == ["1", "2", "3"]
    assert len(os.listdir("/proc/self/fd")) == before
