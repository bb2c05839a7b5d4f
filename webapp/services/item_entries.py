"""From the forms of parts and coupons to what the logbook keeps, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session

from webapp.forms.items import CouponForm, PartItemForm
from webapp.forms.own_lines import but_own, is_own, own_answers, own_values
from webapp.services.batch_rows import get_row, kept
from webapp.services.items import PIN_DIAMETER_M, ItemEntry, part_entry
from webapp.services.marking import NO_MARK
from webapp.services.own_lines import merged
from webapp.store.tables import Bar, Batch, Item, Part


@dataclass(frozen=True)
class ItemHead:
    """What a form page must know of a piece."""

    kind: str
    part_id: int | None
    words: str
    version: int
    batch_href: str
    typed: dict[str, Any]
    own_lines: dict[str, Any]


def item_head(session: Session, item_id: int) -> ItemHead:
    """Return what a piece is called and where its batch is."""
    item = get_row(session, Item, item_id)
    words = f"{item.mark} {item.name}"
    href = f"/batches/{item.batch_id}"
    return ItemHead(item.kind, item.part_id, words, item.version, href, item.typed, item.own_lines)


def part_item_entry(session: Session, form: PartItemForm, typed: Mapping[str, str]) -> ItemEntry:
    """Return the shop's part as it lies in the box."""
    entry = part_entry(get_row(session, Part, form.part_id))
    asked = but_own(form, but="part_id")
    own_typed = {name: text for name, text in typed.items() if is_own(name)}
    own_lines = merged({}, own_answers(form))
    return replace(entry, **asked, own_lines=own_lines, typed={**entry.typed, **own_typed})


def coupon_entry(form: CouponForm, typed: Mapping[str, str], head: ItemHead | None = None) -> ItemEntry:
    """Return a coupon, or a piece put right, as its form tells it."""
    kind = head.kind if head else "coupon"
    part_id = head.part_id if head else None
    own_lines = merged(head.own_lines if head else {}, own_answers(form))
    all_typed = {
        **{name: text for name, text in (head.typed if head else {}).items() if is_own(name)},
        **typed,
    }
    return ItemEntry(kind=kind, part_id=part_id, typed=all_typed, own_lines=own_lines, **but_own(form))


def new_coupon_values(session: Session, batch_id: int) -> dict[str, Any]:
    """Return what a coupon is offered as: the shop's usual rod."""
    get_row(session, Batch, batch_id)
    bars = kept(session, Bar)
    return {"bar_id": bars[0].id if bars else None, "size_m": PIN_DIAMETER_M, "shape": "rod"}


def coupon_values(session: Session, item_id: int) -> dict[str, Any]:
    """Return a piece's fields as its form takes them."""
    item = get_row(session, Item, item_id)
    values = {name: getattr(item, name) for name in CouponForm.model_fields}
    return values | {"steel_mark": item.steel_mark or NO_MARK} | own_values(item.own_lines)
