"""How many heats the things of the shop have seen, and when: boxes, pack tins, baths, thermocouples."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Date, func, or_
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from webapp.services.showing import Showing, plural
from webapp.store.tables import Batch, Fire, InstrumentCheck, Item, Reading, ShopChange, Step

COLUMN_OF: dict[str, Any] = {
    "forges": ShopChange.forge_id,
    "heats": ShopChange.instrument_id,
    "boxes": ShopChange.box_id,
    "mixes": ShopChange.mix_id,
    "baths": ShopChange.bath_id,
    "ovens": ShopChange.instrument_id,
    "testers": ShopChange.instrument_id,
}
IN_THE_FIRE: dict[str, Any] = {
    "forges": Fire.forge_id,
    "heats": Fire.heat_instrument_id,
    "boxes": Batch.box_id,
    "mixes": Batch.mix_id,
}
AFTER_THE_FIRE: dict[str, tuple[Any, str]] = {
    "baths": (Step.bath_id, "quench"),
    "ovens": (Step.instrument_id, "temper"),
}
# Things whose heats are worth counting, and what a heat of theirs is called.
COUNTED = {
    "boxes": ("heat", "heats"),
    "mixes": ("heat", "heats"),
    "heats": ("heat", "heats"),
    "baths": ("heat quenched in it", "heats quenched in it"),
}
BEGUN = ("box_in", "soak")


def first_days(session: Session, key: str) -> dict[int, date]:
    """Return the first day of which anything is known of each thing of a list, a check of it counted too."""
    uses = _uses(key)
    firsts: dict[int, date] = dict(_rows(session, _columns(uses.c.thing, func.min(uses.c.day)), uses))
    if COLUMN_OF[key] is ShopChange.instrument_id:
        checks = _columns(InstrumentCheck.instrument_id, InstrumentCheck.checked_on)
        for thing, day in session.execute(checks.where(col(InstrumentCheck.deleted_at).is_(None))):
            firsts[thing] = min(day, firsts.get(thing, day))
    return firsts


def times_used(session: Session, key: str) -> dict[int, int]:
    """Return how often each thing of one list of the shop was used, once a fire."""
    uses = _uses(key)
    return dict(_rows(session, _columns(uses.c.thing, func.count()), uses))


def used_from(session: Session, key: str, days: Mapping[int, date]) -> dict[int, int]:
    """Return how often some things of one list were used on a day of their own or later."""
    if not days:
        return {}
    uses = _uses(key)
    since = or_(*((uses.c.thing == thing) & (uses.c.day >= day) for thing, day in days.items()))
    return dict(_rows(session, _columns(uses.c.thing, func.count()).where(since), uses))


def seen_words(session: Session, key: str, showing: Showing) -> dict[int, str]:
    """Return how many heats each thing of a list has seen, and how many since its newest change, in words."""
    if key not in COUNTED:
        return {}
    newest: dict[int, date] = {}
    column = COLUMN_OF[key]
    rows = _columns(column, ShopChange.changed_on).where(
        col(column).is_not(None), col(ShopChange.deleted_at).is_(None), col(ShopChange.kind) != AS_BEFORE
    )
    for thing, day in session.execute(rows):
        newest[thing] = max(day, newest.get(thing, day))
    counted, since = times_used(session, key), used_from(session, key, newest)

    def words(thing: int) -> str:
        said = plural(counted.get(thing, 0), *COUNTED[key])
        if thing not in newest:
            return said
        return f"{said}, {since.get(thing, 0)} since {showing.day(newest[thing])}"

    return {thing: words(thing) for thing in {*counted, *newest}}


AS_BEFORE = "heat_as_before"
"""The answer that nothing was changed, which starts the watch anew and is no change."""


def _columns(*columns: Any) -> Any:
    """Return a query of columns that are picked by name, of which the checker of types knows nothing."""
    return select_columns(*columns)


def _rows(session: Session, query: Any, uses: Any) -> list[tuple[int, Any]]:
    grouped = query.where(uses.c.thing.is_not(None)).group_by(uses.c.thing)
    return [(thing, value) for thing, value in session.execute(grouped)]


def _uses(key: str) -> Any:
    """Return a query of the uses of a list's things: thing and day, a fire counted once however many boxes.

    The sums are the database's, so that a long logbook is not carried into memory to be counted.
    """
    if key in IN_THE_FIRE:
        return _once_a_fire(_in_fires(IN_THE_FIRE[key]).subquery())
    if key in AFTER_THE_FIRE:
        return _once_a_fire(_after_fires(*AFTER_THE_FIRE[key]).subquery())
    read_with = _columns(
        col(Reading.instrument_id).label("thing"), func.date(Reading.measured_at, type_=Date).label("day")
    )
    return read_with.where(col(Reading.deleted_at).is_(None)).subquery()


def _once_a_fire(uses: Any) -> Any:
    first = func.min(uses.c.day).label("day")
    return _columns(uses.c.thing, first).group_by(uses.c.thing, uses.c.fire).subquery()


def _use(thing: Any) -> Any:
    return _columns(thing.label("thing"), col(Batch.fire_id).label("fire"), col(Batch.day).label("day"))


def _in_fires(column: Any) -> Any:
    begun = select(Step.batch_id).where(col(Step.kind).in_(BEGUN), col(Step.deleted_at).is_(None))
    query = _use(column).join(Fire, Fire.id == Batch.fire_id)
    return query.where(col(Batch.deleted_at).is_(None), col(Batch.id).in_(begun))


def _after_fires(column: Any, kind: str) -> Any:
    """Return quenches or tempers of batches and of single pieces, each with the fire that it came of."""
    done = (Step.kind == kind, col(Step.deleted_at).is_(None), col(Batch.deleted_at).is_(None))
    of_batch = _use(column).join(Batch, col(Batch.id) == Step.batch_id).where(*done)
    of_piece = _use(column).join(Item, Item.id == Step.item_id).join(Batch, col(Batch.id) == Item.batch_id)
    return of_batch.union_all(of_piece.where(*done))
