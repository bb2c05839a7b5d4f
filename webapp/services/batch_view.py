"""A batch as its page shows it: the clock, the next thing to do, its pieces, its time line, its history."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, select

from webapp.services.batch_rows import BatchRows, kept, load_batch, row_id
from webapp.services.cautions import cautions_for
from webapp.services.gas_weighings import gas_used
from webapp.services.history import ChangeView, view_history
from webapp.services.item_view import ActionView, ItemView, view_item
from webapp.services.own_lines import say_own
from webapp.services.photo_view import AlbumView, view_album
from webapp.services.photos import Owner, photos_of_batch
from webapp.services.pin_drawn import PinView, view_pin
from webapp.services.run_clock import ClockView, view_clock
from webapp.services.run_screen import mark_of
from webapp.services.settings_of import say_settings, settings_of
from webapp.services.showing import Showing, say_duration
from webapp.services.soak_pauses import open_pause, pauses_of
from webapp.services.step_rules import (
    ACTION_WORDS,
    COOLING,
    GIVEN_UP,
    HARDENED,
    IN_THE_FIRE,
    MEASURED,
    PLANNED,
    STATE_WORDS,
    next_actions,
)
from webapp.services.timeline import LineView, view_timeline
from webapp.services.way_in import WayInView, ways_in
from webapp.store.tables import Bar, Batch, Part, Plan

WAY = (PLANNED, IN_THE_FIRE, COOLING, HARDENED, MEASURED)
STATE_LOOKS = {
    PLANNED: "",
    IN_THE_FIRE: "hot",
    COOLING: "wait",
    HARDENED: "wait",
    MEASURED: "done",
    GIVEN_UP: "bad",
}


@dataclass(frozen=True)
class Twin:
    """Another box in the same fire."""

    words: str
    href: str


@dataclass(frozen=True)
class PlanView:
    """The plan of a batch in one line, and where it is."""

    words: str
    href: str


@dataclass(frozen=True)
class BatchView:
    """One batch with its page."""

    batch_id: int
    version: int
    number: int
    state: str
    state_words: str
    look: str
    way: tuple[str, ...]
    way_now: int
    day: str
    ran_with: tuple[tuple[str, str], ...]
    clock: ClockView | None
    actions: tuple[ActionView, ...]
    items: tuple[ItemView, ...]
    ways_in: tuple[WayInView, ...]
    lines: tuple[LineView, ...]
    album: AlbumView
    twins: tuple[Twin, ...]
    plan: PlanView | None
    as_before: PlanView | None
    note: str
    given_up_why: str
    set_aside: str
    is_over: bool
    can_note_heat: bool
    readings_missing: bool
    history: tuple[ChangeView, ...]
    is_soaking: bool
    fire_is_out: bool
    pin: PinView | None
    mark: str

    @property
    def href(self) -> str:
        """Return the address of the batch's page."""
        return f"/batches/{self.batch_id}"


def view_batch(session: Session, batch_id: int, now: datetime, showing: Showing) -> BatchView:
    """Return one batch as its page shows it."""
    rows = load_batch(session, batch_id)
    batch = rows.batch
    bars = {bar.id: bar.name for bar in session.exec(select(Bar))}
    items = tuple(view_item(rows, item, bars.get(item.bar_id, ""), showing) for item in rows.items)
    return BatchView(
        batch_id=batch_id,
        version=batch.version,
        number=batch.number,
        state=batch.state,
        state_words=STATE_WORDS[batch.state],
        look=STATE_LOOKS[batch.state],
        way=tuple(STATE_WORDS[state] for state in WAY),
        way_now=WAY.index(batch.state) if batch.state in WAY else -1,
        day=showing.day(batch.day),
        ran_with=(
            *_ran_with(rows),
            *gas_used(session, batch.fire_id, showing),
            *say_own(rows.own_lines, "batch", batch),
        ),
        clock=view_clock(rows, now, showing),
        actions=_actions(rows),
        items=items,
        ways_in=() if "quench" in rows.kinds or batch.state == GIVEN_UP else ways_in(rows.items),
        lines=view_timeline(rows, showing, photos_of_batch(session, batch_id)),
        album=view_album(session, Owner(batch_id=batch_id), showing),
        twins=_twins(session, batch),
        plan=_plan(session, rows, showing),
        as_before=_as_before(rows, showing),
        note=batch.note,
        given_up_why=batch.given_up_why,
        set_aside=batch.left_out_why,
        is_over=batch.state in (MEASURED, GIVEN_UP),
        can_note_heat=batch.state == IN_THE_FIRE,
        readings_missing=not any(item.readings for item in items),
        history=view_history(session, rows, showing),
        is_soaking=batch.state == IN_THE_FIRE and "soak" in rows.kinds,
        fire_is_out=batch.state == IN_THE_FIRE and open_pause(pauses_of(rows.fire_events)) is not None,
        pin=view_pin(rows, showing),
        mark=mark_of(rows, now),
    )


def _ran_with(rows: BatchRows) -> tuple[tuple[str, str], ...]:
    return (
        ("Box", rows.box.name),
        ("Mix", rows.mix.name),
        ("Forge", rows.forge.name),
        ("Heat known by", rows.heat.name),
    )


def _actions(rows: BatchRows) -> tuple[ActionView, ...]:
    """Return what may be done next with the batch, the likeliest first."""
    return tuple(
        ActionView(
            action,
            ACTION_WORDS[action],
            f"/batches/{rows.batch.id}/steps/{action}",
            cautions_for(action),
        )
        for action in next_actions(rows.batch.state, rows.kinds)
    )


def _twins(session: Session, batch: Batch) -> tuple[Twin, ...]:
    others = kept(session, Batch, Batch.fire_id == batch.fire_id)
    return tuple(
        Twin(f"Batch {other.number}", f"/batches/{other.id}") for other in others if other.id != batch.id
    )


def _plan(session: Session, rows: BatchRows, showing: Showing) -> PlanView | None:
    plan = rows.plan
    if plan is None:
        return None
    part = session.get(Part, plan.part_id)
    name = part.name if part else "part"
    return PlanView(f"{name}: {'; '.join(_planned(plan, rows, showing))}", f"/plans/{row_id(plan)}")


def _as_before(rows: BatchRows, showing: Showing) -> PlanView | None:
    """Return what was done in the batch that this one repeats."""
    before = rows.as_batch
    if before is None:
        return None
    told = settings_of(rows, rows.as_steps)
    bath = rows.bath_names.get(told.bath_id or 0, "")
    done = "; ".join(say_settings(told, bath, showing))
    words = f"batch {before.number}: {done}" if done else f"batch {before.number}, which had no fire yet"
    return PlanView(words, f"/batches/{before.id}")


def _planned(plan: Plan, rows: BatchRows, showing: Showing) -> Iterator[str]:
    """Yield what a plan asks for, in the order it is done."""
    yield f"{say_duration(plan.soak_s)} at {showing.temperature(plan.temperature_K)}"
    if plan.reheat_K is not None:
        minutes = f", {say_duration(plan.reheat_s)}" if plan.reheat_s else ""
        yield f"reheat to {showing.temperature(plan.reheat_K)}{minutes}"
    if plan.bath_id in rows.bath_names:
        yield f"quench in {rows.bath_names[plan.bath_id]}"
    if plan.temper_K is not None:
        hours = f", {say_duration(plan.temper_s)}" if plan.temper_s else ""
        yield f"temper at {showing.temperature(plan.temper_K)}{hours}"
