"""Which piece is this? The pieces not yet finished by the mark in their steel, and who else bore it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from sqlmodel import Session, col, select

from webapp.services.batch_rows import row_id
from webapp.services.item_view import say_section
from webapp.services.mark_drawing import MarkDrawing, draw_mark
from webapp.services.marking import mark_of_item, open_pieces
from webapp.services.showing import Showing
from webapp.services.steel_marks import (
    DOTS,
    NOTCHES,
    STAMP,
    BadSign,
    Mark,
    read_sign,
    say_mark,
)
from webapp.services.step_rules import STATE_WORDS
from webapp.store.tables import Batch, Item

KIND_WORDS = {NOTCHES: "Notches", DOTS: "Dots", STAMP: "Stamped figure"}
ALWAYS_ASKED = ("1", "2", "3", "4", "5", "6")
MOST_EARLIER = 8


@dataclass(frozen=True)
class Tap:
    """Something to tap: its words, where it leads, whether it is what is shown now."""

    words: str
    href: str
    is_here: bool


@dataclass(frozen=True)
class FoundPiece:
    """A piece that bears a mark."""

    words: str
    more: str
    mark: str
    drawing: MarkDrawing
    href: str


@dataclass(frozen=True)
class WhichPieceView:
    """What is asked, and the pieces that answer to it."""

    kinds: tuple[Tap, ...]
    signs: tuple[Tap, ...]
    asked: str
    pieces: tuple[FoundPiece, ...]
    earlier: tuple[FoundPiece, ...]


def view_which_piece(session: Session, kind: str, sign: str, showing: Showing) -> WhichPieceView:
    """Return the open pieces that bear such a mark, all of them while nothing is asked."""
    kind = kind if kind in KIND_WORDS else ""
    wanted = _wanted(kind, sign)
    opened = open_pieces(session)
    shown = [item for item in opened if _answers(item, kind, wanted)]
    bore_it = _bore(session, wanted, shown) if wanted else []
    held = {item.batch_id for item in (*shown, *bore_it)}
    batches = {row_id(batch): batch for batch in session.exec(select(Batch).where(col(Batch.id).in_(held)))}
    return WhichPieceView(
        kinds=tuple(Tap(words, _href(key), key == kind) for key, words in KIND_WORDS.items()),
        signs=tuple(
            Tap(_sign_words(kind, one), _href(kind, one), wanted is not None and one == wanted.sign)
            for one in _signs(kind, opened)
        ),
        asked=say_mark(wanted) if wanted else KIND_WORDS.get(kind, "").lower(),
        pieces=tuple(_found(item, batches, showing) for item in shown),
        earlier=_earlier(bore_it, batches, showing),
    )


def _wanted(kind: str, sign: str) -> Mark | None:
    if not kind or not sign.strip():
        return None
    try:
        return Mark(kind, read_sign(kind, sign))
    except BadSign:
        return Mark(kind, sign.strip()[:20])


def _answers(item: Item, kind: str, wanted: Mark | None) -> bool:
    mark = mark_of_item(item)
    return mark is not None and (not kind or mark.kind == kind) and wanted in (None, mark)


def _signs(kind: str, opened: Iterable[Item]) -> list[str]:
    if not kind:
        return []
    used = {item.steel_sign for item in opened if item.steel_mark == kind}
    known = used if kind == STAMP else used | set(ALWAYS_ASKED)
    return sorted(known, key=lambda sign: (len(sign), sign))


def _sign_words(kind: str, sign: str) -> str:
    return sign if kind == STAMP else sign.replace("+", " and ")


def _href(kind: str, sign: str = "") -> str:
    asked = {name: value for name, value in (("kind", kind), ("sign", sign)) if value}
    return f"/which-piece?{urlencode(asked)}"


def _bore(session: Session, mark: Mark, shown: list[Item]) -> list[Item]:
    """Return the latest pieces that bore a mark and are not shown, the newest first."""
    bore = (col(Item.steel_mark) == mark.kind, col(Item.steel_sign) == mark.sign)
    query = select(Item).where(col(Item.deleted_at).is_(None), *bore).order_by(col(Item.id).desc())
    open_ids = {item.id for item in shown}
    return [item for item in session.exec(query.limit(MOST_EARLIER + len(shown))) if item.id not in open_ids]


def _earlier(rows: Iterable[Item], batches: dict[int, Batch], showing: Showing) -> tuple[FoundPiece, ...]:
    """Return the finished pieces that bore a mark, in words, of batches that are still there."""
    found = (_found(item, batches, showing) for item in rows if batches[item.batch_id].deleted_at is None)
    return tuple(replace(one, mark="") for one in found)[:MOST_EARLIER]


def _found(item: Item, batches: dict[int, Batch], showing: Showing) -> FoundPiece:
    mark, batch = Mark(item.steel_mark, item.steel_sign), batches[item.batch_id]
    how_many = f" × {item.count}" if item.count > 1 else ""
    return FoundPiece(
        words=f"Batch {batch.number} {item.mark} {item.name}{how_many}",
        more=f"{say_section(item, showing)} · {STATE_WORDS[batch.state]}, {showing.day(batch.day)}",
        mark=say_mark(mark),
        drawing=draw_mark(mark, item.shape),
        href=f"/items/{item.id}",
    )
