"""Parts and coupons in a box: packing them, and what one of them went through on its own."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session

from webapp.services.batch_rows import aware, begun, kept, row_id, steps_of, take_back
from webapp.services.box_room import why_not_in
from webapp.services.marking import BY_SIZE, give_mark
from webapp.services.steel_marks import LETTERS
from webapp.services.step_rules import StepRefused, check_moment, next_item_actions, next_rework_actions
from webapp.services.steps import StepEntry, noted_moment
from webapp.store.tables import Bar, Batch, Box, Item, Part, Step
from webapp.store.unit_of_work import UnitOfWork

PIN_NAME = "standard pin"
PIN_DIAMETER_M = 0.010  # a common rod, quick to reach the box's heat; the shop's own habit may differ


@dataclass(frozen=True)
class ItemEntry:
    """One part or coupon as its form tells it, in SI."""

    kind: str
    name: str
    bar_id: int
    shape: str
    size_m: float
    bore_m: float | None = None
    bore_packed: bool = False
    mark: str = ""
    steel_mark: str = BY_SIZE
    steel_sign: str = ""
    steel_place: str = ""
    count: int = 1
    part_id: int | None = None
    place: str = "middle"
    layer: str = ""
    note: str = ""
    typed: dict[str, Any] = field(default_factory=dict)
    own_lines: dict[str, Any] = field(default_factory=dict)


def add_item(work: UnitOfWork, batch_id: int, entry: ItemEntry) -> Item:
    """Put a part or a coupon on a batch's packing list; a mark is given where none was typed."""
    _refuse_too_large(work, work.get(Batch, batch_id), entry)
    work.get(Bar, entry.bar_id)
    mark = entry.mark or next_mark(work.session, batch_id)
    refuse_twin(mark, _letters_in(work.session, batch_id))
    item = Item(batch_id=batch_id, **vars(replace(entry, mark=mark)))
    return work.add(give_mark(work.session, item, entry.steel_mark, entry.steel_sign))


def change_item(work: UnitOfWork, item_id: int, entry: ItemEntry, version: int | None = None) -> Item:
    """Put right what lay in the box, and where."""
    item = work.get(Item, item_id)
    mark = entry.mark or item.mark
    refuse_twin(mark, _letters_in(work.session, item.batch_id, item_id))
    work.get(Bar, entry.bar_id)
    _refuse_too_large(work, work.get(Batch, item.batch_id), entry)
    fields = vars(replace(entry, mark=mark))
    asked = Item(id=item_id, batch_id=item.batch_id, **fields)
    give_mark(work.session, asked, entry.steel_mark, entry.steel_sign)
    fields |= {"steel_mark": asked.steel_mark, "steel_sign": asked.steel_sign}
    return work.change(item, version, **fields)


def add_pin(work: UnitOfWork, batch_id: int) -> Item | None:
    """Put the standard pin on the packing list, from the shop's first bar; none while there is no bar."""
    bars = kept(work.session, Bar)
    if not bars:
        return None
    mark = next_mark(work.session, batch_id)
    bar_id = row_id(bars[0])
    pin = Item(
        batch_id=batch_id,
        kind="coupon",
        name=PIN_NAME,
        mark=mark,
        bar_id=bar_id,
        shape="rod",
        size_m=PIN_DIAMETER_M,
        is_pin=True,
    )
    return work.add(give_mark(work.session, pin))


def add_plan_part(work: UnitOfWork, batch_id: int, part_id: int) -> Item:
    """Put the part that a plan is for on the packing list."""
    part = work.get(Part, part_id)
    return add_item(work, batch_id, part_entry(part))


def part_entry(part: Part) -> ItemEntry:
    """Return a part as it lies in a box."""
    return ItemEntry(
        kind="part",
        name=part.name,
        bar_id=part.bar_id,
        shape=part.shape,
        size_m=part.size_m,
        bore_m=part.bore_m,
        bore_packed=part.bore_packed,
        part_id=row_id(part),
        typed={name: part.typed[name] for name in ("size_m", "bore_m") if name in part.typed},
    )


def next_mark(session: Session, batch_id: int) -> str:
    """Return the first letter that no item of this batch bears; numbers after the letters."""
    return free_letter(_letters_in(session, batch_id))


def free_letter(taken: Collection[str]) -> str:
    """Return the first letter that is not taken."""
    marks: list[str] = [*LETTERS, *(str(number) for number in range(1, len(taken) + 2))]
    return next(mark for mark in marks if mark not in taken)


def _refuse_too_large(work: UnitOfWork, batch: Batch, entry: ItemEntry) -> None:
    part = work.get(Part, entry.part_id) if entry.part_id is not None else None
    refuse_too_large(work.get(Box, batch.box_id), entry, part)


