"""Bringing in an old table: tried first with nothing kept, then put in the logbook whole, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256

from sqlmodel import Session, col, select

from webapp.services.batch_rows import kept
from webapp.services.batches import WriteUpEntry
from webapp.services.item_entries import coupon_entry
from webapp.services.items import ItemEntry
from webapp.services.old_book import OldBatch, OldBook
from webapp.services.old_rows import HowRead, OldRow, Problem
from webapp.services.reading_entries import first_entries
from webapp.services.readings import ReadingEntry
from webapp.services.step_entries import write_up_entry
from webapp.services.step_rules import StepRefused
from webapp.store.errors import NotFound
from webapp.store.many_rows import ManyRows, put_back_many, remove_many
from webapp.store.tables import Batch, BroughtIn
from webapp.store.unit_of_work import UnitOfWork

FIELDS_OF_READING = {"value": "depth_m", "points": "", "instrument_id": "hardness"}


class NotWhole(Exception):
    """Rows that cannot be kept, found while they were put in."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Keep what is wrong, for the page that says so."""
        self.problems = tuple(problems)
        super().__init__(f"{len(problems)} rows cannot be kept")


@dataclass(frozen=True)
class KeptRow:
    """What the logbook keeps of one row: its batch where it is the first of it, its coupon, its readings."""

    number: int
    label: str
    batch: WriteUpEntry | None
    coupon: ItemEntry | None
    readings: tuple[ReadingEntry, ...]


def kept_row(old: OldRow) -> KeptRow | None:
    """Return what is kept of a row; None while something in it must be put right."""
    forms = [form for form in (old.batch, old.coupon, old.reading) if form is not None]
    if old.problems or any(form.value is None for form in forms):
        return None
    batch, coupon, reading = old.batch, old.coupon, old.reading
    return KeptRow(
        old.row.number,
        old.label,
        write_up_entry(batch.value, batch.typed) if batch and batch.value else None,
        coupon_entry(coupon.value, coupon.typed) if coupon and coupon.value else None,
        tuple(first_entries(reading.value, reading.typed)) if reading and reading.value else (),
    )


class PuttingIn:
    """The rows of one table as they go in, one after another; those of one label are one batch."""

    def __init__(self, work: UnitOfWork, rows: ManyRows, how: HowRead) -> None:
        """Begin with none."""
        self._book, self._how = OldBook(work, rows), how
        self._batches: dict[str, OldBatch] = {}
        self.made: list[int] = []

    def put(self, row: KeptRow) -> Iterator[Problem]:
        """Put one row in; yield what the logbook refuses of it. Rows of a refused batch are left out."""
        try:
            batch = self._batches.get(row.label) if row.batch is None else self._begin(row, row.batch)
            if batch is not None and row.coupon is not None:
                self._book.add_coupon(batch, row.coupon, row.readings)
        except StepRefused as refused:
            field = FIELDS_OF_READING.get(refused.field, refused.field)
            yield Problem(row.number, self._how.heading_of(field), refused.message)

    def _begin(self, row: KeptRow, entry: WriteUpEntry) -> OldBatch:
        batch = self._book.write_up(entry)
        self.made.append(batch.batch_id)
        if row.label:
            self._batches[row.label] = batch
        return batch


def bring_in(
    work: UnitOfWork, rows: Sequence[KeptRow], how: HowRead, file_name: str, content: bytes
) -> BroughtIn:
    """Put a whole table in the logbook as one act that can be undone; raises `NotWhole`, nothing kept."""
    many = ManyRows(work)
    putting = PuttingIn(work, many, how)
    problems = [problem for row in rows for problem in putting.put(row)]
    if problems:
        raise NotWhole(problems)
    many.send()
    key = sha256(content).hexdigest()
    return work.add(BroughtIn(file_name=file_name, sha256=key, rows=len(rows), batch_ids=putting.made))


def take_out(work: UnitOfWork, brought_id: int, version: int | None = None) -> BroughtIn:
    """Put in the bin all batches that came of one table; those that are there already stay there."""
    brought = work.get(BroughtIn, brought_id)
    there = set(work.session.exec(select(Batch.id).where(col(Batch.deleted_at).is_(None))))
    remove_many(work, Batch, [one for one in brought.batch_ids if one in there])
    return work.remove(brought, version)


def put_back(work: UnitOfWork, brought_id: int) -> BroughtIn:
    """Take those batches out of the bin again that went in with their table."""
    brought = work.session.get(BroughtIn, brought_id)
    if brought is None:
        raise NotFound("table", brought_id)
    if brought.deleted_at is None:
        return brought
    gone = set(work.session.exec(select(Batch.id).where(Batch.deleted_at == brought.deleted_at)))
    put_back_many(work, Batch, [one for one in brought.batch_ids if one in gone], brought.deleted_at)
    return work.put_back(brought)


def brought_before(session: Session, key: str) -> BroughtIn | None:
    """Return the table with the same content that is in the logbook already."""
    found = kept(session, BroughtIn, BroughtIn.sha256 == key)
    return found[0] if found else None
