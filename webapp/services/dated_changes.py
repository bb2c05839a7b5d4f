"""From the shop's dated changes to what they loosen in the model: which of them came before a fire."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from sqlmodel import Session, col, select

from model.dated_changes import Loosened, loosened_by, touches_of
from webapp.services.heats_seen import COLUMN_OF, first_days
from webapp.store.engine import STEADY
from webapp.store.tables import Fire, Instrument, ShopChange

LISTS_OF_ROLE = {"heat": "heats", "hardness": "testers", "oven": "ovens"}
BY_THE_QUENCH = ("bath", "oven")
BY_THE_READING = ("tester",)
IN_FORCE = "changes in force"


def changes_in_force(session: Session) -> tuple[ShopChange, ...]:
    """Return the changes that loosen something, in the order of their days.

    One from before its thing was first used loosens nothing: there is nothing learnt that it could. A
    page asks for them with every batch it shows, so a session that only reads works them out once.
    """
    if STEADY not in session.info:
        return _in_force(session)
    if IN_FORCE not in session.info:
        session.info[IN_FORCE] = _in_force(session)
    found: tuple[ShopChange, ...] = session.info[IN_FORCE]
    return found


def _in_force(session: Session) -> tuple[ShopChange, ...]:
    rows = session.exec(select(ShopChange).where(col(ShopChange.deleted_at).is_(None))).all()
    if not rows:
        return ()
    firsts = {key: first_days(session, key) for key in {list_of(session, row) for row in rows}}
    known = [
        row for row in rows if row.changed_on > firsts[list_of(session, row)].get(thing_of(row), date.max)
    ]
    return tuple(sorted(known, key=lambda row: (row.changed_on, row.id or 0)))


def changes_up_to_now(session: Session) -> tuple[Loosened, ...]:
    """Return what has been loosened so far in the forge that was lit last: what the next fire runs on.

    A change is never noted for a day that has not come, so that all of them are in the past.
    """
    changes = changes_in_force(session)
    if not changes:
        return ()
    newest = select(Fire).where(col(Fire.deleted_at).is_(None)).order_by(col(Fire.id).desc())
    fire = session.exec(newest.limit(1)).first()
    return (
        *before_fire(changes, date.max, fire.forge_id if fire else None),
        *before_reading(changes, date.max),
    )


def list_of(session: Session, row: ShopChange) -> str:
    """Return the list of the shop that a changed thing stands in, also one that was removed."""
    if row.instrument_id is not None:
        instrument = session.get(Instrument, row.instrument_id)
        return LISTS_OF_ROLE[instrument.role if instrument else "heat"]
    return next(key for key, column in COLUMN_OF.items() if getattr(row, column.key) is not None)


def thing_of(row: ShopChange) -> int:
    """Return the number of what was changed."""
    ids = (row.forge_id, row.instrument_id, row.box_id, row.mix_id, row.bath_id)
    return next(number for number in ids if number is not None)


def before_fire(changes: Sequence[ShopChange], day: date, forge_id: int | None) -> tuple[Loosened, ...]:
    """Return what the changes up to a fire's day loosen in it; None is any forge.

    A change of another forge says nothing of it, and that of a tester goes by the day of the reading.
    """
    so_far = (row for row in changes if row.changed_on <= day and row.forge_id in (None, forge_id))
    return tuple(one for one in _loosened(so_far) if one.constant not in BY_THE_READING)


def before_rework(changes: Sequence[ShopChange], fire: date, day: date) -> tuple[Loosened, ...]:
    """Return what was loosened between a fire and a later day on which a piece was quenched or tempered."""
    since = (row for row in changes if fire < row.changed_on <= day)
    return tuple(one for one in _loosened(since) if one.constant in BY_THE_QUENCH)


def before_reading(changes: Sequence[ShopChange], day: date) -> tuple[Loosened, ...]:
    """Return what was loosened of the testers before the day of a reading."""
    so_far = (row for row in changes if row.changed_on <= day)
    return tuple(one for one in _loosened(so_far) if one.constant in BY_THE_READING)


def of_thing(changes: Sequence[ShopChange], instrument_id: int, day: date) -> tuple[Loosened, ...]:
    """Return what was loosened of one instrument before a day: what a check of it then found it to be."""
    return _loosened(row for row in changes if row.instrument_id == instrument_id and row.changed_on <= day)


def _loosened(rows: Iterable[ShopChange]) -> tuple[Loosened, ...]:
    return tuple(
        one
        for row in rows
        if row.kind in touches_of()
        for one in loosened_by(str(row.id), row.kind, str(thing_of(row)))
    )
