"""Which mark each piece bears: offered by itself, unlike any in its box or on a piece not yet finished."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, col, or_, select

from webapp.services.batch_rows import kept
from webapp.services.mark_drawing import MarkDrawing, draw_mark
from webapp.services.shop_view import view_shop
from webapp.services.steel_marks import (
    HOW,
    KINDS,
    BadSign,
    Mark,
    Steel,
    first_free,
    read_sign,
    say_mark,
    where_to_put,
)
from webapp.services.step_rules import GIVEN_UP, MEASURED, PLANNED, StepRefused
from webapp.store.tables import Batch, Item, Reading

BY_SIZE, NO_MARK = "usual", "none"


@dataclass(frozen=True)
class MarkView:
    """A mark as pages show it: its words, where it goes, how it is made, its picture."""

    words: str
    place: str
    how: str
    drawing: MarkDrawing


def view_mark(item: Item) -> MarkView | None:
    """Return the mark in a piece's steel; None where none is noted."""
    mark = mark_of_item(item)
    if mark is None:
        return None
    place = item.steel_place or where_to_put(mark, item.shape)
    return MarkView(say_mark(mark), place, HOW[mark.kind], draw_mark(mark, item.shape))


def mark_of_item(item: Item) -> Mark | None:
    """Return the mark that is noted for a piece."""
    return Mark(item.steel_mark, item.steel_sign) if item.steel_mark in KINDS else None


def steel_of(item: Item) -> Steel:
    """Return what decides which mark a piece takes."""
    return Steel(item.shape, item.size_m, item.bore_m)


def give_mark(session: Session, item: Item, wanted: str = BY_SIZE, typed: str = "") -> Item:
    """Give a piece its mark, before it is kept; return it.

    wanted : a kind, by size, or none; typed : its count or figure, empty for the first free.
    Into a box that is in the fire already nobody files a mark, so there none is offered.
    """
    if wanted == BY_SIZE and not typed:
        batch = session.get(Batch, item.batch_id)
        wanted = BY_SIZE if batch is not None and batch.state == PLANNED else NO_MARK
    if wanted == NO_MARK:
        item.steel_mark = item.steel_sign = ""
        return item
    mark = _asked_mark(session, item, "" if wanted == BY_SIZE else wanted, typed)
    item.steel_mark, item.steel_sign = mark.kind, mark.sign
    return item


def cut_again(session: Session, item: Item) -> Item:
    """Give a piece that is packed again as an earlier one the same mark, else one of its kind; return it."""
    old = mark_of_item(item)
    taken = taken_marks(session, item)
    mark = old
    if mark is None or mark in taken:
        mark = first_free(steel_of(item), old.kind if old else habit_of(session), taken, item.mark)
    item.steel_mark, item.steel_sign = mark.kind, mark.sign
    return item


def _asked_mark(session: Session, item: Item, kind: str, typed: str) -> Mark:
    if not typed:
        habit = kind or habit_of(session)
        mark = first_free(steel_of(item), habit, taken_marks(session, item), item.mark)
        if kind not in ("", mark.kind):
            raise StepRefused(
                "steel_sign",
                f"There is no room for {kind} that are free. Type how many, or pick another kind.",
            )
        return mark
    if not kind:
        raise StepRefused("steel_mark", "Say which kind of mark this is: notches, dots or a figure.")
    try:
        mark = Mark(kind, read_sign(kind, typed))
    except BadSign as problem:
        raise StepRefused("steel_sign", str(problem)) from None
    if mark in marks_in_box(session, item):
        raise StepRefused(
            "steel_sign", f"Another piece in this box bears {say_mark(mark)}. Leave it blank for a free one."
        )
    return mark


def habit_of(session: Session) -> str:
    """Return the one kind of mark that the shop cuts; empty where it goes by size."""
    return view_shop(session).mark_habit


def taken_marks(session: Session, item: Item) -> set[Mark]:
    """Return the marks of the other pieces in its box, and of any that are not finished."""
    opened = {mark for one in open_pieces(session, item.id) if (mark := mark_of_item(one)) is not None}
    return opened | marks_in_box(session, item)


def marks_in_box(session: Session, item: Item) -> set[Mark]:
    """Return the marks of the other pieces in a piece's box."""
    others = kept(session, Item, Item.batch_id == item.batch_id)
    found = (mark_of_item(one) for one in others if one.id != item.id)
    return {mark for mark in found if mark is not None}


def open_pieces(session: Session, but: int | None = None) -> list[Item]:
    """Return the pieces that bear a mark and are not finished, oldest first.

    A piece is finished once its batch was measured or given up, it was scrapped, or it went into another
    box; one that is put right is open again until something is read of it.
    """
    moved_on = select(Item.from_item_id).where(
        col(Item.from_item_id).is_not(None), col(Item.deleted_at).is_(None)
    )
    read_since = select(Reading.item_id).where(
        col(Reading.deleted_at).is_(None), col(Reading.life) == Item.life
    )
    is_running = col(Batch.state).not_in((MEASURED, GIVEN_UP))
    query = (
        select(Item)
        .join(Batch, col(Batch.id) == Item.batch_id)
        .where(
            col(Item.deleted_at).is_(None),
            col(Batch.deleted_at).is_(None),
            col(Item.steel_mark) != "",
            col(Item.scrapped_why) == "",
            col(Item.id).not_in(moved_on),
            or_(is_running, (col(Item.life) > 1) & col(Item.id).not_in(read_since)),
        )
        .order_by(col(Item.id))
    )
    return [item for item in session.exec(query) if item.id != but]


def bears_it_too(session: Session, item: Item) -> tuple[str, ...]:
    """Return a warning for each other unfinished piece with the same mark as this unfinished one."""
    pieces = open_pieces(session)
    mark = mark_of_item(item)
    if mark is None or all(one.id != item.id for one in pieces):
        return ()
    others = [one for one in pieces if one.id != item.id and mark_of_item(one) == mark]
    numbers = {one.batch_id: session.get(Batch, one.batch_id) for one in others}
    return tuple(
        f"{one.mark} {one.name} of batch {batch.number} bears {say_mark(mark)} too and is not finished."
        for one in others
        if (batch := numbers[one.batch_id]) is not None
    )
