"""Finding batches: filters and orders as SQL, in a number of queries that does not grow with the logbook."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, String, cast, func, or_
from sqlmodel import Session, col, select

from webapp.forms.logbook import LogbookQuery
from webapp.store.tables import Batch, Box, Fire, Instrument, Item, Mix, Reading, Step


@dataclass(frozen=True)
class Known:
    """What is found beforehand: the odd fires of the newest fit, and the batches with all words asked for."""

    odd: Mapping[int, str]
    worded: frozenset[int] | None = None


def matching(query: LogbookQuery, known: Known, any_state: bool = False) -> list[ColumnElement[bool]]:
    """Return the conditions that a query sets on batches."""
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
    if query.seal:
        found.append(_closed_with(query.seal))
    found += [_says(line_id, answer) for line_id, answer in query.own_answers]
    if query.aside:
        found.append(_left_out())
    if query.odd:
        found.append(col(Batch.fire_id).in_(list(known.odd)))
    if known.worded is not None:
        found.append(_one_of(known.worded))
    return found


def _one_of(batch_ids: Collection[int]) -> ColumnElement[bool]:
    """Return that a batch is one of many, handed over as one value however many they are."""
    listed = func.json_each(json.dumps(sorted(batch_ids))).table_valued("value")
    return col(Batch.id).in_(select(listed.c.value))


def state_counts(session: Session, query: LogbookQuery, known: Known) -> dict[str, int]:
    """Return how many batches of each state meet everything else that is asked."""
    counted = _with_box(select(col(Batch.state), func.count()), query)
    counted = counted.where(*matching(query, known, any_state=True)).group_by(col(Batch.state))
    return {row[0]: row[1] for row in session.execute(counted)}


def found_ids(
    session: Session, query: LogbookQuery, known: Known, limit: int | None = None, offset: int = 0
) -> list[int]:
    """Return the numbers of a page of batches, or of all, in order."""
    numbered = _with_box(select(col(Batch.id)), query).where(*matching(query, known))
    ordered = _ordered(numbered, query.sort or "newest").limit(limit).offset(offset)
    return list(session.execute(ordered).scalars())


def rows_of(session: Session, ids: Sequence[int]) -> list[tuple[Batch, Box, Mix, Instrument]]:
    """Return batches by their numbers, in that order, with what they ran in, with and by."""
    rows = session.execute(_joined(select(Batch, Box, Mix, Instrument)).where(_one_of(ids)))
    by_id = {row[0].id: (row[0], row[1], row[2], row[3]) for row in rows}
    return [by_id[batch_id] for batch_id in ids]


def _with_box(rows: Any, query: LogbookQuery) -> Select[Any]:
    """Return a query with the box joined to it where the box is asked for."""
    joined: Select[Any] = rows.select_from(Batch)
    return joined.join(Box, col(Box.id) == Batch.box_id) if query.seal else joined


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


def _closed_with(seal: str) -> ColumnElement[bool]:
    """Return that a box was closed with this: as was noted that time, else as it always is."""
    noted = (
        select(func.json_extract(Step.settings, "$.seal"))
        .where(col(Step.batch_id) == Batch.id, col(Step.kind) == "box_in", col(Step.deleted_at).is_(None))
        .limit(1)
        .scalar_subquery()
    )
    return func.coalesce(func.nullif(noted, ""), Box.seal) == seal


def _says(line_id: int, answer: str) -> ColumnElement[bool]:
    """Return that a batch, or a piece in it, says this to a line of the shop's own."""
    pieces = _items(said_to(line_id, Item.own_lines) == answer)
    return or_(said_to(line_id, Batch.own_lines) == answer, col(Batch.id).in_(pieces))


def said_to(line_id: int, own_lines: Any) -> ColumnElement[str]:
    """Return what records say to a line of the shop's own, as text."""
    return cast(func.json_extract(own_lines, f'$."{line_id}"'), String)


def _left_out() -> ColumnElement[bool]:
    """Return that a batch, a piece of it or a reading was set aside."""
    pieces = _items(col(Item.left_out_why) != "")
    readings = (
        select(Item.batch_id)
        .join(Reading, col(Reading.item_id) == Item.id)
        .where(
            col(Reading.left_out_why) != "", col(Reading.deleted_at).is_(None), col(Item.deleted_at).is_(None)
        )
    )
    return or_(col(Batch.left_out_why) != "", col(Batch.id).in_(pieces), col(Batch.id).in_(readings))
