"""Batches: starting one with a tap, planning one, writing up an old one; `again` does one again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlmodel import Session, col, func, select

from webapp.services.batch_rows import get_row, kept, last_of, row_id, take_back
from webapp.services.boxes import box_fits
from webapp.services.items import add_pin, add_plan_part
from webapp.services.own_lines import merged
from webapp.services.step_rules import IN_THE_FIRE, PLANNED, StepRefused, state_of
from webapp.services.steps import StepEntry, shop_zone
from webapp.store.tables import Batch, Box, Fire, Forge, Instrument, Item, Mix, Part, Plan, Step
from webapp.store.unit_of_work import AnyRecord, UnitOfWork


@dataclass(frozen=True)
class BatchEntry:
    """What a batch is started with; `fire_id` joins a fire that another box is in."""

    forge_id: int
    heat_instrument_id: int
    box_id: int
    mix_id: int
    plan_id: int | None = None
    fire_id: int | None = None
    day: date | None = None
    with_pin: bool = True
    note: str = ""
    own_answers: Mapping[str, Any] = field(default_factory=dict)
    own_typed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class WriteUpEntry:
    """An old batch as remembered: what it ran with, and its steps in order, mostly without a time of day."""

    batch: BatchEntry
    steps: tuple[tuple[str, StepEntry], ...]
    part_id: int | None = None
    coupon_size_m: float | None = None
    typed: dict[str, Any] = field(default_factory=dict)


def start_batch(work: UnitOfWork, entry: BatchEntry) -> Batch:
    """Open a batch in the logbook, planned, with its packing list begun."""
    if entry.plan_id is not None and work.get(Plan, entry.plan_id).soak_s <= 0.0:
        raise StepRefused("", "This plan packs nothing, so it starts no batch. Print its sheet instead.")
    work.get(Mix, entry.mix_id)
    batch = work.add(
        Batch(
            number=next_number(work.session),
            state=PLANNED,
            fire_id=row_id(_fire_for(work, entry)),
            box_id=entry.box_id,
            mix_id=entry.mix_id,
            plan_id=entry.plan_id,
            day=entry.day or work.now.astimezone(shop_zone(work)).date(),
            note=entry.note,
            own_lines=merged({}, entry.own_answers),
            typed=dict(entry.own_typed),
        )
    )
    if entry.plan_id is not None:
        add_plan_part(work, row_id(batch), work.get(Plan, entry.plan_id).part_id)
    if entry.with_pin:
        add_pin(work, row_id(batch))
    return batch


def next_number(session: Session) -> int:
    """Return the number after the highest one ever given, also to a batch in the bin."""
    return (session.exec(select(func.max(col(Batch.number)))).one() or 0) + 1


def _fire_for(work: UnitOfWork, entry: BatchEntry) -> Fire:
    """Return the fire a box goes into: a new one, or one with room; refuse a box that does not fit."""
    box = work.get(Box, entry.box_id)
    if entry.fire_id is None:
        forge = work.get(Forge, entry.forge_id)
        refuse_tight(box_fits(forge, [box]))
        work.get(Instrument, entry.heat_instrument_id)
        return work.add(Fire(forge_id=entry.forge_id, heat_instrument_id=entry.heat_instrument_id))
    fire = work.get(Fire, entry.fire_id)
    with_it = kept(work.session, Batch, Batch.fire_id == entry.fire_id)
    if not any(batch.state in (PLANNED, IN_THE_FIRE) for batch in with_it):
        raise StepRefused("fire_id", "That fire is out. Start a fire of its own for this box.")
    boxes = [work.get(Box, batch.box_id) for batch in with_it]
    refuse_tight(box_fits(work.get(Forge, fire.forge_id), [*boxes, box]))
    return fire


def refuse_tight(why: str | None) -> None:
    """Refuse a box that does not stand in its forge."""
    if why is not None:
        raise StepRefused("box_id", why)


def usual_entry(session: Session, plan_id: int | None = None) -> BatchEntry:
    """Return what the shop would start now: the plan's box, mix and heat, else what the last batch used."""
    plan = get_row(session, Plan, plan_id) if plan_id is not None else None
    last = last_of(session, Batch)
    fire = session.get(Fire, last.fire_id) if last else None
    return BatchEntry(
        forge_id=_usual(session, Forge, fire.forge_id if fire else None),
        heat_instrument_id=_usual(
            session,
            Instrument,
            plan.heat_instrument_id if plan else fire.heat_instrument_id if fire else None,
            Instrument.role == "heat",
        ),
        box_id=_usual(session, Box, plan.box_id if plan else last.box_id if last else None),
        mix_id=_usual(session, Mix, plan.mix_id if plan else last.mix_id if last else None),
        plan_id=plan_id,
    )


NEEDED_FIRST = {Forge: "a forge", Instrument: "a way to tell heat", Box: "a box", Mix: "a pack mix"}


