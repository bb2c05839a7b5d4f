"""Sums that a page has asked of the compute worker, kept by what they hang on."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Any

from webapp.worker import Job, JobState, Worker

MOST_KEPT = 24
ENDED_BADLY = (JobState.FAILED, JobState.DROPPED)


class AskedSums:
    """The newest sums that were asked for, done or not."""

    def __init__(self, worker: Worker) -> None:
        """Ask nothing yet."""
        self._worker = worker
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = Lock()

    def job(self, mark: str, function: str, *arguments: Any, afresh: bool = False) -> Job:
        """Return the job of a mark, submitted if it is new.

        mark : tells one question from another; function, arguments : as `Worker.submit` takes them
        afresh : asks once more where it went wrong before
        """
        with self._lock:
            found = self._jobs.get(mark)
            if found is None or (afresh and found.state in ENDED_BADLY):
                found = self._worker.submit(function, *arguments)
                self._jobs[mark] = found
            self._jobs.move_to_end(mark)
            while len(self._jobs) > MOST_KEPT:
                self._jobs.popitem(last=False)
            return found