def refuse_too_large(box: Box, entry: ItemEntry, part: Part | None = None) -> None:
    """Refuse a piece that does not go into its batch's box."""
    why = why_not_in(box, entry.shape, entry.size_m, part.length_m if part else None)
    if why is not None:
        raise StepRefused("part_id" if part else "size_m", why)


def _letters_in(session: Session, batch_id: int, but: int | None = None) -> set[str]:
    return {item.mark for item in kept(session, Item, Item.batch_id == batch_id) if item.id != but}


def refuse_twin(mark: str, taken: Collection[str]) -> None:
    """Refuse the letter of another piece in the same box."""
    if mark in taken:
        raise StepRefused(
            "mark", f"Another piece in this box is marked {mark} already. Give it its own mark."
        )


def remove_item(work: UnitOfWork, item_id: int, version: int | None = None) -> Item:
    """Strike an item off the packing list; it can be put back."""
    return work.remove(work.get(Item, item_id), version)


def put_back_item(work: UnitOfWork, item_id: int) -> Item:
    """Put an item back on the packing list."""
    return take_back(work, Item, item_id)


def record_item_step(
    work: UnitOfWork, item_id: int, action: str, entry: StepEntry, version: int | None = None
) -> Item:
    """Note what was done to one item that goes its own way."""
    item = work.get(Item, item_id)
    own = steps_of(work.session, item_id=item_id)
    in_box = steps_of(work.session, batch_id=item.batch_id)
    if action not in actions_of(item, own, in_box):
        raise StepRefused("", "This was noted already, or comes too early. Look at the piece's page again.")
    work.change(item, version, own_path=item.own_path or item.life == 1)
    if action == "drawn":
        _note_drawn(work, item, in_box, entry)
        return item
    before = own if item.own_path else [*in_box, *own]
    at = entry.at or noted_moment(work, before, entry)
    check_moment(at, work.now, begun(before), insisted=entry.insisted)
    order, life = len(own), item.life
    work.add(Step(item_id=item_id, kind=action, order=order, life=life, started_at=at, **entry.fields()))
    return item


def actions_of(item: Item, own: Sequence[Step], in_box: Sequence[Step]) -> tuple[str, ...]:
    """Return what may be done next with one piece: on its way with the batch, or to put it right."""
    if item.scrapped_why:
        return ()
    kinds = [step.kind for step in own if step.life == item.life]
    if item.life > 1:
        return next_rework_actions(str(item.remedy.get("way", "")), kinds)
    return next_item_actions(kinds, [step.kind for step in in_box])


def _note_drawn(work: UnitOfWork, item: Item, in_box: Sequence[Step], entry: StepEntry) -> None:
    """Note that an item left the box on its own, or stayed with it and is treated apart from then on."""
    settings = dict(entry.settings)
    then = settings.pop("then", "quench")
    at = _drawn_at(work, in_box, entry, then)
    drawn = StepEntry(settings={"then": then}, seconds=entry.seconds, typed=entry.typed, note=entry.note)
    item_id = row_id(item)
    work.add(Step(item_id=item_id, kind="drawn", order=0, started_at=at, **drawn.fields()))
    if then == "quench":
        quench = StepEntry(bath_id=entry.bath_id, settings=settings)
        work.add(Step(item_id=item_id, kind="quench", order=1, started_at=at, **quench.fields()))


def _drawn_at(work: UnitOfWork, in_box: Sequence[Step], entry: StepEntry, then: str) -> datetime | None:
    """Return when an item left the box; None where only the length of its soak is known."""
    soak = next(step for step in in_box if step.kind == "soak")
    box_out = next((step for step in in_box if step.kind == "box_out"), None)
    if then == "with_box":
        if box_out is None:
            raise StepRefused("then", "The box is still in the fire. Note first that it came out.")
        return box_out.started_at
    if entry.seconds is not None:
        if soak.seconds is not None and entry.seconds > soak.seconds:
            raise StepRefused("seconds", "That is longer than the whole soak of the box.")
        return None
    at = entry.at or work.now
    check_moment(
        at, work.now, begun(step for step in in_box if step.kind != "box_out"), insisted=entry.insisted
    )
    if box_out is not None and box_out.started_at is not None and at > aware(box_out.started_at):
        raise StepRefused("at", "The box was out of the fire by then. Pick that it stayed with the box.")
    return at


def follow_batch(work: UnitOfWork, item_id: int, version: int | None = None) -> Item:
    """Let an item follow the batch again; its own steps go to the bin."""
    item = work.get(Item, item_id)
    steps = steps_of(work.session, item_id=item_id)
    if any(step.life > 1 for step in steps):
        raise StepRefused("", "It was put right since. Take those steps back first.")
    for step in steps:
        work.remove(step)
    return work.change(item, version, own_path=False)
