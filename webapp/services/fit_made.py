"""A fit as the logbook keeps it: its large parts are text already, which who stores it need not unpack."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.services.fit_job import FitOutcome
from webapp.services.observations import Told
from webapp.store.engine import strict_json


@dataclass(frozen=True)
class FitMade:
    """The mark of what a fit was told; as JSON the readings it used, what it believes, what is said of it."""

    fingerprint: str
    reading_ids: str
    belief: str
    summary: str


def made_of(told: Told, fingerprint: str, outcome: FitOutcome) -> FitMade:
    """Return a fit with the readings it used; the reasons of the readings never told to it stand beside."""
    summary = {**outcome.summary, "left_out": {**told.untold, **outcome.summary["left_out"]}}
    used = [int(key) for key in outcome.summary["used"]]
    texts = (strict_json(part) for part in (used, outcome.belief, summary))
    return FitMade(fingerprint, *texts)
