"""The fit of a logbook, as the compute worker runs it: it is told the folder, and reads the book itself.

So the server never holds the book. What comes out is stored by the server, which alone writes.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from webapp.collector import uncollected
from webapp.services.fit_job import FitOutcome, fit_again
from webapp.services.fit_made import FitMade
from webapp.services.fit_news import News, fingerprint_of, news_of
from webapp.services.fitting import newest_belief
from webapp.services.kept_file import KEPT_FILE
from webapp.services.observations import Told, tell
from webapp.store.engine import read_beside, strict_json

# What was told when it was last looked for news, by its mark, until the fit that follows takes it.
_LOOKED_AT: dict[str, Told] = {}


def look_for_news(folder: Path, now: datetime) -> News:
    """Read the logbook and return whether it tells a fit anything new."""
    _LOOKED_AT.clear()
    # nearly all that is read stays, and looking at it for garbage took two fifths
    with uncollected(), read_beside(folder) as session:
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
    with uncollected(), read_beside(folder) as session:
        if told is None:
            told = tell(session, now)
            fingerprint = fingerprint_of(told)
        previous = newest_belief(session)
    file = folder / KEPT_FILE
    outcome = fit_again(told.observations, told.checks, previous, told.jobs, told.sides, careful, file)
    return made_of(told, fingerprint, outcome)


def made_of(told: Told, fingerprint: str, outcome: FitOutcome) -> FitMade:
    """Return a fit with the readings it used; the reasons of the readings never told to it stand beside."""
    summary = {**outcome.summary, "left_out": {**told.untold, **outcome.summary["left_out"]}}
    used = [int(key) for key in outcome.summary["used"]]
    texts = (strict_json(part) for part in (used, outcome.belief, summary))
    return FitMade(fingerprint, *texts)
