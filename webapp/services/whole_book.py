"""All batches of the logbook with their rows, in one query a table: what a fit and an export read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

from sqlmodel import Session, select

from webapp.services.batch_rows import BatchRows, in_order, kept, row_id
from webapp.services.dated_changes import changes_in_force
from webapp.store.tables import (
    Batch,
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
    Step,
)

AnyRecord = TypeVar("AnyRecord", bound=Record)
Thing = TypeVar("Thing")
Key = TypeVar("Key", bound=Hashable)


def load_book(session: Session) -> list[BatchRows]:
    """Return every batch that is not in the bin with its rows, oldest first."""
    fires, forges, plans = by_id(session, Fire), by_id(session, Forge), by_id(session, Plan)
    boxes, mixes, instruments = by_id(session, Box), by_id(session, Mix), by_id(session, Instrument)
    parts = by_id(session, Part)
    items = grouped(kept(session, Item), lambda item: item.batch_id)
    steps = kept(session, Step)
    batch_steps = grouped(steps, lambda step: step.batch_id)
    item_steps = grouped(steps, lambda step: step.item_id)
    readings = grouped(kept(session, Reading), lambda reading: reading.item_id)
    notes = grouped(kept(session, HeatNote), lambda note: note.fire_id)
    events = grouped(kept(session, Event), lambda event: event.batch_id)
    batches = kept(session, Batch)
    changes = changes_in_force(session)
    fire_events: defaultdict[int, list[Event]] = defaultdict(list)
    for batch in batches:
        fire_events[batch.fire_id] += events[row_id(batch)]

    def rows_of(batch: Batch) -> BatchRows:
        fire = fires[batch.fire_id]
        own = items[row_id(batch)]
        ids = [row_id(item) for item in own]
        return BatchRows(
            batch=batch,
            fire=fire,
            forge=forges[fire.forge_id],
            box=boxes[batch.box_id],
            mix=mixes[batch.mix_id],
            heat=instruments[fire.heat_instrument_id],
            plan=plans.get(batch.plan_id or 0),
            steps=in_order(batch_steps[batch.id]),
            item_steps={item_id: in_order(item_steps[item_id]) for item_id in ids if item_id in item_steps},
            items=own,
            readings={item_id: readings[item_id] for item_id in ids if item_id in readings},
            heat_notes=notes[batch.fire_id],
            events=events[row_id(batch)],
            parts={item.part_id: parts[item.part_id] for item in own if item.part_id is not None},
            fire_events=fire_events[batch.fire_id],
            changes=changes,
        )

    book = [rows_of(batch) for batch in batches]
    pieces = {row_id(item): (rows, item) for rows in book for item in rows.items}
    for item_id, (rows, item) in pieces.items():
        first_id = item.from_item_id
        if first_id is not None and first_id in pieces and first_id < item_id:
            rows.earlier[item_id] = pieces[first_id]
    return book


def by_id(session: Session, kind: type[AnyRecord]) -> dict[int, AnyRecord]:
    """Return the rows of a table by id, those in the bin too: older records may point to them."""
    return {row_id(row): row for row in session.exec(select(kind))}


def grouped(rows: Iterable[Thing], key: Callable[[Thing], Key]) -> defaultdict[Key, list[Thing]]:
    """Return rows in lists by what they hang on."""
    groups: defaultdict[Key, list[Thing]] = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return groups
