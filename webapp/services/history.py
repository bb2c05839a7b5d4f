"""The change record of a batch in words: who changed what, when, from what to what."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, and_, col, or_, select

from webapp.services.batch_rows import BatchRows
from webapp.services.showing import Showing, say_duration
from webapp.store.tables import Change, Event, HeatNote, Item, Photo, Reading, Step

LONGEST_HISTORY = 60
TABLE_WORDS = {"batch": "batch", "step": "step", "item": "piece", "heatnote": "temperature", "event": "event"}
UNSHOWN = (
    "typed",
    "settings",
    "details",
    "deleted_at",
    "order",
    "own_path",
    "remedy",
    "life",
    "measured",
    "reading_id",
)


@dataclass(frozen=True)
class ChangeView:
    """One line of the change record."""

    when: str
    device: str
    what: str
    fields: tuple[str, ...]


def view_history(session: Session, rows: BatchRows, showing: Showing) -> tuple[ChangeView, ...]:
    """Return the latest changes of a batch and all that hangs on it, newest first."""
    owned = _owned_ids(session, rows)
    same = [
        and_(col(Change.table_name) == table, col(Change.record_id).in_(ids)) for table, ids in owned.items()
    ]
    query = select(Change).where(or_(*same)).order_by(col(Change.id).desc()).limit(LONGEST_HISTORY)
    return tuple(_view(change, showing) for change in session.exec(query))


def _owned_ids(session: Session, rows: BatchRows) -> dict[str, list[int | None]]:
    """Return the ids of a batch's records, those in the bin too."""
    batch_id = rows.batch.id
    items = list(session.exec(select(Item.id).where(Item.batch_id == batch_id)))
    steps = select(Step.id).where(or_(col(Step.batch_id) == batch_id, col(Step.item_id).in_(items)))
    return {
        "batch": [batch_id],
        "item": items,
        "step": list(session.exec(steps)),
        "reading": list(session.exec(select(Reading.id).where(col(Reading.item_id).in_(items)))),
        "heatnote": list(session.exec(select(HeatNote.id).where(HeatNote.fire_id == rows.fire.id))),
        "photo": list(
            session.exec(
                select(Photo.id).where(or_(col(Photo.batch_id) == batch_id, col(Photo.item_id).in_(items)))
            )
        ),
        "event": list(session.exec(select(Event.id).where(Event.batch_id == batch_id))),
    }


def _view(change: Change, showing: Showing) -> ChangeView:
    named = {**change.before, **change.after}
    subject = TABLE_WORDS.get(change.table_name, change.table_name)
    kind = named.get("kind") or named.get("name") or ""
    words = f"{change.action} {subject} {str(kind).replace('_', ' ')}".rstrip()
    fields = tuple(
        f"{_label(name)}: {_say(name, old, showing)} → {_say(name, change.after.get(name), showing)}"
        for name, old in change.before.items()
        if name not in UNSHOWN
    )
    return ChangeView(showing.moment(change.happened_at), change.device, words, fields)


def _label(name: str) -> str:
    """Return a field's name as words, without its unit or the id behind it."""
    endings = ("_K", "_m", "_id", "_at")
    bare = next((name[: -len(ending)] for ending in endings if name.endswith(ending)), name)
    return bare.replace("_", " ")


def _say(name: str, value: Any, showing: Showing) -> str:
    """Return a kept value in the shop's units."""
    if value in (None, ""):
        return "nothing"
    by_ending: dict[str, Callable[[Any], str]] = {
        "_K": showing.temperature,
        "_m": showing.length,
        "seconds": say_duration,
        "_spread": say_duration,
        "_at": lambda text: showing.moment(datetime.fromisoformat(text)),
        "state": lambda text: str(text).replace("_", " "),
    }
    say = next((say for ending, say in by_ending.items() if name.endswith(ending)), None)
    return say(value) if say else str(value)