def _usual(session: Session, kind: type[AnyRecord], wanted: int | None, *conditions: object) -> int:
    """Return the wanted record if it is still there, else the first of the shop's."""
    rows = kept(session, kind, *conditions)
    if not rows:
        needed = NEEDED_FIRST[kind]
        raise StepRefused(
            "", f"The shop has no {needed.split(maxsplit=1)[1]} yet. Add {needed} on the Shop page first."
        )
    ids = [row_id(row) for row in rows]
    return wanted if wanted in ids else ids[0]


def start_at_once(work: UnitOfWork, plan_id: int | None = None) -> Batch:
    """Start a batch with one tap: from a plan, or with what the last one used."""
    return start_batch(work, usual_entry(work.session, plan_id))


def packed_again(item: Item, batch_id: int) -> Item:
    """Return the same piece in another box, without what happened to it."""
    kept_fields = (
        "kind", "name", "mark", "count", "part_id", "bar_id", "shape", "size_m", "bore_m", "bore_packed",
        "place", "layer", "is_pin", "typed", "steel_mark", "steel_sign", "steel_place",
    )  # fmt: skip
    return Item(batch_id=batch_id, **{name: getattr(item, name) for name in kept_fields})


def write_up(work: UnitOfWork, entry: WriteUpEntry) -> Batch:
    """Put an old batch into the logbook, with the doubt in what is remembered."""
    refuse_day_to_come(entry.batch.day, work.now.astimezone(shop_zone(work)).date())
    batch = start_batch(work, entry.batch)
    batch_id = row_id(batch)
    for order, (kind, step) in enumerate(entry.steps):
        work.add(Step(batch_id=batch_id, kind=kind, order=order, **step.fields()))
    # before its pieces: nobody can cut a mark into them any more, so that none is offered
    work.change(batch, state=state_of([kind for kind, _ in entry.steps]), typed=entry.typed)
    if entry.part_id is not None:
        add_plan_part(work, batch_id, entry.part_id)
    if entry.coupon_size_m is not None:
        _add_round_coupon(work, batch_id, entry)
    return batch


def refuse_day_to_come(day: date | None, today: date) -> None:
    """Refuse a day to come for an old batch."""
    if day is not None and day > today:
        raise StepRefused("day", "That day has not come yet. An old batch has its day in the past.")


def _add_round_coupon(work: UnitOfWork, batch_id: int, entry: WriteUpEntry) -> None:
    """Add the round coupon of an old batch, of the part's bar or else the shop's first one."""
    part = work.get(Part, entry.part_id) if entry.part_id is not None else None
    pin = add_pin(work, batch_id)
    if pin is None or entry.coupon_size_m is None:
        raise StepRefused("coupon_size_m", "The shop has no bar yet. Add one on the Bars page first.")
    work.change(
        pin,
        name="round coupon",
        is_pin=False,
        size_m=entry.coupon_size_m,
        bar_id=part.bar_id if part else pin.bar_id,
    )


def change_batch(work: UnitOfWork, batch_id: int, entry: BatchEntry, version: int | None = None) -> Batch:
    """Put right what a batch ran with: box, mix, forge, heat, day, note."""
    batch = work.get(Batch, batch_id)
    fire = work.get(Fire, batch.fire_id)
    box = work.get(Box, entry.box_id)
    others = [row for row in kept(work.session, Batch, Batch.fire_id == fire.id) if row.id != batch_id]
    boxes = [work.get(Box, other.box_id) for other in others]
    refuse_tight(box_fits(work.get(Forge, entry.forge_id), [*boxes, box]))
    work.get(Mix, entry.mix_id)
    day = entry.day or batch.day
    own = {
        "own_lines": merged(batch.own_lines, entry.own_answers),
        "typed": {**batch.typed, **entry.own_typed},
    }
    work.change(batch, version, box_id=entry.box_id, mix_id=entry.mix_id, day=day, note=entry.note, **own)
    work.change(fire, forge_id=entry.forge_id, heat_instrument_id=entry.heat_instrument_id)
    return batch


def open_fires(session: Session) -> Sequence[tuple[int, list[int]]]:
    """Return the fires that are planned or burning, with the numbers of their batches."""
    batches = kept(session, Batch, col(Batch.state).in_((PLANNED, IN_THE_FIRE)))
    fires: dict[int, list[int]] = {}
    for batch in batches:
        fires.setdefault(batch.fire_id, []).append(batch.number)
    return list(fires.items())


def remove_batch(work: UnitOfWork, batch_id: int, version: int | None = None) -> Batch:
    """Put a batch in the bin; it can be put back."""
    return work.remove(work.get(Batch, batch_id), version)


def put_back_batch(work: UnitOfWork, batch_id: int) -> Batch:
    """Take a batch out of the bin."""
    return take_back(work, Batch, batch_id)
