"""Putting a piece right, set going: a second box, steps of its own, or the scrap bin; all undoable."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sqlmodel import Session

from webapp.services.batch_rows import row_id, steps_of
from webapp.services.batches import BatchEntry, packed_again, start_batch, usual_entry
from webapp.services.items import add_pin
from webapp.services.step_rules import StepRefused
from webapp.store.tables import Batch, Box, Fire, Forge, Instrument, Item, Mix, Record
from webapp.store.unit_of_work import UnitOfWork

SCRAPPED = "It was scrapped. Take that back first."
BEGUN = "Something was done to it since. Take those steps back first."


def back_in_the_box(
    work: UnitOfWork, item_id: int, remedy: dict[str, Any], words: str, version: int | None
) -> Batch:
    """Plan a batch with this piece in it, run as its first one was, with a fresh pin beside it."""
    item = _not_scrapped(work, item_id)
    work.change(item, version)
    batch = start_batch(work, replace(_as_before(work.session, item), note=words))
    again = packed_again(item, row_id(batch))
    again.from_item_id, again.remedy, again.own_lines = item_id, remedy, dict(item.own_lines)
    work.add(again)
    add_pin(work, row_id(batch))
    return batch


def _as_before(session: Session, item: Item) -> BatchEntry:
    """Return what the piece's batch ran with, as far as the shop still has it; the usual for the rest."""
    usual = usual_entry(session)
    batch = session.get(Batch, item.batch_id)
    fire = session.get(Fire, batch.fire_id) if batch else None
    if batch is None or fire is None:
        return replace(usual, with_pin=False)
    return BatchEntry(
        forge_id=_there(session, Forge, fire.forge_id, usual.forge_id),
        heat_instrument_id=_there(session, Instrument, fire.heat_instrument_id, usual.heat_instrument_id),
        box_id=_there(session, Box, batch.box_id, usual.box_id),
        mix_id=_there(session, Mix, batch.mix_id, usual.mix_id),
        with_pin=False,
    )


def _there(session: Session, kind: type[Record], record_id: int, usual_id: int) -> int:
    """Return a record's id where the shop still has it, else the usual one."""
    row = session.get(kind, record_id)
    return usual_id if row is None or row.deleted_at is not None else record_id


def begin_rework(work: UnitOfWork, item_id: int, remedy: dict[str, Any], version: int | None) -> Item:
    """Begin another life of a piece outside a box; its steps are offered on its page from now on."""
    item = _not_scrapped(work, item_id)
    is_begun = item.life > 1 and not _steps_of_life(work, item)
    return work.change(item, version, life=item.life if is_begun else item.life + 1, remedy=remedy)


def take_rework_back(work: UnitOfWork, item_id: int, version: int | None) -> Item:
    """Let a piece stand as it did before putting it right was set out."""
    item = work.get(Item, item_id)
    if item.life == 1 or _steps_of_life(work, item):
        raise StepRefused("", BEGUN)
    return work.change(item, version, life=item.life - 1, remedy={})


def scrap(work: UnitOfWork, item_id: int, why: str, version: int | None) -> Item:
    """Note that a piece was thrown away; its readings still teach."""
    return work.change(work.get(Item, item_id), version, scrapped_why=why)


def take_scrap_back(work: UnitOfWork, item_id: int, version: int | None) -> Item:
    """Take it out of the scrap bin again."""
    return work.change(work.get(Item, item_id), version, scrapped_why="")


def _not_scrapped(work: UnitOfWork, item_id: int) -> Item:
    item = work.get(Item, item_id)
    if item.scrapped_why:
        raise StepRefused("", SCRAPPED)
    return item


def _steps_of_life(work: UnitOfWork, item: Item) -> bool:
    return any(step.life == item.life for step in steps_of(work.session, item_id=row_id(item)))
