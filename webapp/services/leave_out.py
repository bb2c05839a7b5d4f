"""Setting a batch, a piece or a reading aside, with the reason, and counting it again."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from webapp.services.batch_rows import get_row
from webapp.services.reading_words import KIND_WORDS
from webapp.store.tables import Batch, Item, Reading
from webapp.store.unit_of_work import UnitOfWork

FAMILIES: dict[str, type[Batch] | type[Item] | type[Reading]] = {
    "batches": Batch,
    "items": Item,
    "readings": Reading,
}


@dataclass(frozen=True)
class LeftOut:
    """What is set aside: its words, its page, its version."""

    record_id: int
    words: str
    href: str
    version: int


def find(session: Session, family: str, record_id: int) -> LeftOut:
    """Return what is to be set aside, or raise `NotFound`."""
    row = get_row(session, FAMILIES[family], record_id)
    match row:
        case Batch():
            return LeftOut(record_id, f"batch {row.number}", f"/batches/{row.id}", row.version)
        case Item():
            return LeftOut(record_id, f"{row.mark} {row.name}", f"/items/{row.id}", row.version)
        case Reading():
            words = KIND_WORDS[row.kind].lower()
            return LeftOut(record_id, words, f"/items/{row.item_id}", row.version)


def set_aside(work: UnitOfWork, family: str, record_id: int, why: str, version: int | None = None) -> None:
    """Leave a record out of what this forge is learnt from; nothing is removed."""
    work.change(work.get(FAMILIES[family], record_id), version, left_out_why=why)


def take_in(work: UnitOfWork, family: str, record_id: int, version: int | None = None) -> None:
    """Count a record again."""
    work.change(work.get(FAMILIES[family], record_id), version, left_out_why="")
