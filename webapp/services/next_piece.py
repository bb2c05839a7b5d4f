"""Which piece of a batch is the next to be measured."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from webapp.services.batch_rows import get_row, kept, row_id
from webapp.store.tables import Item, Reading


@dataclass(frozen=True)
class NextPiece:
    """A piece that nothing was read from yet, and where its first reading is typed."""

    words: str
    href: str


def next_unread(items: Sequence[Item], read: Container[int]) -> NextPiece | None:
    """Return the first piece that nothing was read from, coupons before parts; None where all were.

    read : numbers of those that something was read from
    """
    unread = [item for item in items if row_id(item) not in read]
    if not unread:
        return None
    item = min(unread, key=lambda item: item.kind != "coupon")
    return NextPiece(f"{item.mark} {item.name}".strip(), f"/items/{item.id}/readings/new?kind=first")


def next_after(session: Session, item_id: int) -> NextPiece | None:
    """Return the piece of the same batch to measure after this one."""
    batch_id = get_row(session, Item, item_id).batch_id
    others = [item for item in kept(session, Item, Item.batch_id == batch_id) if item.id != item_id]
    of_others = col(Reading.item_id).in_([row_id(item) for item in others])
    read = select(Reading.item_id).where(of_others, col(Reading.deleted_at).is_(None)).distinct()
    return next_unread(others, set(session.exec(read)))
