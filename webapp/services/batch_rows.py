"""The rows of a batch, read in one go: its fire, steps, items, readings, notes and events."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from typing import Any

from sqlmodel import Session, col, select

from webapp.services.dated_changes import changes_in_force
from webapp.services.step_rules import Began
from webapp.store.engine import STEADY
from webapp.store.errors import NotFound
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
    OwnLine,
    Part,
    Plan,
    Reading,
    Record,
    ShopChange,
    Step,
)
from webapp.store.unit_of_work import AnyRecord, UnitOfWork

HELD = "rows held"
"""What a session that only reads has looked up by number: held, so that it is found and not read again."""


@dataclass(frozen=True)
class BatchRows:
    """One batch and everything that hangs on it, removed records left out."""

    batch: Batch
    fire: Fire
    forge: Forge
    box: Box
    mix: Mix
    heat: Instrument
    plan: Plan | None
    steps: list[Step]
    item_steps: dict[int, list[Step]]
    items: list[Item]
    readings: dict[int, list[Reading]]
    heat_notes: list[HeatNote]
    events: list[Event]
    bath_names: dict[int, str] = field(default_factory=dict)
    heat_names: dict[int, str] = field(default_factory=dict)
    fire_events: list[Event] = field(default_factory=list)
    """What happened in any box of the fire: a burner that goes out leaves all of them cold."""
    earlier: dict[int, tuple[BatchRows, Item]] = field(default_factory=dict)
    """By item: the same piece in the batch it came out of, for those that went back into a box."""
    parts: dict[int, Part] = field(default_factory=dict)
    """The parts that its items are, by id."""
    as_batch: Batch | None = None
    """The batch that it is made as, and `as_steps` what was done then."""
    as_steps: list[Step] = field(default_factory=list)
    own_lines: list[OwnLine] = field(default_factory=list)
    """The shop's own lines, about whatever."""
    changes: tuple[ShopChange, ...] = ()
    """The shop's dated changes that loosen something, of any day."""

    @property
    def kinds(self) -> list[str]:
        """Return the kinds of the batch's own steps, in order."""
        return [step.kind for step in self.steps]


def get_row(session: Session, kind: type[AnyRecord], record_id: int) -> AnyRecord:
    """Return a record that is not in the bin, or raise `NotFound`."""
    row = session.get(kind, record_id)
    if row is None or row.deleted_at is not None:
        raise NotFound(kind.__name__.lower(), record_id)
    if STEADY in session.info:
        session.info.setdefault(HELD, []).append(row)
    return row


def take_back(work: UnitOfWork, kind: type[AnyRecord], record_id: int) -> AnyRecord:
    """Take a record out of the bin; one that is not in it stays as it is."""
    row = work.session.get(kind, record_id)
    if row is None:
        raise NotFound(kind.__name__.lower(), record_id)
    return work.put_back(row) if row.deleted_at else row


def kept(session: Session, kind: type[AnyRecord], *conditions: object) -> list[AnyRecord]:
    """Return the records of one table that meet the conditions and are not in the bin, oldest first."""
    query = _all_kept(kind)
    for condition in conditions:
        query = query.where(condition)
    return list(session.exec(query))


@cache
def _all_kept(kind: type[AnyRecord]) -> Any:
    """Return the query of a whole table; to build it anew for each question takes as long as the answer."""
    return select(kind).where(col(kind.deleted_at).is_(None)).order_by(col(kind.id))


def load_batch(session: Session, batch_id: int) -> BatchRows:
    """Return a batch with all its rows, or raise `NotFound`."""
    batch = get_row(session, Batch, batch_id)
    fire = _of(session, Fire, batch.fire_id)
    items = kept(session, Item, Item.batch_id == batch_id)
    item_ids = [row_id(item) for item in items]
    before = session.get(Batch, batch.as_batch_id) if batch.as_batch_id else None
    return BatchRows(
        batch=batch,
        fire=fire,
        forge=_of(session, Forge, fire.forge_id),
        box=_of(session, Box, batch.box_id),
        mix=_of(session, Mix, batch.mix_id),
        heat=_of(session, Instrument, fire.heat_instrument_id),
        plan=session.get(Plan, batch.plan_id) if batch.plan_id else None,
        steps=in_order(kept(session, Step, Step.batch_id == batch_id)),
        item_steps=_by_item(in_order(kept(session, Step, col(Step.item_id).in_(item_ids)))),
        items=items,
        readings=_by_item(kept(session, Reading, col(Reading.item_id).in_(item_ids))),
        heat_notes=kept(session, HeatNote, HeatNote.fire_id == fire.id),
        events=kept(session, Event, Event.batch_id == batch_id),
        bath_names={row_id(bath): bath.name for bath in session.exec(select(Bath))},
        heat_names={row_id(one): one.name for one in session.exec(select(Instrument))},
        fire_events=_events_of_fire(session, fire),
        earlier={row_id(item): found for item in items if (found := _earlier(session, item)) is not None},
        parts={item.part_id: _of(session, Part, item.part_id) for item in items if item.part_id is not None},
        as_batch=before,
        as_steps=in_order(kept(session, Step, Step.batch_id == before.id)) if before else [],
        own_lines=kept(session, OwnLine),
        changes=changes_in_force(session),
    )


