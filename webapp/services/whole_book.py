"""Batches of the logbook with their rows, in one query a table however many they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlmodel import Session, col, select

from webapp.services.batch_rows import BatchRows, in_order, kept, row_id
from webapp.services.dated_changes import changes_in_force
from webapp.store.engine import STEADY
from webapp.store.tables import (
    Batch,
    Bath,
    Box,
    Event,
    Fire,
    Forge,
    HeatNote,
    Instrument,
    Item,
    Mix,
    Part,
    Plan,
    Reading,
    Record,
    ShopChange,
    Step,
)

LISTS = "lists of the shop"
AnyRecord = TypeVar("AnyRecord", bound=Record)
Thing = TypeVar("Thing")
Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True)
class _Asked:
    """Which batches are read: all of them, or some, so that only what hangs on these is looked for."""

    session: Session
    is_whole: bool

    def kept(self, kind: type[AnyRecord], column: Any, ids: Collection[int | None]) -> list[AnyRecord]:
        """Return the records that hang on some others and are not in the bin, oldest first."""
        return kept(self.session, kind, *(() if self.is_whole else (col(column).in_(ids),)))

    def named(self, kind: type[AnyRecord], ids: Iterable[int | None]) -> dict[int, AnyRecord]:
        """Return records that others point to, by id, those in the bin too."""
        if self.is_whole:
            return by_id(self.session, kind)
        wanted = {one for one in ids if one is not None}
        rows = self.session.exec(select(kind).where(col(kind.id).in_(wanted))) if wanted else ()
        return {row_id(row): row for row in rows}


@dataclass(frozen=True)
class _Things:
    """What batches point to, by id."""

    forges: Mapping[int, Forge]
    boxes: Mapping[int, Box]
    mixes: Mapping[int, Mix]
    instruments: Mapping[int, Instrument]
    parts: Mapping[int, Part]
    fires: Mapping[int, Fire]
    plans: Mapping[int, Plan]
    before: Mapping[int, Batch]
    bath_names: dict[int, str]
    heat_names: dict[int, str]
    changes: tuple[ShopChange, ...]


@dataclass(frozen=True)
class _Hanging:
    """What hangs on batches and their pieces, by the id of what it hangs on."""

    items: Mapping[int, list[Item]]
    batch_steps: Mapping[int | None, list[Step]]
    item_steps: Mapping[int | None, list[Step]]
    readings: Mapping[int, list[Reading]]
    notes: Mapping[int, list[HeatNote]]
    events: Mapping[int, list[Event]]
    fire_events: Mapping[int, list[Event]]


def load_book(session: Session, batch_ids: Collection[int] | None = None) -> list[BatchRows]:
    """Return every batch that is not in the bin with its rows, or some of them, oldest first."""
    asked = _Asked(session, batch_ids is None)
    batches = asked.kept(Batch, Batch.id, batch_ids or ())
    things = _things_of(asked, batches)
    hanging = _hanging_on(asked, batches, things)
    book = [_rows(batch, things, hanging) for batch in batches]
    _tell_earlier(session, book)
    return book


def _things_of(asked: _Asked, batches: list[Batch]) -> _Things:
    instruments = of_shop(asked.session, Instrument)
    return _Things(
        of_shop(asked.session, Forge),
        of_shop(asked.session, Box),
        of_shop(asked.session, Mix),
        instruments,
        of_shop(asked.session, Part),
        asked.named(Fire, (batch.fire_id for batch in batches)),
        asked.named(Plan, (batch.plan_id for batch in batches)),
        asked.named(Batch, (batch.as_batch_id for batch in batches)),
        {key: bath.name for key, bath in of_shop(asked.session, Bath).items()},
        {key: instrument.name for key, instrument in instruments.items()},
        changes_in_force(asked.session),
    )


def _hanging_on(asked: _Asked, batches: list[Batch], things: _Things) -> _Hanging:
    ids = [row_id(batch) for batch in batches]
    items = asked.kept(Item, Item.batch_id, ids)
    item_ids = [row_id(item) for item in items]
    steps = asked.kept(Step, Step.batch_id, [*ids, *things.before])
    own_steps = steps if asked.is_whole else asked.kept(Step, Step.item_id, item_ids)
    fires = [batch.fire_id for batch in batches]
    in_fires = batches if asked.is_whole else asked.kept(Batch, Batch.fire_id, fires)
    events = grouped(
        asked.kept(Event, Event.batch_id, [batch.id for batch in in_fires]), lambda event: event.batch_id
    )
    fire_events: defaultdict[int, list[Event]] = defaultdict(list)
    for batch in in_fires:
        fire_events[batch.fire_id] += events[row_id(batch)]
    return _Hanging(
        grouped(items, lambda item: item.batch_id),
        grouped(steps, lambda step: step.batch_id),
        grouped(own_steps, lambda step: step.item_id),
        grouped(asked.kept(Reading, Reading.item_id, item_ids), lambda reading: reading.item_id),
        grouped(asked.kept(HeatNote, HeatNote.fire_id, fires), lambda note: note.fire_id),
        events,
        fire_events,
    )


def _rows(batch: Batch, things: _Things, hanging: _Hanging) -> BatchRows:
    fire = things.fires[batch.fire_id]
    own = hanging.items.get(row_id(batch), [])
    ids = [row_id(item) for item in own]
    before = things.before.get(batch.as_batch_id or 0)
    return BatchRows(
        batch=batch,
        fire=fire,
        forge=things.forges[fire.forge_id],
        box=things.boxes[batch.box_id],
        mix=things.mixes[batch.mix_id],
        heat=things.instruments[fire.heat_instrument_id],
        plan=things.plans.get(batch.plan_id or 0),
        steps=in_order(hanging.batch_steps.get(batch.id, [])),
        item_steps={key: in_order(hanging.item_steps[key]) for key in ids if key in hanging.item_steps},
        items=own,
        readings={key: hanging.readings[key] for key in ids if key in hanging.readings},
        heat_notes=hanging.notes.get(batch.fire_id, []),
        events=hanging.events.get(row_id(batch), []),
        bath_names=things.bath_names,
        heat_names=things.heat_names,
        fire_events=hanging.fire_events.get(batch.fire_id, []),
        parts={item.part_id: things.parts[item.part_id] for item in own if item.part_id is not None},
        as_batch=before,
        as_steps=in_order(hanging.batch_steps.get(before.id, [])) if before else [],
        changes=things.changes,
    )


def _tell_earlier(session: Session, book: list[BatchRows]) -> None:
    """Let pieces that went back into a box know the batch they came out of."""
    pieces = {row_id(item): (rows, item) for rows in book for item in rows.items}
    came = {key: item.from_item_id for key, (_, item) in pieces.items() if item.from_item_id}
    elsewhere = [first for first in came.values() if first not in pieces]
    if elsewhere:
        query = select(Item.batch_id).where(col(Item.id).in_(elsewhere), col(Item.deleted_at).is_(None))
        others = load_book(session, set(session.exec(query)))
        pieces |= {row_id(item): (rows, item) for rows in others for item in rows.items}
    for key, first in came.items():
        if first in pieces and first < key:
            pieces[key][0].earlier[key] = pieces[first]


def by_id(session: Session, kind: type[AnyRecord]) -> dict[int, AnyRecord]:
    """Return the rows of a table by id, those in the bin too: older records may point to them."""
    return {row_id(row): row for row in session.exec(select(kind))}


def of_shop(session: Session, kind: type[AnyRecord]) -> dict[int, AnyRecord]:
    """Return a list of the shop as `by_id` does; a session that only reads reads it once."""
    if STEADY not in session.info:
        return by_id(session, kind)
    lists: dict[type[Record], Any] = session.info.setdefault(LISTS, {})
    if kind not in lists:
        lists[kind] = by_id(session, kind)
    found: dict[int, AnyRecord] = lists[kind]
    return found


def grouped(rows: Iterable[Thing], key: Callable[[Thing], Key]) -> defaultdict[Key, list[Thing]]:
    """Return rows in lists by what they hang on."""
    groups: defaultdict[Key, list[Thing]] = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return groups
