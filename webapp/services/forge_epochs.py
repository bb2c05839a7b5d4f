"""Rows of a thing that was changed on a day: what it was until then, and what it is since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlmodel import Session

from webapp.services.showing import Showing
from webapp.services.whole_book import by_id
from webapp.store.tables import ShopChange

Days = Mapping[int, date]


def change_days(session: Session) -> dict[int, date]:
    """Return the day of each dated change, by its id."""
    return {key: row.changed_on for key, row in by_id(session, ShopChange).items()}


def epoch_words(
    rows: Sequence[Mapping[str, Any]], days: Days, showing: Showing
) -> dict[tuple[str, str], str]:
    """Return, for each row of a changed thing, the days it speaks of, by its kind and key."""
    things: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for row in rows:
        things[row["kind"], thing_key(row["of"])].append(row["of"])
    words = {}
    for (kind, _), keys in things.items():
        ordered = sorted(keys, key=lambda of: _begins(of, days))
        for place, of in enumerate(ordered):
            ends = _begins(ordered[place + 1], days) if place + 1 < len(ordered) else None
            words[kind, of] = _words(_begins(of, days), ends, showing)
    return words


def thing_key(of: str) -> str:
    """Return the key of a row's thing, whatever changed of it."""
    return of.partition("@")[0]


def _begins(of: str, days: Days) -> date:
    change = of.partition("@")[2]
    return days.get(int(change), date.min) if change.isdecimal() else date.min


def _words(begins: date, ends: date | None, showing: Showing) -> str:
    if begins == date.min:
        return f"until {showing.day(ends)}" if ends is not None else ""
    if ends is None:
        return f"since {showing.day(begins)}"
    return f"{showing.day(begins)} to {showing.day(ends)}"
