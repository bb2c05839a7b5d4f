"""A copy beside the logbook that stands: what is in each."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime

from webapp.services.condition import COUNTED
from webapp.services.restore import Staged, count_records
from webapp.services.showing import Showing
from webapp.store.engine import Store

KINDS = {
    "backup": "a copy of everything, photos too",
    "database": "the logbook without its photos",
    "tables": "everything as tables, without photos",
    "document": "everything as JSON, without photos",
}
NOTHING = "nothing yet"


@dataclass(frozen=True)
class LookLine:
    """One line of the comparison."""

    label: str
    there: str
    here: str


@dataclass(frozen=True)
class LookView:
    """What a copy is, and its counts beside those of the logbook that stands."""

    name: str
    what: str
    kind: str
    lines: tuple[LookLine, ...]
    missing_photos: int


def view_look(store: Store, staged: Staged, showing: Showing, name: str, what: str) -> LookView:
    """Return a copy that was checked beside the logbook that stands."""
    with store.doors.inside(), closing(sqlite3.connect(f"{store.file.as_uri()}?mode=ro", uri=True)) as here:
        counts, shop, last = count_records(here)
    lines = (
        LookLine("Shop", staged.shop or "none", shop or "none"),
        LookLine("Last change", _moment(staged.last_change, showing), _moment(last, showing)),
        *(
            LookLine(many.capitalize(), str(staged.counts.get(table, 0)), str(counts.get(table, 0)))
            for table, _, many in COUNTED
        ),
    )
    return LookView(name, what, KINDS[staged.kind], lines, staged.missing_photos)


def _moment(text: str, showing: Showing) -> str:
    return showing.moment(datetime.fromisoformat(text)) if text else NOTHING
