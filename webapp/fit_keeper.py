"""Keeps the fit in step with the logbook: a thread that waits for a save, and the worker that fits.

Reading the book and storing the fit happen here, in the server's process; the sum happens in the
worker. No page waits for any of it. The quick sums are stored as soon as they are there, and the careful
ones some seconds later, unless a save came between. If the process dies in the middle the old fit stands, and
the next start fits again.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

from webapp.clock import Clock
from webapp.services.fitting import fingerprint_of, newest_fit, store_fit
from webapp.services.observations import Told, tell
from webapp.store.engine import Store, read
from webapp.store.tables import Fit
from webapp.store.unit_of_work import Actor, write
from webapp.worker import JobState, Worker

SETTLE_S = 0.3
JOB = "webapp.services.fit_job:fit_again"
JOB_KEY = "fit"
LONGEST_FIT_S = 600.0
FITTER = Actor("the fit")


@dataclass(frozen=True)
class FitState:
    """How the fit stands: working, or at rest with what went wrong last, if anything did.

    is_refining : the quick sums stand, and the careful ones are worked out
    """

    is_working: bool = False
    is_refining: bool = False
    trouble: str = ""


class FitKeeper:
    """The thread that fits again after a save that changed what the logbook tells."""

    def __init__(self, store: Store, worker: Worker, clock: Clock) -> None:
        """Start nothing yet; `start` does."""
        self._store, self._worker, self._clock = store, worker, clock
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self.state = FitState()

    def start(self) -> None:
        """Begin to watch; the first look is at once, for what was saved before a crash."""
        self._store.changed.set()
        self._thread = threading.Thread(target=self._watch, name="fit keeper", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop watching; the worker must be closed first, so that no fit is waited for."""
        self._closing.set()
        self._store.changed.set()
        if self._thread is not None:
            self._thread.join()

    def catch_up(self) -> None:
        """Fit if the readings changed since the newest fit, and wait for it; then fit with care."""
        self._store.changed.clear()
        told, newest = self._told()
        self.state = FitState()
        if not (newest is not None or told.observations or told.checks):
            return
        if newest is None or newest.fingerprint != fingerprint_of(told):
            self.state = FitState(is_working=True)
            if not self._fit(told, newest.belief if newest else None):
                return
            told, newest = self._told()
        is_of_today = newest is not None and newest.fingerprint == fingerprint_of(told)
        if newest is not None and is_of_today and not newest.summary.get("careful"):
            self.state = FitState(is_refining=True)
            self._fit(told, newest.belief, careful=True)

    def _told(self) -> tuple[Told, Fit | None]:
        with read(self._store) as session:
            return tell(session, self._clock.now()), newest_fit(session)

    def _fit(self, told: Told, previous: dict[str, object] | None, careful: bool = False) -> bool:
        """Fit in the worker and store what came out; return whether anything did."""
        job = self._worker.submit(
            JOB, told.observations, told.checks, previous, told.jobs, told.sides, careful, key=JOB_KEY
        )
        job.wait(LONGEST_FIT_S)
        if job.state is not JobState.DONE:
            self.state = FitState(trouble=job.error or "the fit took too long and was given up")
            return False
        now = self._clock.now()
        with write(self._store, FITTER, now) as work:
            store_fit(work, told, job.result, now)
        self.state = FitState()
        return True

    def _watch(self) -> None:
        while not self._closing.is_set():
            self._store.changed.wait()
            if self._closing.wait(SETTLE_S):
                return
            try:
                self.catch_up()
            except Exception as error:  # noqa: BLE001 - one bad sum must not end the fitting for good
                self.state = FitState(trouble=str(error))
