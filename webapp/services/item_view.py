"""A part or coupon as pages show it: what it is, where it lay, which way it went, what was read."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from webapp.services.bare_work import bare_words
from webapp.services.batch_rows import (
    BatchRows,
    get_row,
    load_batch,
    own_steps,
    rework_steps,
    row_id,
    steps_of_piece,
)
from webapp.services.case_left import ground_off
from webapp.services.cautions import cautions_for
from webapp.services.items import actions_of
from webapp.services.marking import MarkView, bears_it_too, view_mark
from webapp.services.own_lines import say_own
from webapp.services.photo_view import AlbumView, view_album
from webapp.services.photos import Owner
from webapp.services.put_right_panel import PutRightPanel, say_since, view_panel
from webapp.services.reading_words import ReadingView, view_reading
from webapp.services.showing import Showing
from webapp.services.steel_marks import KEEP_OFF, TAGS_LATER
from webapp.services.step_rules import ACTION_WORDS, GIVEN_UP, STATE_WORDS
from webapp.services.timeline import LineView, step_line
from webapp.store.tables import Bar, Item

SHAPE_WORDS = {"plate": "plate", "rod": "rod", "tube": "tube"}


@dataclass(frozen=True)
class ActionView:
    """Something that can be done next."""

    action: str
    label: str
    href: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class ItemView:
    """One part or coupon as a card shows it."""

    item_id: int
    version: int
    mark: str
    steel: MarkView | None
    name: str
    count: int
    section: str
    bar: str
    place: str
    is_pin: bool
    is_part: bool
    own_path: bool
    path: str
    note: str
    set_aside: str
    since: str
    readings: tuple[ReadingView, ...]
    href: str
    reading_href: str
    own_lines: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class ItemPageView:
    """One part or coupon with its own page."""

    item: ItemView
    batch_number: int
    batch_href: str
    batch_state: str
    lines: tuple[LineView, ...]
    actions: tuple[ActionView, ...]
    album: AlbumView
    case_left_href: str = ""
    put_right: PutRightPanel | None = None
    bare: tuple[str, ...] = ()
    mark_advice: str = f"{KEEP_OFF} {TAGS_LATER}"
    same_mark: tuple[str, ...] = ()


def view_item(rows: BatchRows, item: Item, bar_name: str, showing: Showing) -> ItemView:
    """Return a part or coupon as its card shows it."""
    item_id = row_id(item)
    return ItemView(
        item_id=item_id,
        version=item.version,
        mark=item.mark,
        steel=view_mark(item),
        name=item.name,
        count=item.count,
        section=say_section(item, showing),
        bar=bar_name,
        place=", ".join(piece for piece in (item.place, item.layer) if piece),
        is_pin=item.is_pin,
        is_part=item.kind == "part",
        own_path=item.own_path,
        path=_say_path(rows, item, showing),
        note=item.note,
        set_aside=item.left_out_why,
        since=say_since(rows, item),
        readings=tuple(view_reading(row, showing) for row in rows.readings.get(item_id, [])),
        href=f"/items/{item_id}",
        reading_href=f"/items/{item_id}/readings/new",
        own_lines=say_own(rows.own_lines, "piece", item),
    )


def say_section(item: Item, showing: Showing) -> str:
    """Return shape and size as 10 mm rod."""
    size = f"{showing.size(item.size_m)} {SHAPE_WORDS[item.shape]}"
    if item.bore_m:
        packed = ", packed" if item.bore_packed else ""
        return f"{size}, bore {showing.size(item.bore_m)}{packed}"
    return size


def _say_path(rows: BatchRows, item: Item, showing: Showing) -> str:
    steps = own_steps(rows, item)
    if not steps:
        return "goes with the batch"
    return " · ".join(step_line(rows, step, showing).short for step in steps)


def view_item_page(session: Session, item_id: int, showing: Showing) -> ItemPageView:
    """Return the page of one part or coupon."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    bar = session.get(Bar, item.bar_id)
    own = [*own_steps(rows, item), *rework_steps(rows, item)]
    last = own[-1] if own else None
    return ItemPageView(
        item=view_item(rows, item, bar.name if bar else "", showing),
        batch_number=rows.batch.number,
        batch_href=f"/batches/{item.batch_id}",
        batch_state=STATE_WORDS[rows.batch.state],
        lines=tuple(step_line(rows, step, showing, undoable=step is last) for step in own),
        actions=_actions(rows, item),
        album=view_album(session, Owner(item_id=item_id), showing),
        case_left_href=f"/items/{item_id}/case-left" if ground_off(rows, item) else "",
        put_right=view_panel(session, rows, item),
        bare=bare_words(steps_of_piece(rows, item)),
        same_mark=bears_it_too(session, item),
    )


def _actions(rows: BatchRows, item: Item) -> tuple[ActionView, ...]:
    if rows.batch.state == GIVEN_UP:
        return ()
    own = [*own_steps(rows, item), *rework_steps(rows, item)]
    return tuple(
        ActionView(action, ACTION_WORDS[action], f"/items/{item.id}/steps/{action}", cautions_for(action))
        for action in actions_of(item, own, rows.steps)
    )
