"""The one compute worker: a child process that runs fits, so that no page waits for one.

A thread of the server hands it one job after another. The child uses one BLAS thread, dies with its
parent, and is started again if it dies; a job that kills it twice is given up. A job that nobody wants any
more is cut in its middle, and the child lives on with all it has kept.
"""

from __future__ import annotations

import pickle
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from itertools import count
from typing import Any

from webapp.worker_process import WorkerProcess

TRIES = 2
STOP_TIMEOUT_S = 5.0
CUT_TIMEOUT_S = 5.0  # how long the child may go on with a job that was cut, before it is ended
_NUMBERS = count(1)


class JobState(Enum):
    """How far a job has come."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    DROPPED = "dropped"


@dataclass(eq=False)
class Job:
    """One sum for the worker: the pickled function name and arguments, and who wants the result.

    gives_way : whether it is dropped when another job comes, even in its middle
    """

    request: bytes
    key: str
    on_done: Callable[[Job], None] | None
    state: JobState = JobState.WAITING
    result: Any = None
    error: str = ""
    detail: str = ""
    number: int = 0
    gives_way: bool = False
    is_unwanted: bool = False
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
        self._child: WorkerProcess | None = None

    def submit(
        self,
        function: str,
        *arguments: Any,
        key: str = "",
        on_done: Callable[[Job], None] | None = None,
        gives_way: bool = False,
    ) -> Job:
        """Queue `package.module:function`; `on_done` gets the ended job in a thread of the server.

        A job still waiting under the same non-empty key is dropped: only the newest matters. One that
        `gives_way` is dropped as soon as any other comes; who wants it still must ask again.
        """
        number = next(_NUMBERS)
        request = pickle.dumps((number, function, arguments))
        job = Job(request, key, on_done, number=number, gives_way=gives_way)
        with self._changed:
            if self._closed:
                raise RuntimeError("the worker is closed")
            for older in list(self._waiting):
                if older.gives_way or (key and older.key == key):
                    self.drop(older)
            if self._running is not None and self._running.gives_way:
                self.drop(self._running)
            self._waiting.append(job)
            if self._thread is None:
                self._thread = threading.Thread(target=self._serve, name="compute worker", daemon=True)
                self._thread.start()
            self._changed.notify_all()
        return job

    def drop(self, job: Job) -> None:
        """Want a job no more: take it from the queue, or cut it where it runs; one that ended stays so.

        The child is ended only if it does not answer to that.
        """
        with self._changed:
            if job in self._waiting:
                self._waiting.remove(job)
                job.state = JobState.DROPPED
                job.ended.set()
            elif job is self._running and not job.is_unwanted:
                job.is_unwanted = True
                if self._child is not None:
                    self._child.tell(pickle.dumps(job.number))
                patience = threading.Timer(CUT_TIMEOUT_S, self._kill_if_still_at, (job,))
                patience.daemon = True
                patience.start()

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
            job.request = b""  # it may be large, and who waited may keep the job
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
                state, outcome = self._ask_child(job)
            except (OSError, EOFError, pickle.UnpicklingError):
                self._end_child()
                if not job.is_unwanted:
                    continue
                state = JobState.DROPPED
            if state is JobState.DONE:
                job.result = outcome
            elif state is JobState.FAILED:
                job.error, job.detail = outcome
            job.state = state
            return
        job.state, job.error = JobState.FAILED, "the compute worker stopped twice in the middle of this job"

    def _ask_child(self, job: Job) -> tuple[JobState, Any]:
        child = self._living_child()
        child.tell(job.request)
        if job.is_unwanted:  # it may have been cut before the child heard of it
            child.tell(pickle.dumps(job.number))
        word, outcome = child.answer()
        return JobState(word), outcome

    def _kill_if_still_at(self, job: Job) -> None:
        with self._changed:
            if self._running is job and self._child is not None:
                self._child.kill()

    def _call_back(self, job: Job) -> None:
        assert job.on_done is not None
        try:
            job.on_done(job)
        except Exception as error:  # noqa: BLE001 - one bad callback must not end the worker for everybody
            job.state, job.error = JobState.FAILED, f"{type(error).__name__}: {error}"

    def _living_child(self) -> WorkerProcess:
        with self._changed:
            if self._closed:
                raise EOFError("the worker is closed")
            if self._child is not None and not self._child.is_alive():
                self._child.put_away()
                self._child = None
            if self._child is None:
                self._child = WorkerProcess()
            return self._child

    def _end_child(self) -> None:
        with self._changed:
            child, self._child = self._child, None
        if child is not None:
            child.put_away()
