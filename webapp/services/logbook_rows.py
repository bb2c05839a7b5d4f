"""Batches of the logbook as rows of plain numbers, for the list, its export and the interface."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from sqlalchemy import func
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from webapp.forms.logbook import PAGE_ROWS, LogbookQuery
from webapp.services.batch_rows import in_order, kept, row_id
from webapp.services.fitting import newest_summary
from webapp.services.logbook_query import Known, counted_readings, found_ids, rows_of, state_counts
from webapp.services.odd_fires import odd_fires
from webapp.services.search_words import batches_asked_for
from webapp.services.whole_book import grouped
from webapp.store.tables import Batch, Bath, Box, Instrument, Item, Mix, Reading, Step

ROWS_AT_ONCE = 50
Ends = tuple[float, float]


@dataclass(frozen=True)
class LogRow:
    """One batch with what was read in it; depths [m] and hardness [HRC] from least to greatest."""

    batch: Batch
    box: Box
    mix: Mix
    heat: Instrument
    bath: Bath | None
    soak: Step | None
    items: Sequence[Item]
    depth_m: Ends | None
    hardness_HRC: Ends | None
    readings: int
    odd: str


@dataclass(frozen=True)
class LogPage:
    """One page of the logbook, and how many batches there are in all."""

    rows: tuple[LogRow, ...]
    counts: Mapping[str, int]
    total: int
    page: int
    pages: int


def find_batches(session: Session, query: LogbookQuery, page_rows: int = PAGE_ROWS) -> LogPage:
    """Return a page of the batches that are asked for; a page past the end is the last one."""
    known = _known(session, query)
    counts = state_counts(session, query, known)
    total = counts.get(query.state, 0) if query.state else sum(counts.values())
    pages = max(1, -(-total // page_rows))
    page = min(query.page, pages)
    ids = found_ids(session, query, known, page_rows, (page - 1) * page_rows)
    return LogPage(_with_details(session, rows_of(session, ids), known.odd), counts, total, page, pages)


def every_batch(session: Session, query: LogbookQuery) -> Iterator[LogRow]:
    """Give all batches that are asked for, in the order asked for; some at a time are held."""
    known = _known(session, query)
    ids = iter(found_ids(session, query, known))
    while some := list(islice(ids, ROWS_AT_ONCE)):
        yield from _with_details(session, rows_of(session, some), known.odd)


def _known(session: Session, query: LogbookQuery) -> Known:
    """Return what is found before batches are asked for."""
    newest = newest_summary(session)
    odd = odd_fires(newest.summary) if newest is not None else {}
    return Known(odd, batches_asked_for(session, query.q) if query.q.strip() else None)


def _with_details(
    session: Session, found: Sequence[tuple[Batch, Box, Mix, Instrument]], odd: Mapping[int, str]
) -> tuple[LogRow, ...]:
    """Return batches with their pieces, soak, bath and readings: one query for each."""
    ids = [row_id(batch) for batch, *_ in found]
    items = grouped(kept(session, Item, col(Item.batch_id).in_(ids)), lambda item: item.batch_id)
    steps = in_order(kept(session, Step, col(Step.batch_id).in_(ids), col(Step.kind).in_(("soak", "quench"))))
    by_kind = {(step.batch_id, step.kind): step for step in reversed(steps)}
    baths = {row.id: row for row in session.exec(select(Bath))}
    ends, counted = _read_in(session, ids)
    rows = []
    for batch, box, mix, heat in found:
        quench = by_kind.get((batch.id, "quench"))
        rows.append(
            LogRow(
                batch=batch,
                box=box,
                mix=mix,
                heat=heat,
                bath=baths.get(quench.bath_id) if quench else None,
                soak=by_kind.get((batch.id, "soak")),
                items=items[row_id(batch)],
                depth_m=ends.get((row_id(batch), "depth", "m")),
                hardness_HRC=ends.get((row_id(batch), "hardness", "HRC")),
                readings=counted[row_id(batch)],
                odd=odd.get(batch.fire_id, ""),
            )
        )
    return tuple(rows)


def _read_in(
    session: Session, batch_ids: Sequence[int]
) -> tuple[dict[tuple[int, str, str], Ends], defaultdict[int, int]]:
    """Return least and greatest reading by batch, kind and unit, and how many readings a batch has."""
    what = (col(Item.batch_id), col(Reading.kind), col(Reading.unit))
    value = col(Reading.value)
    query = (
        select_columns(*what, func.min(value), func.max(value), func.count())
        .select_from(Reading)
        .join(Item, col(Item.id) == Reading.item_id)
        .where(col(Item.batch_id).in_(batch_ids), *counted_readings())
        .group_by(*what)
    )
    ends: dict[tuple[int, str, str], Ends] = {}
    counted: defaultdict[int, int] = defaultdict(int)
    for batch_id, kind, unit, low, high, count in session.execute(query):
        counted[batch_id] += count
        if low is not None:
            ends[batch_id, kind, unit] = (low, high)
    return ends, counted
