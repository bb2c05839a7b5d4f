"""Finding batches: filters and orders as SQL, in a number of queries that does not grow with the logbook."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, or_
from sqlmodel import Session, col, select

from webapp.forms.logbook import LARGEST_ID, LogbookQuery
from webapp.services.steel_marks import find_marks
from webapp.store.tables import Batch, Box, Event, Fire, Instrument, Item, Mix, Reading, Step

ESCAPE = "\\"


def matching(
    query: LogbookQuery, odd: Mapping[int, str], any_state: bool = False
) -> list[ColumnElement[bool]]:
    """Return the conditions that a query sets on batches; `odd` holds the ids of odd fires."""
    found: list[ColumnElement[bool]] = [col(Batch.deleted_at).is_(None)]
    plain = (
        (col(Batch.state), None if any_state else query.state),
        (col(Batch.box_id), query.box),
        (col(Batch.mix_id), query.mix),
    )
    found += [column == wanted for column, wanted in plain if wanted]
    if query.bar:
        found.append(col(Batch.id).in_(_items(col(Item.bar_id) == query.bar)))
    if query.bath:
        found.append(_quenched_in(query.bath))
    if query.odd:
        found.append(col(Batch.fire_id).in_(list(odd)))
    return [*found, *_asked_for(query.q)]


def _asked_for(text: str) -> list[ColumnElement[bool]]:
    """Return what a search asks for: marks in the steel, as 3 notches, and for the rest every word of it."""
    asked = []
    for mark, words in find_marks(text):
        text = text.replace(words, " ", 1)
        bears = _items(col(Item.steel_mark) == mark.kind, col(Item.steel_sign) == mark.sign)
        asked.append(or_(col(Batch.id).in_(bears), and_(*(_holds(word) for word in words.split()))))
    return [*asked, *(_holds(word) for word in text.split())]


def state_counts(session: Session, query: LogbookQuery, odd: Mapping[int, str]) -> dict[str, int]:
    """Return how many batches of each state meet everything else that is asked."""
    counted = _joined(select(col(Batch.state), func.count())).where(*matching(query, odd, any_state=True))
    return {row[0]: row[1] for row in session.execute(counted.group_by(col(Batch.state)))}


def found_rows(
    session: Session, query: LogbookQuery, odd: Mapping[int, str], limit: int | None, offset: int
) -> list[tuple[Batch, Box, Mix, Instrument]]:
    """Return a page of batches with what they ran in, with and by."""
    rows = _joined(select(Batch, Box, Mix, Instrument)).where(*matching(query, odd))
    rows = _ordered(rows, query.sort or "newest").limit(limit).offset(offset)
    return [(row[0], row[1], row[2], row[3]) for row in session.execute(rows)]


def _joined(rows: Any) -> Select[Any]:
    joined: Select[Any] = (
        rows.select_from(Batch)
        .join(Box, col(Box.id) == Batch.box_id)
        .join(Mix, col(Mix.id) == Batch.mix_id)
        .join(Fire, col(Fire.id) == Batch.fire_id)
        .join(Instrument, col(Instrument.id) == Fire.heat_instrument_id)
    )
    return joined


def _ordered(rows: Select[Any], order: str) -> Select[Any]:
    newest = (col(Batch.day).desc(), col(Batch.number).desc())
    if order == "oldest":
        return rows.order_by(col(Batch.day), col(Batch.number))
    if order == "number":
        return rows.order_by(col(Batch.number))
    if order not in MEASURES:
        return rows.order_by(*newest)
    kind, unit, is_down = MEASURES[order]
    best = _greatest(kind, unit)
    value = best.c.value.desc() if is_down else best.c.value
    return rows.outerjoin(best, best.c.batch_id == Batch.id).order_by(value.nulls_last(), *newest)


def _greatest(kind: str, unit: str) -> Any:
    """Return the greatest reading of a kind in each batch."""
    greatest: Any = (
        select(col(Item.batch_id).label("batch_id"), func.max(Reading.value).label("value"))
        .join(Reading, col(Reading.item_id) == Item.id)
        .where(col(Reading.kind) == kind, *counted_readings())
        .group_by(col(Item.batch_id))
    )
    return (greatest.where(col(Reading.unit) == unit) if unit else greatest).subquery()


MEASURES = {
    "deepest": ("depth", "", True),
    "shallowest": ("depth", "", False),
    "hardest": ("hardness", "HRC", True),
    "softest": ("hardness", "HRC", False),
}


def counted_readings() -> tuple[ColumnElement[bool], ...]:
    """Return the conditions on readings that stand: not in the bin, not set aside."""
    return (
        col(Reading.deleted_at).is_(None),
        col(Item.deleted_at).is_(None),
        col(Reading.left_out_why) == "",
        col(Item.left_out_why) == "",
    )


def _items(*conditions: ColumnElement[bool]) -> Any:
    return select(Item.batch_id).where(col(Item.deleted_at).is_(None), *conditions)


def _quenched_in(bath_id: int) -> ColumnElement[bool]:
    quench = (col(Step.kind) == "quench", col(Step.bath_id) == bath_id, col(Step.deleted_at).is_(None))
    together = select(Step.batch_id).where(*quench, col(Step.batch_id).is_not(None))
    alone = select(Item.batch_id).join(Step, col(Step.item_id) == Item.id).where(*quench)
    return or_(col(Batch.id).in_(together), col(Batch.id).in_(alone))


def _holds(word: str) -> ColumnElement[bool]:
    """Return that a batch, or what hangs on it, holds a word in its notes or names."""
    plain = word.replace(ESCAPE, ESCAPE * 2).replace("%", f"{ESCAPE}%").replace("_", f"{ESCAPE}_")

    def says(*columns: Any) -> ColumnElement[bool]:
        return or_(*(col(column).like(f"%{plain}%", escape=ESCAPE) for column in columns))

    anywhere = [
        says(Batch.note, Batch.given_up_why, Batch.left_out_why, Box.name, Mix.name, Instrument.name),
        col(Batch.id).in_(_items(says(Item.name, Item.mark, Item.note, Item.left_out_why))),
        col(Batch.id).in_(
            select(Event.batch_id).where(col(Event.deleted_at).is_(None), says(Event.kind, Event.note))
        ),
    ]
    number = word.lstrip("#")
    if number.isdecimal() and number.isascii():
        anywhere.append(col(Batch.number) == min(int(number), LARGEST_ID))
    return or_(*anywhere)
