"""Keeps the fit in step with the logbook: a thread that waits for a save, and the worker that fits.

Reading the book and storing the fit happen here, in the server's process; the sum happens in the
worker. No page waits for any of it. The quick sums are stored as soon as they are there, and the careful
ones some seconds later. A save that comes between cuts them short and has its own quick sums at once. If the
process dies in the middle the old fit stands, and the next start fits again.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from time import monotonic
from typing import ClassVar

from webapp.clock import Clock
from webapp.services.fitting import News, fingerprint_of, newest_fit, news_of, store_fit
from webapp.services.kept_file import KEPT_FILE
from webapp.services.observations import Told, tell
from webapp.store.engine import Store, read
from webapp.store.tables import Fit
from webapp.store.unit_of_work import Actor, write
from webapp.worker import Job, JobState, Worker

SETTLE_S = 0.3
LOOK_S = 0.1  # how often it is looked whether careful sums are still wanted
JOB = "webapp.services.fit_job:fit_again"
JOB_KEY = "fit"
LONGEST_FIT_S = 600.0
FITTER = Actor("the fit")


@dataclass(frozen=True)
class FitState:
    """How the fit stands: working, or at rest with what went wrong last, if anything did.

    is_refining : the quick sums stand, and the careful ones are worked out; is_first : none stand yet
    """

    is_working: bool = False
    is_refining: bool = False
    is_first: bool = False
    trouble: str = ""


@dataclass(frozen=True)
class _Begun:
    """Sums that were asked for, and what is kept beside what comes out."""

    job: Job
    news: News
    is_careful: bool


class FitKeeper:
    """The thread that fits again after a save that changed what the logbook tells.

    refines : whether careful sums follow the quick ones
    """

    refines: ClassVar[bool] = True

    def __init__(self, store: Store, worker: Worker, clock: Clock) -> None:
        """Start nothing yet; `start` does."""
        self._store, self._worker, self._clock = store, worker, clock
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._job: Job | None = None
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

    def rest(self) -> bool:
        """Stop watching and drop what is worked out, until `start`; return whether there was a watch."""
        if self._thread is None:
            return False
        self._closing.set()
        self._store.changed.set()
        while self._thread.is_alive():
            if (job := self._job) is not None:
                self._worker.drop(job)
            self._thread.join(LOOK_S)
        self._closing.clear()
        self.state = FitState()
        return True

    def catch_up(self) -> None:
        """Fit if the readings changed since the newest fit, and wait for it; then fit with care."""
        self._store.changed.clear()
        begun = self._begun()
        if begun is not None and not begun.is_careful:
            begun.job.wait(LONGEST_FIT_S)
            if not self._keep(begun):
                return
            # a save that came meanwhile set off the next round, which has its quick sums
            begun = self._begun(quick_too=False)
        if begun is not None:
            self._refine(begun)

    def _begun(self, quick_too: bool = True) -> _Begun | None:
        """Ask for quick sums where no fit stands, else for careful ones; None where there is nothing to ask.

        What was told, large in an old logbook, is gone once it is asked for.
        """
        told, newest = self._told()
        news = news_of(told)
        stands = newest is not None and newest.fingerprint == news.fingerprint
        is_empty = newest is None and not (told.observations or told.checks)
        is_careful = newest is not None and bool(newest.summary.get("careful"))
        if is_empty or (stands and (is_careful or not self.refines)):
            self.state = FitState()
            return None
        if not (stands or quick_too):
            return None
        self.state = FitState(is_working=not stands, is_refining=stands, is_first=newest is None)
        return _Begun(self._submit(told, newest, careful=stands), news, is_careful=stands)

    def _refine(self, begun: _Begun) -> None:
        """Wait for careful sums and keep them, unless a save comes that asks for a fit of its own."""
        if not self._is_waited_for(begun):
            self._store.changed.set()
        elif self._keep(begun):
            self.state = FitState()

    def _told(self) -> tuple[Told, Fit | None]:
        with read(self._store) as session:
            return tell(session, self._clock.now()), newest_fit(session)

    def _submit(self, told: Told, newest: Fit | None, careful: bool) -> Job:
        previous = newest.belief if newest is not None else None
        asked = (
            told.observations,
            told.checks,
            previous,
            told.jobs,
            told.sides,
            careful,
            self._store.folder / KEPT_FILE,
        )
        self._job = self._worker.submit(JOB, *asked, key=JOB_KEY, gives_way=careful)
        return self._job

    def _is_waited_for(self, begun: _Begun) -> bool:
        """Wait for careful sums; return False once they are out of date or had to give way to other sums."""
        until = monotonic() + LONGEST_FIT_S
        while not begun.job.wait(LOOK_S) and monotonic() < until:
            if self._store.changed.is_set():
                self._store.changed.clear()
                if fingerprint_of(self._told()[0]) != begun.news.fingerprint:
                    self._worker.drop(begun.job)
                    return False
        return begun.job.state is not JobState.DROPPED

    def _keep(self, begun: _Begun) -> bool:
        """Store what came out of a fit; return whether anything did."""
        job, self._job = begun.job, None
        if job.state is not JobState.DONE:
            self._worker.drop(job)
            self.state = FitState(trouble=job.error or "the fit took too long and was given up")
            return False
        now = self._clock.now()
        with write(self._store, FITTER, now) as work:
            store_fit(work, begun.news, job.result, now)
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
