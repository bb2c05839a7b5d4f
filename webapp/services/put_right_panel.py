"""What a piece's own page says of putting it right: where it came from, and what can be started."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from webapp.services.batch_rows import BatchRows, kept, path_kinds, rework_steps, row_id
from webapp.services.step_rules import GIVEN_UP
from webapp.store.tables import Batch, Item


@dataclass(frozen=True)
class PieceLink:
    """The same piece in another batch."""

    words: str
    href: str


@dataclass(frozen=True)
class PutRightPanel:
    """What a piece's page shows; blank addresses are not offered."""

    came_from: PieceLink | None
    went_to: tuple[PieceLink, ...]
    offer_href: str
    is_set_out: bool
    take_back_href: str
    scrapped_why: str


def view_panel(session: Session, rows: BatchRows, item: Item) -> PutRightPanel:
    """Return what a piece's page says of putting it right."""
    item_id, steps = row_id(item), rework_steps(rows, item)
    waits = item.life > 1 and not any(step.life == item.life for step in steps)
    hardened = "quench" in path_kinds(rows, item) and rows.batch.state != GIVEN_UP
    return PutRightPanel(
        came_from=_came_from(rows, item),
        went_to=_went_to(session, item_id),
        offer_href=f"/items/{item_id}/put-right" if hardened and not item.scrapped_why else "",
        is_set_out=waits,
        take_back_href=f"/items/{item_id}/put-right/take-back" if waits else "",
        scrapped_why=item.scrapped_why,
    )


def _came_from(rows: BatchRows, item: Item) -> PieceLink | None:
    found = rows.earlier.get(row_id(item))
    if found is None:
        return None
    batch, first = found[0].batch, found[1]
    return PieceLink(f"from batch {batch.number} {first.mark}", f"/items/{first.id}")


def _went_to(session: Session, item_id: int) -> tuple[PieceLink, ...]:
    later = kept(session, Item, Item.from_item_id == item_id)
    batches = {row_id(item): session.get(Batch, item.batch_id) for item in later}
    return tuple(
        PieceLink(f"went back in batch {batch.number}", f"/items/{item.id}")
        for item in later
        if (batch := batches[row_id(item)]) is not None and batch.deleted_at is None
    )


def say_since(rows: BatchRows, item: Item) -> str:
    """Return in a few words that a piece came from elsewhere, was put right since or thrown away."""
    came = _came_from(rows, item)
    pieces = [came.words] if came else []
    if rework_steps(rows, item):
        pieces.append("put right since")
    if item.scrapped_why:
        pieces.append(f"scrapped: {item.scrapped_why}")
    said = " · ".join(pieces)
    return said[:1].upper() + said[1:]
