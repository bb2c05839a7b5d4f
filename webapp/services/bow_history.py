"""How much pieces of each shape bowed in each bath of this shop, and what to leave for grinding."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from sqlmodel import Session, col, select

from webapp.services.batch_rows import kept, newest, row_id
from webapp.services.showing import Showing, plural
from webapp.services.words import length_text, range_text
from webapp.store.tables import Bath, Item, Reading, Step

CLEAN_UP_m = 0.05e-3  # taken off even a straight face; common practice, no source
STOCK_STEP_m = 0.05e-3
SHAPES = {"plate": "Plates", "rod": "Rods", "tube": "Tubes"}
MOST_SIZES = 400  # sizes noted, the newest: what bowed years ago bowed like these
LEAST_PIECES = 3  # fewer say little about the next one


@dataclass(frozen=True)
class Bows:
    """The bows of one shape in one bath [m], smallest first."""

    shape: str
    bath_id: int
    bows_m: tuple[float, ...]

    @property
    def stock_m(self) -> float:
        """Return what to leave on each face so that a bow as large as the largest so far grinds out [m].

        A face that bows by so much loses so much at its high places before the low ones are touched.
        """
        return STOCK_STEP_m * ceil(round((self.bows_m[-1] + CLEAN_UP_m) / STOCK_STEP_m, 6))


@dataclass(frozen=True)
class BowView:
    """What one shape did in one bath, in words."""

    what: str
    seen: str
    leave: str


def bow_history(session: Session) -> tuple[Bows, ...]:
    """Return the bows noted after a quench, by shape and bath, in as few queries as there are tables."""
    sizes = newest(session, Reading, MOST_SIZES, Reading.kind == "size")
    readings = [row for row in sizes if bow_of(row) is not None]
    items = _items(session, {row.item_id for row in readings})
    baths = _baths_of(session, items.values())
    found: dict[tuple[str, int], list[float]] = defaultdict(list)
    for reading in readings:
        item = items.get(reading.item_id)
        bath_id = baths.get(reading.item_id)
        if item is not None and bath_id is not None:
            found[(item.shape, bath_id)].append(bow_of(reading) or 0.0)
    return tuple(Bows(shape, bath, tuple(sorted(bows))) for (shape, bath), bows in sorted(found.items()))


def bow_of(reading: Reading) -> float | None:
    """Return the bow that a size reading noted after the quench; that before the box is not the quench's."""
    if reading.left_out_why or reading.details.get("when") != "after_quench":
        return None
    bow = reading.details.get("bow_m")
    return None if bow is None else float(bow)


def _items(session: Session, ids: set[int]) -> dict[int, Item]:
    return {row_id(item): item for item in kept(session, Item, col(Item.id).in_(ids))}


def _baths_of(session: Session, items: Iterable[Item]) -> dict[int, int]:
    """Return the bath of every item: that of its own last quench, else that of its batch."""
    known = list(items)
    query = select(Step).where(Step.kind == "quench", col(Step.deleted_at).is_(None)).order_by(col(Step.id))
    of_batch = query.where(col(Step.batch_id).in_({item.batch_id for item in known}))
    of_item = query.where(col(Step.item_id).in_({row_id(item) for item in known}))
    batches = {step.batch_id: step.bath_id for step in session.exec(of_batch) if step.bath_id}
    own = {step.item_id: step.bath_id for step in session.exec(of_item) if step.bath_id}
    found = {row_id(item): own.get(item.id) or batches.get(item.batch_id) for item in known}
    return {item_id: bath for item_id, bath in found.items() if bath is not None}


def view_bows(session: Session, shape: str, showing: Showing) -> tuple[BowView, ...]:
    """Return what pieces of a shape did in each bath of the shop."""
    names = {row_id(bath): bath.name for bath in session.exec(select(Bath))}
    return tuple(
        _view(one, names.get(one.bath_id, "the bath"), showing)
        for one in bow_history(session)
        if one.shape == shape
    )


def _view(one: Bows, bath: str, showing: Showing) -> BowView:
    count = len(one.bows_m)
    seen = f"bowed {range_text(showing, one.bows_m[0], one.bows_m[-1])} ({plural(count, 'piece')})"
    leave = f"Leave {length_text(showing, one.stock_m)} on each face to grind."
    if count < LEAST_PIECES:
        leave += " So few pieces say little yet."
    else:
        # the next of n + 1 alike is as likely as any other to be the largest
        leave += f" About 1 piece in {count + 1} would still need more."
    return BowView(f"{SHAPES[one.shape]} in {bath}", seen, leave)
