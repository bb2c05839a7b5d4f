"""Bringing in an old table: tried on a copy first, then put in the logbook whole, or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import datetime
from hashlib import sha256
from typing import cast

from sqlalchemy import create_engine
from sqlalchemy.pool import StaticPool
from sqlmodel import Session

from webapp.services.batch_rows import kept, row_id
from webapp.services.batches import write_up
from webapp.services.item_entries import coupon_entry
from webapp.services.items import add_item
from webapp.services.old_columns import LABELS
from webapp.services.old_rows import HowRead, OldRow, Problem
from webapp.services.reading_entries import first_entries
from webapp.services.readings import add_readings
from webapp.services.step_entries import write_up_entry
from webapp.services.step_rules import StepRefused
from webapp.store.engine import strict_json
from webapp.store.errors import NotFound, Refused
from webapp.store.tables import Batch, BroughtIn
from webapp.store.unit_of_work import Actor, UnitOfWork

MOST_FOUND_AT_ONCE = 200
FIELDS_OF_READING = {"value": "depth_m", "points": "", "instrument_id": "hardness"}


class NotWhole(Exception):
    """Rows that cannot be kept, found while they were put in."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Keep what is wrong, for the page that says so."""
        self.problems = tuple(problems)
        super().__init__(f"{len(problems)} rows cannot be kept")


def put_in(work: UnitOfWork, rows: Sequence[OldRow], how: HowRead) -> list[int]:
    """Put rows in by the services that take an old batch, a coupon and a reading; return their batches.

    Every row is tried; raises `NotWhole` with all that were refused, so that nothing of them is kept.
    """
    batches: dict[str, int] = {}
    made: list[int] = []
    problems: list[Problem] = []
    for old in rows:
        try:
            batch_id = batches.get(old.label) if old.label else None
            if batch_id is None:
                batch_id = _put_batch(work, old)
                made.append(batch_id)
                batches[old.label] = batch_id
            _put_coupon(work, batch_id, old)
        except StepRefused as problem:
            problems.append(_problem(old, problem, how))
            if len(problems) == MOST_FOUND_AT_ONCE:
                break
    if problems:
        raise NotWhole(problems)
    return made


def _put_batch(work: UnitOfWork, old: OldRow) -> int:
    if old.batch is None or old.batch.value is None:
        raise StepRefused("", "The row that tells of this batch cannot be kept.")
    return row_id(write_up(work, write_up_entry(old.batch.value, old.batch.typed)))


def _put_coupon(work: UnitOfWork, batch_id: int, old: OldRow) -> None:
    if old.coupon is None or old.coupon.value is None:
        return
    item = add_item(work, batch_id, coupon_entry(old.coupon.value, old.coupon.typed))
    if old.reading is not None and old.reading.value is not None:
        add_readings(work, row_id(item), first_entries(old.reading.value, old.reading.typed))


def _problem(old: OldRow, refused: StepRefused, how: HowRead) -> Problem:
    field = FIELDS_OF_READING.get(refused.field, refused.field)
    column = how.by_field.get(field)
    return Problem(old.row.number, column.heading if column else LABELS.get(field, ""), refused.message)


@contextmanager
def rehearsal(session: Session, now: datetime) -> Iterator[UnitOfWork]:
    """Give a unit of work on a copy of the logbook in memory, which is gone afterwards."""
    source = cast(sqlite3.Connection, session.connection().connection.driver_connection)
    with closing(sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA foreign_keys = ON")
        engine = create_engine(
            "sqlite://", creator=lambda: copy, poolclass=StaticPool, json_serializer=strict_json
        )
        with Session(engine, expire_on_commit=False) as tried:
            yield UnitOfWork(tried, Actor("a rehearsal"), now)
            tried.rollback()


def rehearse(session: Session, rows: Sequence[OldRow], how: HowRead, now: datetime) -> tuple[Problem, ...]:
    """Return what would be refused if the rows were put in now."""
    try:
        with rehearsal(session, now) as work:
            put_in(work, rows, how)
    except NotWhole as problem:
        return problem.problems
    except Refused as problem:
        return (Problem(0, "", str(problem)),)
    return ()


def bring_in(
    work: UnitOfWork, rows: Sequence[OldRow], how: HowRead, file_name: str, content: bytes
) -> BroughtIn:
    """Put a whole table in the logbook as one act that can be undone."""
    made = put_in(work, rows, how)
    key = sha256(content).hexdigest()
    return work.add(BroughtIn(file_name=file_name, sha256=key, rows=len(rows), batch_ids=made))


def take_out(work: UnitOfWork, brought_id: int, version: int | None = None) -> BroughtIn:
    """Put in the bin all batches that came of one table; those that are there already stay there."""
    brought = work.get(BroughtIn, brought_id)
    for batch in kept(work.session, Batch, Batch.id.in_(brought.batch_ids)):  # type: ignore[union-attr]
        work.remove(batch)
    return work.remove(brought, version)


def put_back(work: UnitOfWork, brought_id: int) -> BroughtIn:
    """Take those batches out of the bin again that went in with their table."""
    brought = work.session.get(BroughtIn, brought_id)
    if brought is None:
        raise NotFound("table", brought_id)
    if brought.deleted_at is None:
        return brought
    gone_at = brought.deleted_at
    for batch_id in brought.batch_ids:
        batch = work.session.get(Batch, batch_id)
        if batch is not None and batch.deleted_at == gone_at:
            work.put_back(batch)
    return work.put_back(brought)


def brought_before(session: Session, key: str) -> BroughtIn | None:
    """Return the table with the same content that is in the logbook already."""
    found = kept(session, BroughtIn, BroughtIn.sha256 == key)
    return found[0] if found else None
