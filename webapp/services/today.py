"""Today: what is running, what waits to be measured, what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, func, select

from webapp.services.batch_rows import BatchRows, newest, row_id
from webapp.services.batch_view import STATE_LOOKS
from webapp.services.batches import usual_entry
from webapp.services.logbook import packed_words
from webapp.services.next_piece import next_unread
from webapp.services.reminders import ReminderView, due_now
from webapp.services.run_clock import ClockView, view_clock
from webapp.services.showing import Showing
from webapp.services.step_rules import (
    ACTION_WORDS,
    COOLING,
    HARDENED,
    IN_THE_FIRE,
    MEASURED,
    PLANNED,
    STATE_WORDS,
    StepRefused,
    next_actions,
)
from webapp.services.whole_book import load_book
from webapp.store.tables import Batch, Box, Forge, Instrument, Mix, Part, Plan

MOST_PLANS = 3
MOST_OPEN = 12  # cards of a kind; the logbook lists whatever else was left open


@dataclass(frozen=True)
class BatchCard:
    """A batch that is under way."""

    number: int
    href: str
    state_words: str
    look: str
    packed: str
    box: str
    next_href: str
    next_words: str
    clock: ClockView | None


@dataclass(frozen=True)
class PlanCard:
    """A plan that no batch was started from yet."""

    plan_id: int
    words: str
    href: str


@dataclass(frozen=True)
class TodayView:
    """The first page of the day."""

    running: tuple[BatchCard, ...]
    waiting: tuple[BatchCard, ...]
    planned: tuple[BatchCard, ...]
    plans: tuple[PlanCard, ...]
    measured_count: int
    older_count: int
    is_new: bool
    start_words: str
    start_trouble: str
    due: tuple[ReminderView, ...]


def view_today(session: Session, now: datetime, showing: Showing) -> TodayView:
    """Return what is running, what waits and what could be started."""
    states = ((IN_THE_FIRE, COOLING), (HARDENED,), (PLANNED,))
    opened = [row for some in states for row in newest(session, Batch, MOST_OPEN, col(Batch.state).in_(some))]
    loaded = load_book(session, {row_id(batch) for batch in opened})
    cards = [(rows.batch.state, _card(rows, now, showing)) for rows in loaded]
    counted = _counted(session)
    start_words, start_trouble = _start(session)
    return TodayView(
        running=tuple(card for state, card in cards if state in (IN_THE_FIRE, COOLING)),
        waiting=tuple(card for state, card in cards if state == HARDENED),
        planned=tuple(card for state, card in cards if state == PLANNED),
        plans=_plans(session),
        measured_count=counted.get(MEASURED, 0),
        older_count=sum(counted.get(state, 0) for some in states for state in some) - len(opened),
        is_new=not counted,
        start_words=start_words,
        start_trouble=start_trouble,
        due=due_now(session, showing.local(now).date(), showing),
    )


def _card(rows: BatchRows, now: datetime, showing: Showing) -> BatchCard:
    batch = rows.batch
    actions = next_actions(batch.state, rows.kinds)
    has_readings = any(rows.readings.values())
    unread = next_unread(rows.items, {item for item, own in rows.readings.items() if own})
    measure = unread if batch.state == HARDENED and not has_readings else None
    return BatchCard(
        number=batch.number,
        href=f"/batches/{batch.id}",
        state_words="to measure" if batch.state == HARDENED else STATE_WORDS[batch.state],
        look=STATE_LOOKS[batch.state],
        packed=packed_words(rows.items) or "nothing packed yet",
        box=f"{rows.box.name}, {rows.mix.name}",
        next_href=measure.href if measure else f"/batches/{batch.id}",
        next_words="Measure a coupon" if measure else ACTION_WORDS[actions[0]],
        clock=view_clock(rows, now, showing),
    )


def _counted(session: Session) -> dict[str, int]:
    """Return how many batches are in each state."""
    states = select(Batch.state, func.count()).where(col(Batch.deleted_at).is_(None)).group_by(Batch.state)
    return dict(session.exec(states).all())


def _plans(session: Session) -> tuple[PlanCard, ...]:
    """Return the newest plans that no batch was started from."""
    used = select(Batch.plan_id).where(col(Batch.deleted_at).is_(None), col(Batch.plan_id).is_not(None))
    query = (
        select(Plan.id, Part.name)
        .join(Part, col(Part.id) == Plan.part_id)
        .where(col(Plan.deleted_at).is_(None), Plan.soak_s > 0.0, col(Plan.id).not_in(used))
        .order_by(col(Plan.id).desc())
    )
    rows = session.exec(query.limit(MOST_PLANS))
    return tuple(PlanCard(plan_id or 0, name, f"/plans/{plan_id}") for plan_id, name in rows)


def _start(session: Session) -> tuple[str, str]:
    """Return what a batch started with one tap would use, or what is missing for it."""
    try:
        entry = usual_entry(session)
    except StepRefused as problem:
        return "", problem.message
    rows = (
        session.get(Box, entry.box_id),
        session.get(Mix, entry.mix_id),
        session.get(Forge, entry.forge_id),
        session.get(Instrument, entry.heat_instrument_id),
    )
    return ", ".join(row.name for row in rows if row is not None), ""
