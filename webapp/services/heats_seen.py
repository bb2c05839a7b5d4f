"""How many heats the things of the shop have seen, and when: boxes, pack tins, baths, thermocouples."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy import or_
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from webapp.services.showing import Showing, plural
from webapp.store.tables import Batch, Fire, InstrumentCheck, Item, Reading, ShopChange, Step

Days = dict[int, list[date]]
"""By the number of a thing: the day of each fire that it saw, in order."""

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


def days_of_use(session: Session, key: str) -> Days:
    """Return when each thing of one list of the shop was used, one day a fire."""
    if key in IN_THE_FIRE:
        return _by_thing(_fires(session, IN_THE_FIRE[key]))
    if key in AFTER_THE_FIRE:
        return _by_thing(_after_fires(session, *AFTER_THE_FIRE[key]))
    return _by_thing(_read_with(session))


def first_days(session: Session, key: str) -> dict[int, date]:
    """Return the first day of which anything is known of each thing of a list, a check of it counted too."""
    firsts = {thing: days[0] for thing, days in days_of_use(session, key).items()}
    if COLUMN_OF[key] is ShopChange.instrument_id:
        checks = _columns(InstrumentCheck.instrument_id, InstrumentCheck.checked_on)
        for thing, day in session.execute(checks.where(col(InstrumentCheck.deleted_at).is_(None))):
            firsts[thing] = min(day, firsts.get(thing, day))
    return firsts


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
    days = days_of_use(session, key)
    things = {*days, *newest}
    return {thing: _words(days.get(thing, []), newest.get(thing), COUNTED[key], showing) for thing in things}


AS_BEFORE = "heat_as_before"
"""The answer that nothing was changed, which starts the watch anew and is no change."""


def _words(days: Sequence[date], since: date | None, words: tuple[str, str], showing: Showing) -> str:
    counted = plural(len(days), *words)
    if since is None:
        return counted
    return f"{counted}, {sum(day >= since for day in days)} since {showing.day(since)}"


def _columns(*columns: Any) -> Any:
    """Return a query of columns that are picked by name, of which the checker of types knows nothing."""
    return select_columns(*columns)


def _by_thing(rows: Iterable[tuple[Any, Any, date]]) -> Days:
    """Return days in order by thing, a fire counted once however many boxes stood in it."""
    first: dict[tuple[int, Any], date] = {}
    for thing, fire, day in rows:
        if thing is not None:
            first[thing, fire] = min(day, first.get((thing, fire), day))
    days: defaultdict[int, list[date]] = defaultdict(list)
    for (thing, _), day in sorted(first.items(), key=lambda pair: pair[1]):
        days[thing].append(day)
    return dict(days)


def _fires(session: Session, column: Any) -> Iterable[tuple[Any, Any, date]]:
    begun = select(Step.batch_id).where(col(Step.kind).in_(BEGUN), col(Step.deleted_at).is_(None))
    query = (
        _columns(column, Batch.fire_id, Batch.day)
        .join(Fire, Fire.id == Batch.fire_id)
        .where(col(Batch.deleted_at).is_(None), col(Batch.id).in_(begun))
    )
    return [tuple(row) for row in session.execute(query)]


def _after_fires(session: Session, column: Any, kind: str) -> Iterable[tuple[Any, Any, date]]:
    """Return quenches or tempers of batches and of single pieces, each with the fire that it came of."""
    query = (
        _columns(column, Batch.fire_id, Batch.day)
        .join(Item, Item.id == Step.item_id, isouter=True)
        .join(Batch, or_(col(Batch.id) == Step.batch_id, col(Batch.id) == Item.batch_id))
        .where(Step.kind == kind, col(Step.deleted_at).is_(None), col(Batch.deleted_at).is_(None))
    )
    return [tuple(row) for row in session.execute(query)]


def _read_with(session: Session) -> Iterable[tuple[Any, Any, date]]:
    query = select(Reading.instrument_id, Reading.id, Reading.measured_at).where(
        col(Reading.deleted_at).is_(None)
    )
    return [(thing, reading, moment.date()) for thing, reading, moment in session.exec(query)]
