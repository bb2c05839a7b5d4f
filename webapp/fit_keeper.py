"""Keeps the fit in step with the logbook: a thread that waits for a save, and the worker that fits.

The worker reads the book and does the sums; the fit is stored here, in the server's process, which holds
neither. No page waits for any of it. The quick sums are stored as soon as they are there, and the careful
ones some seconds later. A save that comes between cuts them short and has its own quick sums at once. If the
process dies in the middle the old fit stands, and the next start fits again.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from time import monotonic
from typing import Any, ClassVar

from webapp.clock import Clock
from webapp.services.fit_made import FitMade
from webapp.services.fit_news import News, may_tell_more, newest_change
from webapp.services.fitting import store_fit
from webapp.store.engine import Store, read
from webapp.store.unit_of_work import Actor, write
from webapp.worker import Job, JobState, Worker

SETTLE_S = 0.3
LOOK_S = 0.1  # how often it is looked whether careful sums are still wanted
LOOK, FIT = "webapp.services.book_fit:look_for_news", "webapp.services.book_fit:fit_book"
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
        self._seen: News | None = None
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
        if (job := self._job) is not None:  # dropped, and perhaps still reading the logbook
            job.wait(LONGEST_FIT_S)
        self._seen = None  # another logbook may stand by the next start
        self._closing.clear()
        self.state = FitState()
        return True

    def catch_up(self) -> None:
        """Fit if the readings changed since the newest fit, and wait for it; then fit with care."""
        self._store.changed.clear()
        news = self._news()
        if news is not None and news.asks_for_a_fit:
            self.state = FitState(is_working=True, is_first=news.newest is None)
            job = self._ask_for_a_fit(news, careful=False)
            job.wait(LONGEST_FIT_S)
            news = self._kept(job, news)
        if news is not None and self._is_to_be_refined(news):
            self._refine(news)
        elif news is not None:
            self.state = FitState()

    def _news(self) -> News | None:
        """Have the worker look whether there is news, if anything was saved since it last did."""
        with read(self._store) as session:
            if self._seen is not None and self._seen.until == newest_change(session):
                return self._seen
        job = self._ask(LOOK, gives_way=False)
        job.wait(LONGEST_FIT_S)
        self._seen = self._result_of(job)
        return self._seen

    def _is_to_be_refined(self, news: News) -> bool:
        return self.refines and news.newest is not None and not news.newest.is_careful

    def _refine(self, news: News) -> None:
        """Have careful sums made and keep them, unless a save comes that may ask for a fit of its own."""
        self.state = FitState(is_refining=True)
        job = self._ask_for_a_fit(news, careful=True)
        if not self._is_waited_for(job, news):
            self._store.changed.set()
        elif self._kept(job, news) is not None:
            self.state = FitState()

    def _ask_for_a_fit(self, news: News, careful: bool) -> Job:
        return self._ask(FIT, news.fingerprint, careful, gives_way=careful)

    def _ask(self, function: str, *arguments: Any, gives_way: bool) -> Job:
        """Ask the worker, which reads the logbook itself: in this process it would not be let go of whole."""
        where = (self._store.folder, self._clock.now())
        self._job = self._worker.submit(function, *where, *arguments, key=JOB_KEY, gives_way=gives_way)
        return self._job

    def _is_waited_for(self, job: Job, news: News) -> bool:
        """Wait for careful sums; return False once they may be out of date or had to give way to others.

        A save that may tell them nothing new lets them go on, and whoever keeps them looks at it again.
        """
        until = monotonic() + LONGEST_FIT_S
        while not job.wait(LOOK_S) and monotonic() < until:
            if self._store.changed.is_set():
                self._store.changed.clear()
                with read(self._store) as session:
                    is_out_of_date = may_tell_more(session, news)
                if is_out_of_date:
                    self._worker.drop(job)
                    return False
        return job.state is not JobState.DROPPED

    def _kept(self, job: Job, news: News) -> News | None:
        """Store what came out of a fit and return the news with it; None where nothing did."""
        made: FitMade | None = self._result_of(job)
        if made is None:
            return None
        now = self._clock.now()
        with write(self._store, FITTER, now) as work:
            store_fit(work, made, now)
        self._seen = news.fitted(made.fingerprint, is_careful=job.gives_way)
        return self._seen

    def _result_of(self, job: Job) -> Any:
        """Return what came out of a job that was waited for; None, and say so, where nothing did."""
        if job.state is JobState.DONE:
            self._job = None
            result, job.result = job.result, None  # large in an old logbook, and who waited keeps the job
            return result
        self._worker.drop(job)
        self.state = FitState(trouble=job.error or "the fit took too long and was given up")
        return None

    def _watch(self) -> None:
        while not self._closing.is_set():
            self._store.changed.wait()
            if self._closing.wait(SETTLE_S):
                return
            try:
                self.catch_up()
            except Exception as error:  # noqa: BLE001 - one bad sum must not end the fitting for good
                self.state = FitState(trouble=str(error))
