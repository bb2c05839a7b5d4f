"""Do it again: a part, a piece or a batch once more, with all its settings and none of its results."""

from __future__ import annotations

from typing import Any

from sqlmodel import Session

from webapp.services.batch_rows import kept, row_id, steps_of
from webapp.services.batches import BatchEntry, packed_again, start_batch
from webapp.services.items import next_mark
from webapp.services.marking import cut_again
from webapp.services.own_lines import copied
from webapp.services.step_rules import PLANNED
from webapp.store.tables import Batch, Fire, Item, Part, PartPrice
from webapp.store.unit_of_work import UnitOfWork

KEPT_BY_THE_BOOK = ("id", "version", "created_at", "updated_at", "deleted_at")


def do_again(work: UnitOfWork, batch_id: int) -> Batch:
    """Start a batch with all settings and pieces of an earlier one, and none of its results."""
    new = _started_as(work, work.get(Batch, batch_id))
    for item in kept(work.session, Item, Item.batch_id == batch_id):
        work.add(cut_again(work.session, _packed(work.session, item, row_id(new))))
    return new


def piece_again(work: UnitOfWork, item_id: int) -> Item:
    """Pack a piece like another: into a batch that waits with its box and mix, else into one made as its."""
    old = work.get(Item, item_id)
    batch = work.get(Batch, old.batch_id)
    waiting = _waiting(work.session, batch)
    new = _packed(work.session, old, row_id(waiting or _started_as(work, batch)))
    others = kept(work.session, Item, Item.batch_id == new.batch_id)
    if any(item.mark == new.mark for item in others):
        new.mark = next_mark(work.session, new.batch_id)
    return work.add(cut_again(work.session, new))


def part_again(work: UnitOfWork, part_id: int) -> Part:
    """Write down a part like another one, under a name of its own; its prices come along."""
    old = work.get(Part, part_id)
    names = {part.name for part in kept(work.session, Part)}
    number = next(number for number in range(2, len(names) + 3) if f"{old.name} ({number})" not in names)
    own = copied(work.session, "part", old)
    new = work.add(Part(**_settings(old) | {"name": f"{old.name} ({number})", "own_lines": own}))
    for price in kept(work.session, PartPrice, PartPrice.part_id == part_id)[-1:]:
        work.add(PartPrice(**_settings(price) | {"part_id": row_id(new)}))
    return new


def _packed(session: Session, item: Item, batch_id: int) -> Item:
    """Return the same piece in another box, with what of its own lines comes along."""
    new = packed_again(item, batch_id)
    new.own_lines = copied(session, "piece", item)
    return new


def _settings(row: Part | PartPrice) -> dict[str, Any]:
    """Return what was typed of a record, without what the book adds to it."""
    return {name: value for name, value in row.model_dump().items() if name not in KEPT_BY_THE_BOOK}


def _started_as(work: UnitOfWork, old: Batch) -> Batch:
    """Start a batch that runs as an earlier one did, with nothing in its box yet."""
    fire = work.get(Fire, old.fire_id)
    entry = BatchEntry(
        forge_id=fire.forge_id,
        heat_instrument_id=fire.heat_instrument_id,
        box_id=old.box_id,
        mix_id=old.mix_id,
        with_pin=False,
    )
    # one that had no fire itself is still made as the one before it
    was_lit = bool(steps_of(work.session, batch_id=row_id(old)))
    before = row_id(old) if was_lit or old.as_batch_id is None else old.as_batch_id
    own = copied(work.session, "batch", old)
    return work.change(start_batch(work, entry), plan_id=old.plan_id, as_batch_id=before, own_lines=own)


def _waiting(session: Session, batch: Batch) -> Batch | None:
    """Return the batch itself while it is planned, else the newest planned one with its box and mix."""
    if batch.state == PLANNED:
        return batch
    same = (Batch.box_id == batch.box_id, Batch.mix_id == batch.mix_id)
    return next(reversed(kept(session, Batch, Batch.state == PLANNED, *same)), None)
