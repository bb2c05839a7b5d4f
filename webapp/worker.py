"""The one compute worker: a child process that runs fits, so that no page waits for one.

A thread of the server hands it one job after another. The child uses one BLAS thread, dies with its
parent, and is started again if it dies; a job that kills it twice is given up.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from webapp.resources import CHECKOUT

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
CHILD_MODULE = "webapp.worker_child"
TRIES = 2
STOP_TIMEOUT_S = 5.0


class JobState(Enum):
    """How far a job has come."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    DROPPED = "dropped"


@dataclass(eq=False)
class Job:
    """One sum for the worker: the pickled function name and arguments, and who wants the result."""

    request: bytes
    key: str
    on_done: Callable[[Job], None] | None
    state: JobState = JobState.WAITING
    result: Any = None
    error: str = ""
    detail: str = ""
    ended: threading.Event = field(default_factory=threading.Event)

    def wait(self, timeout_s: float) -> bool:
        """Wait until the job ended and its callback ran; False when the time ran out first."""
        return self.ended.wait(timeout_s)


class Worker:
    """A queue of jobs, a thread that serves it and the child process that does the sums."""

    def __init__(self) -> None:
        """Start nothing yet; the first job does."""
        self._waiting: deque[Job] = deque()
        self._running: Job | None = None
        self._changed = threading.Condition()
        self._closed = False
        self._thread: threading.Thread | None = None
        self._child: subprocess.Popen[bytes] | None = None

    def submit(
        self,
        function: str,
        *arguments: Any,
        key: str = "",
        on_done: Callable[[Job], None] | None = None,
    ) -> Job:
        """Queue `package.module:function`; `on_done` gets the ended job in a thread of the server.

        A job still waiting under the same non-empty key is dropped: only the newest matters.
        """
        job = Job(pickle.dumps((function, arguments)), key, on_done)
        with self._changed:
            if self._closed:
                raise RuntimeError("the worker is closed")
            for older in [other for other in self._waiting if key and other.key == key]:
                self._waiting.remove(older)
                older.state = JobState.DROPPED
                older.ended.set()
            self._waiting.append(job)
            if self._thread is None:
                self._thread = threading.Thread(target=self._serve, name="compute worker", daemon=True)
                self._thread.start()
            self._changed.notify_all()
        return job

    def is_busy(self, key: str) -> bool:
        """Tell whether a job with this key waits or runs."""
        with self._changed:
            running = self._running is not None and self._running.key == key
            return running or any(job.key == key for job in self._waiting)

    def close(self) -> None:
        """Drop what waits, end the child at once and join the thread."""
        with self._changed:
            self._closed = True
            for job in self._waiting:
                job.state = JobState.DROPPED
                job.ended.set()
            self._waiting.clear()
            self._changed.notify_all()
            if self._child is not None:
                self._child.kill()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(STOP_TIMEOUT_S)

    def _serve(self) -> None:
        while (job := self._next()) is not None:
            self._run(job)
            if job.on_done is not None and not self._closed:
                self._call_back(job)
            with self._changed:
                self._running = None
            job.ended.set()
        self._end_child()

    def _next(self) -> Job | None:
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closed)
            if self._closed:
                return None
            self._running = job = self._waiting.popleft()
            job.state = JobState.RUNNING
            return job

    def _run(self, job: Job) -> None:
        for _ in range(TRIES):
            try:
                went_well, outcome = self._ask_child(job)
            except (OSError, EOFError, pickle.UnpicklingError):
                self._end_child()
                continue
            if went_well:
                job.result, job.state = outcome, JobState.DONE
            else:
                (job.error, job.detail), job.state = outcome, JobState.FAILED
            return
        job.state, job.error = JobState.FAILED, "the compute worker stopped twice in the middle of this job"

    def _ask_child(self, job: Job) -> tuple[bool, Any]:
        child = self._living_child()
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(job.request)
        child.stdin.flush()
        outcome: tuple[bool, Any] = pickle.load(child.stdout)
        return outcome

    def _call_back(self, job: Job) -> None:
        assert job.on_done is not None
        try:
            job.on_done(job)
        except Exception as error:  # noqa: BLE001 - one bad callback must not end the worker for everybody
            job.state, job.error = JobState.FAILED, f"{type(error).__name__}: {error}"

    def _living_child(self) -> subprocess.Popen[bytes]:
        with self._changed:
            if self._closed:
                raise EOFError("the worker is closed")
            if self._child is not None and self._child.poll() is not None:
                put_away(self._child)
                self._child = None
            if self._child is None:
                self._child = start_child()
            return self._child

    def _end_child(self) -> None:
        with self._changed:
            child, self._child = self._child, None
        if child is not None:
            put_away(child)


def put_away(child: subprocess.Popen[bytes]) -> None:
    """End a child, if it still lives, and close its pipes, whatever still waits in them."""
    child.kill()
    with suppress(BrokenPipeError), child:
        child.wait()


def start_child() -> subprocess.Popen[bytes]:
    """Start the child process with one BLAS thread, finding our packages where this process does."""
    environment = dict(os.environ) | dict.fromkeys(ONE_THREAD, "1")
    paths = [str(CHECKOUT), *(path for path in sys.path if path)]
    environment["PYTHONPATH"] = os.pathsep.join(dict.fromkeys(paths))
    return subprocess.Popen(
        [sys.executable, "-m", CHILD_MODULE],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment,
    )
