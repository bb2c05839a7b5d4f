"""Setting a batch, an item or a reading aside, with the reason, and taking it in again."""

from __future__ import annotations

from webapp.store.tables import Batch, Item, Reading
from webapp.store.unit_of_work import UnitOfWork

Kind = type[Batch] | type[Item] | type[Reading]


def set_aside(work: UnitOfWork, kind: Kind, record_id: int, why: str, version: int | None = None) -> None:
    """Leave a record out of what this forge is learnt from; nothing is removed."""
    work.change(work.get(kind, record_id), version, left_out_why=why)


def take_in(work: UnitOfWork, kind: Kind, record_id: int, version: int | None = None) -> None:
    """Count a record again."""
    work.change(work.get(kind, record_id), version, left_out_why="")
