"""The change record in words: who changed what, when, from what to what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, and_, col, or_, select

from webapp.services.batch_rows import BatchRows, row_id
from webapp.services.history_words import Teller
from webapp.services.record_names import KINDS, Named, kind_words, name_of
from webapp.services.showing import Showing
from webapp.store.errors import NotFound
from webapp.store.tables import (
    Batch,
    Change,
    Event,
    GasWeighing,
    HeatNote,
    InstrumentCheck,
    Item,
    PartPrice,
    Photo,
    PlanSupplies,
    Reading,
    Record,
    ShopChange,
    Step,
)

LONGEST_FOLD, LONGEST_PAGE = 60, 400

# what hangs on a record by one of its columns, and is told with it
HANGS_ON: Mapping[str, tuple[tuple[type[Record], Any], ...]] = {
    "part": ((PartPrice, PartPrice.part_id),),
    "plan": ((PlanSupplies, PlanSupplies.plan_id),),
    "item": ((Step, Step.item_id), (Reading, Reading.item_id), (Photo, Photo.item_id)),
    "instrument": (
        (InstrumentCheck, InstrumentCheck.instrument_id),
        (ShopChange, ShopChange.instrument_id),
    ),
    "forge": ((ShopChange, ShopChange.forge_id),),
    "box": ((ShopChange, ShopChange.box_id),),
    "mix": ((ShopChange, ShopChange.mix_id),),
    "bath": ((ShopChange, ShopChange.bath_id),),
    "batch": ((Item, Item.batch_id), (Step, Step.batch_id), (Event, Event.batch_id), (Photo, Photo.batch_id)),
    "fire": ((HeatNote, HeatNote.fire_id), (GasWeighing, GasWeighing.fire_id)),
}
Owned = dict[str, set[int]]


@dataclass(frozen=True)
class ChangeView:
    """One line of the change record."""

    when: str
    device: str
    what: str
    fields: tuple[str, ...]


@dataclass(frozen=True)
class HistoryView:
    """The history of one record and of what hangs on it, newest first."""

    named: Named
    changes: tuple[ChangeView, ...]
    is_cut: bool


def view_history(session: Session, rows: BatchRows, showing: Showing) -> tuple[ChangeView, ...]:
    """Return the latest changes of a batch and all that hangs on it, newest first."""
    return _changes(session, owned_by(session, "batch", row_id(rows.batch)), showing, LONGEST_FOLD)


def history_of(session: Session, table: str, record_id: int, showing: Showing) -> HistoryView:
    """Return the history of a record, one in the bin too, or raise `NotFound`."""
    kind = KINDS.get(table)
    row = session.get(kind, record_id) if kind is not None else None
    if row is None:
        raise NotFound(table, record_id)
    changes = _changes(session, owned_by(session, table, record_id), showing, LONGEST_PAGE + 1)
    return HistoryView(name_of(session, row, showing), changes[:LONGEST_PAGE], len(changes) > LONGEST_PAGE)


def owned_by(session: Session, table: str, record_id: int) -> Owned:
    """Return the ids of a record and of what hangs on it, those in the bin too, by table."""
    owned: Owned = {table: {record_id}}
    waiting = [table]
    if table == "batch":
        batch = session.get(Batch, record_id)
        owned["fire"] = {batch.fire_id} if batch is not None else set()
        waiting.append("fire")
    while waiting:
        name = waiting.pop()
        for kind, column in HANGS_ON.get(name, ()):
            found = set(session.exec(select(kind.id).where(col(column).in_(owned[name]))))
            key = kind.__name__.lower()
            new = {each for each in found if each is not None} - owned.get(key, set())
            if new:
                owned.setdefault(key, set()).update(new)
                waiting.append(key)
    return owned


def _changes(session: Session, owned: Owned, showing: Showing, most: int) -> tuple[ChangeView, ...]:
    same = [
        and_(col(Change.table_name) == table, col(Change.record_id).in_(ids)) for table, ids in owned.items()
    ]
    query = select(Change).where(or_(*same)).order_by(col(Change.id).desc()).limit(most)
    return tell_changes(session, session.exec(query).all(), showing)


def tell_changes(session: Session, changes: Sequence[Change], showing: Showing) -> tuple[ChangeView, ...]:
    """Return lines of the change record in words; those that say nothing of the shop's are left out."""
    held = _rows_of(session, changes)  # while they are held, the session asks for none of them again
    told = tuple(_without_nothing(_view(session, change, showing) for change in changes))
    del held
    return told


def _rows_of(session: Session, changes: Sequence[Change]) -> list[Record]:
    """Return the records that changes speak of, a question to the database for each kind."""
    found: list[Record] = []
    for table in {change.table_name for change in changes} & KINDS.keys():
        kind = KINDS[table]
        ids = {change.record_id for change in changes if change.table_name == table}
        found += session.exec(select(kind).where(col(kind.id).in_(ids))).all()
    return found


def _without_nothing(views: Iterable[ChangeView]) -> Iterable[ChangeView]:
    return (view for view in views if view.fields or not view.what.startswith("changed"))


def _view(session: Session, change: Change, showing: Showing) -> ChangeView:
    kind = KINDS.get(change.table_name)
    row = session.get(kind, change.record_id) if kind is not None else None
    words = change.table_name
    if row is not None and kind is not None:
        words = name_of(session, row, showing).words or kind_words(kind)
    teller = Teller(session, change.table_name, row, showing)
    fields = teller.lines(change.before, change.after) if kind is not None else ()
    is_change = change.action == "changed"
    what = f"{change.action} {words}"
    return ChangeView(showing.moment(change.happened_at), change.device, what, fields if is_change else ())
