"""The fit of a logbook, as the compute worker runs it: it is told the folder, and reads the book itself.

So the server never holds the book. What comes out is stored by the server, which alone writes.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from webapp.services.fit_job import fit_again
from webapp.services.fit_made import FitMade, made_of
from webapp.services.fit_news import News, fingerprint_of, news_of
from webapp.services.fitting import newest_belief
from webapp.services.kept_file import KEPT_FILE
from webapp.services.observations import Told, tell
from webapp.store.engine import read_beside

# What was told when it was last looked for news, by its mark, until the fit that follows takes it.
_LOOKED_AT: dict[str, Told] = {}


def look_for_news(folder: Path, now: datetime) -> News:
    """Read the logbook and return whether it tells a fit anything new."""
    _LOOKED_AT.clear()
    with _uncollected(), read_beside(folder) as session:
        told = tell(session, now)
        news = news_of(session, told)
    if news.asks_for_a_fit:
        _LOOKED_AT[news.fingerprint] = told
    return news


def fit_book(folder: Path, now: datetime, fingerprint: str, careful: bool = False) -> FitMade:
    """Fit a logbook, beginning from the fit that stands.

    fingerprint : of the news; where this process knows no such book any more, it reads it as it is now, and
        what comes out bears the mark of what was read
    """
    told = _LOOKED_AT.pop(fingerprint, None)
    with _uncollected(), read_beside(folder) as session:
        if told is None:
            told = tell(session, now)
            fingerprint = fingerprint_of(told)
        previous = newest_belief(session)
    file = folder / KEPT_FILE
    outcome = fit_again(told.observations, told.checks, previous, told.jobs, told.sides, careful, file)
    return made_of(told, fingerprint, outcome)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Let the collector of garbage rest: nearly all that is read stays, and looking at it took two fifths."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
