"""The dated changes of one thing of the shop: list, note, remove, put back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col

from webapp.forms.changes import ThingChangeForm
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.change_words import CHANGES, LABELS, LOOSENS
from webapp.services.heats_seen import COLUMN_OF, COUNTED, first_days, seen_words
from webapp.services.sheets import NotAccepted, Removal, SheetKind, get_from_sheet
from webapp.services.shop import SHOP_KINDS
from webapp.services.showing import Showing
from webapp.store.tables import ShopChange
from webapp.store.unit_of_work import UnitOfWork

EARLIEST = date(1950, 1, 1)
NEVER_USED = "Nothing is learnt of it yet, so there is nothing to loosen."
BEFORE_ITS_FIRST = "From before anything was learnt of it: there is nothing to loosen."


@dataclass(frozen=True)
class ChangeView:
    """One change as a line of a list; `loosens` says why it loosens nothing, where that is so."""

    record_id: int
    day: str
    what: str
    note: str
    loosens_nothing: str
    version: int
    remove_href: str


@dataclass(frozen=True)
class ThingChangesView:
    """A thing with what was changed of it, newest first."""

    thing: str
    key: str
    loosens: str
    heats: str
    action: str
    back_href: str
    changes: tuple[ChangeView, ...]


def view_thing_changes(session: Session, key: str, record_id: int, showing: Showing) -> ThingChangesView:
    """Return a thing of the shop with its changes."""
    kind = SHOP_KINDS[key]
    row = get_from_sheet(session, kind, record_id)
    rows = _rows_of(session, key, record_id)
    first = first_days(session, key).get(record_id)
    href = changes_href(kind, record_id)
    nothing = "not in a fire yet" if key in COUNTED else ""
    return ThingChangesView(
        str(row.name),
        key,
        LOOSENS[key],
        seen_words(session, key, showing).get(record_id, nothing),
        href,
        kind.list_href,
        tuple(_view(change, first, href, showing) for change in reversed(rows)),
    )


def changes_href(kind: SheetKind[Any, Any], record_id: int) -> str:
    """Return where the changes of a thing are noted."""
    return f"{kind.href(record_id)}/changes"


def note_change(
    work: UnitOfWork,
    key: str,
    record_id: int,
    form: ThingChangeForm,
    typed: Mapping[str, str],
    today: date,
) -> str:
    """Keep a change of a thing; return where its list is. Raises `NotAccepted` beside the field."""
    get_from_sheet(work.session, SHOP_KINDS[key], record_id)
    if form.kind not in {choice.value for choice in CHANGES[key]}:
        raise NotAccepted({"kind": "That is not in the list. Pick one of the choices shown."})
    refuse_day(form.changed_on, today)
    if any(
        row.kind == form.kind and row.changed_on == form.changed_on
        for row in _rows_of(work.session, key, record_id)
    ):
        raise NotAccepted({"kind": "This is noted for that day already. Pick another day or change."})
    keep_change(work, key, record_id, form.kind, form.changed_on, form.note, typed)
    location = changes_href(SHOP_KINDS[key], record_id)
    work.answered_at(location)
    return location


def keep_change(
    work: UnitOfWork,
    key: str,
    record_id: int,
    kind: str,
    day: date,
    note: str = "",
    typed: Mapping[str, str] | None = None,
) -> int:
    """Save a change of a thing; return its id."""
    owner: dict[str, Any] = {COLUMN_OF[key].key: record_id}
    row = ShopChange(kind=kind, changed_on=day, note=note, typed=dict(typed or {}), **owner)
    return row_id(work.add(row))


def refuse_day(day: date, today: date) -> None:
    """Raise `NotAccepted` for a day that has not come, or that no logbook reaches back to."""
    if day > today:
        raise NotAccepted({"changed_on": f"That day is still to come. Today is {today.isoformat()}."})
    if day < EARLIEST:
        raise NotAccepted({"changed_on": f"Type a day from {EARLIEST.year} on."})


def remove_change(work: UnitOfWork, key: str, record_id: int, change_id: int, version: int | None) -> Removal:
    """Put a change in the bin: what it loosened is taken as it was before."""
    get_from_sheet(work.session, SHOP_KINDS[key], record_id)
    work.remove(_change_of(work.session, key, record_id, change_id), version=version)
    href = changes_href(SHOP_KINDS[key], record_id)
    work.answered_at(href)
    return Removal("The change was removed.", href, f"{href}/{change_id}/put-back")


def put_back_change(work: UnitOfWork, key: str, record_id: int, change_id: int) -> str:
    """Take a change out of the bin again."""
    row = work.session.get(ShopChange, change_id)
    if row is None or getattr(row, COLUMN_OF[key].key) != record_id:
        get_row(work.session, ShopChange, -change_id)
    elif row.deleted_at is not None:
        work.put_back(row)
    location = changes_href(SHOP_KINDS[key], record_id)
    work.answered_at(location)
    return location


def _rows_of(session: Session, key: str, record_id: int) -> list[ShopChange]:
    """Return the changes of one thing, oldest first."""
    rows = kept(session, ShopChange, col(COLUMN_OF[key]) == record_id)
    return sorted(rows, key=lambda row: (row.changed_on, row.id or 0))


def _change_of(session: Session, key: str, record_id: int, change_id: int) -> ShopChange:
    row = get_row(session, ShopChange, change_id)
    if getattr(row, COLUMN_OF[key].key) != record_id:
        return get_row(session, ShopChange, -change_id)
    return row


def _view(change: ShopChange, first: date | None, href: str, showing: Showing) -> ChangeView:
    change_id = row_id(change)
    return ChangeView(
        change_id,
        showing.day(change.changed_on),
        LABELS.get(change.kind, change.kind),
        change.note,
        loosens_nothing(change, first),
        change.version,
        f"{href}/{change_id}/remove",
    )


def loosens_nothing(change: ShopChange, first: date | None) -> str:
    """Return why a change loosens nothing; "" for one that does. `first` is when its thing was first used."""
    if first is None:
        return NEVER_USED
    return "" if change.changed_on > first else BEFORE_ITS_FIRST
