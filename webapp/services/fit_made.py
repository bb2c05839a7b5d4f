"""A fit as the logbook keeps it: its large parts are text already, which who stores it need not unpack."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FitMade:
    """The mark of what a fit was told; as JSON the readings it used, what it believes, what is said of it."""

    fingerprint: str
    reading_ids: str
    belief: str
    summary: str
