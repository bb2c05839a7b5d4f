"""Everything that was changed in the shop, newest first, and where to note the next change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from webapp.services.batch_rows import row_id
from webapp.services.change_words import LABELS
from webapp.services.dated_changes import list_of, thing_of
from webapp.services.heats_seen import first_days
from webapp.services.sheets import rows_of
from webapp.services.shop import SHOP_KINDS
from webapp.services.showing import Showing
from webapp.services.thing_changes import changes_href, loosens_nothing
from webapp.store.tables import ShopChange


@dataclass(frozen=True)
class ShopChangeLine:
    """One change: its thing, with the way there if it is still in the shop."""

    day: str
    thing: str
    href: str
    what: str
    note: str
    loosens_nothing: str


@dataclass(frozen=True)
class ThingLinks:
    """The things of one list, each with where its changes are noted."""

    title: str
    things: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ShopChangesView:
    """The page of all changes."""

    changes: tuple[ShopChangeLine, ...]
    lists: tuple[ThingLinks, ...]


def view_shop_changes(session: Session, showing: Showing) -> ShopChangesView:
    """Return all changes, and the things of the shop."""
    rows = session.exec(
        select(ShopChange)
        .where(col(ShopChange.deleted_at).is_(None))
        .order_by(col(ShopChange.changed_on).desc(), col(ShopChange.id).desc())
    ).all()
    firsts = {key: first_days(session, key) for key in {list_of(session, row) for row in rows}}
    lists = (
        ThingLinks(
            kind.title,
            tuple((str(row.name), changes_href(kind, row_id(row))) for row in rows_of(session, kind)),
        )
        for kind in SHOP_KINDS.values()
    )
    return ShopChangesView(
        tuple(_line(session, row, firsts, showing) for row in rows),
        tuple(links for links in lists if links.things),
    )


def _line(
    session: Session, row: ShopChange, firsts: dict[str, dict[int, date]], showing: Showing
) -> ShopChangeLine:
    key, thing_id = list_of(session, row), thing_of(row)
    kind = SHOP_KINDS[key]
    thing = session.get(kind.row, thing_id)
    is_gone = thing is None or thing.deleted_at is not None
    name = str(thing.name) if thing is not None else "something"
    return ShopChangeLine(
        showing.day(row.changed_on),
        f"{name} (removed)" if is_gone else name,
        "" if is_gone else changes_href(kind, thing_id),
        LABELS.get(row.kind, row.kind),
        row.note,
        loosens_nothing(row, firsts[key].get(thing_id)),
    )