def _earlier(session: Session, item: Item) -> tuple[BatchRows, Item] | None:
    """Return the piece an item was before, with its batch; None if it was none or is in the bin."""
    first = session.get(Item, item.from_item_id) if item.from_item_id else None
    if first is None or first.deleted_at is not None or row_id(first) >= row_id(item):
        return None
    batch = session.get(Batch, first.batch_id)
    if batch is None or batch.deleted_at is not None:
        return None
    return load_batch(session, first.batch_id), first


def _events_of_fire(session: Session, fire: Fire) -> list[Event]:
    batches = select(Batch.id).where(Batch.fire_id == fire.id, col(Batch.deleted_at).is_(None))
    return kept(session, Event, col(Event.batch_id).in_(batches))


def _of(session: Session, kind: type[AnyRecord], record_id: int) -> AnyRecord:
    """Return a record that another one points to, even if it was put in the bin since."""
    row = session.get(kind, record_id)
    if row is None:
        raise NotFound(kind.__name__.lower(), record_id)
    return row


def _by_item(rows: Iterable[AnyRecord]) -> dict[int, list[AnyRecord]]:
    grouped: dict[int, list[AnyRecord]] = {}
    for row in rows:
        grouped.setdefault(row.item_id, []).append(row)  # type: ignore[attr-defined]
    return grouped


def in_order(steps: list[Step]) -> list[Step]:
    """Return steps in the order they were done."""
    return sorted(steps, key=lambda step: (step.order, step.id or 0))


def row_id(row: Record) -> int:
    """Return the id of a saved row."""
    if row.id is None:
        raise TypeError(f"{type(row).__name__} was not saved yet")
    return row.id


def newest(session: Session, kind: type[AnyRecord], most: int, *conditions: object) -> list[AnyRecord]:
    """Return so many records of a table that are not in the bin, the newest first."""
    query = select(kind).where(col(kind.deleted_at).is_(None))
    for condition in conditions:
        query = query.where(condition)  # type: ignore[arg-type]
    return list(session.exec(query.order_by(col(kind.id).desc()).limit(most)))


def last_of(session: Session, kind: type[AnyRecord], *conditions: object) -> AnyRecord | None:
    """Return the newest record of a table that is not in the bin."""
    return next(iter(newest(session, kind, 1, *conditions)), None)


def steps_of(session: Session, batch_id: int | None = None, item_id: int | None = None) -> list[Step]:
    """Return the steps of a batch or of one item, in order."""
    owner = Step.batch_id == batch_id if batch_id is not None else Step.item_id == item_id
    return in_order(kept(session, Step, owner))


def begun(steps: Iterable[Step]) -> list[Began]:
    """Return when each step began, as the order rules want it."""
    return [Began(step.kind, step.started_at and aware(step.started_at)) for step in steps]


def aware(moment: datetime) -> datetime:
    """Return a stored moment with its zone; the store keeps UTC."""
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def own_steps(rows: BatchRows, item: Item) -> list[Step]:
    """Return the steps an item went through outside the batch's; none when it follows the batch.

    What was done to put it right afterwards is not among them: see `rework_steps`.
    """
    return first_life(rows.item_steps.get(row_id(item), [])) if item.own_path else []


def first_life(steps: Iterable[Step]) -> list[Step]:
    """Return the steps of a piece as it came of its batch."""
    return [step for step in steps if step.life == 1]


def rework_steps(rows: BatchRows, item: Item) -> list[Step]:
    """Return what was done to put an item right, outside a box, in order."""
    return [step for step in rows.item_steps.get(row_id(item), []) if step.life > 1]


def steps_of_piece(rows: BatchRows, item: Item) -> list[Step]:
    """Return the steps an item went through, its batch's or its own, and what put it right since."""
    return [*(own_steps(rows, item) if item.own_path else rows.steps), *rework_steps(rows, item)]


def path_kinds(rows: BatchRows, item: Item) -> list[str]:
    """Return the kinds of step an item has been through, its own or the batch's."""
    if not item.own_path:
        return rows.kinds
    own = [step.kind for step in own_steps(rows, item)]
    return [*(kind for kind in rows.kinds if kind in ("box_in", "soak")), *own]


def path_kinds_of(session: Session, item: Item) -> list[str]:
    """Return the kinds of step an item has been through, read for one item only."""
    in_box = [step.kind for step in steps_of(session, batch_id=item.batch_id)]
    if not item.own_path:
        return in_box
    own = [step.kind for step in first_life(steps_of(session, item_id=row_id(item)))]
    return [*(kind for kind in in_box if kind in ("box_in", "soak")), *own]


def latest_life(session: Session, item: Item) -> int:
    """Return the life that a reading taken now would be of: that of the last thing done to the item."""
    return max((step.life for step in steps_of(session, item_id=row_id(item))), default=1)


def kinds_in_life(session: Session, item: Item, life: int) -> list[str]:
    """Return the kinds of step an item has been through in one life; the first is that of its batch."""
    if life == 1:
        return path_kinds_of(session, item)
    return [step.kind for step in steps_of(session, item_id=row_id(item)) if step.life == life]


def began_of(session: Session, item: Item) -> list[Began]:
    """Return when the box of an item went into the fire, which everything read off it comes after."""
    return begun(step for step in steps_of(session, batch_id=item.batch_id) if step.kind == "box_in")
