"""The bin: everything that was removed, what it hung on, who removed it when, and the way back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from webapp.services import bring_in
from webapp.services.batch_rows import get_row, kept, row_id, take_back
from webapp.services.gas_weighings import put_back_weighing
from webapp.services.record_names import KINDS, Named, name_of
from webapp.services.showing import Showing
from webapp.services.step_rules import StepRefused
from webapp.services.steps import put_back_step
from webapp.store.errors import NotFound
from webapp.store.tables import Batch, BroughtIn, Change, GasWeighing, Record, Step
from webapp.store.unit_of_work import UnitOfWork

HREF = "/bin"
A_PAGE = 50
NOBODY = "not noted"


@dataclass(frozen=True)
class BinLine:
    """One thing in the bin; `blocked` says why it cannot come back yet."""

    key: str
    what: str
    on: str
    on_href: str
    when: str
    device: str
    action: str
    version: int
    blocked: str = ""


@dataclass(frozen=True)
class BinView:
    """One page of the bin, newest first, and how many things are in it."""

    lines: tuple[BinLine, ...]
    total: int
    page: int
    pages: int


def view_bin(session: Session, showing: Showing, page: int = 1) -> BinView:
    """Return a page of the bin."""
    removed = sorted(
        (
            (gone_at, key, record_id or 0)
            for key, kind in KINDS.items()
            for record_id, gone_at in session.exec(
                select(kind.id, kind.deleted_at).where(col(kind.deleted_at).is_not(None))
            )
        ),
        reverse=True,
    )
    pages = max(1, -(-len(removed) // A_PAGE))
    page = min(max(page, 1), pages)
    shown = removed[(page - 1) * A_PAGE : page * A_PAGE]
    lines = tuple(_line(session, key, record_id, showing) for _, key, record_id in shown)
    return BinView(lines, len(removed), page, pages)


def _line(session: Session, key: str, record_id: int, showing: Showing) -> BinLine:
    row = session.get_one(KINDS[key], record_id)
    named = name_of(session, row, showing)
    return BinLine(
        key=f"{key}-{record_id}",
        what=named.words,
        on=named.on,
        on_href=_page_of(named),
        when=showing.moment(row.deleted_at),
        device=_removed_by(session, key, record_id),
        action=f"{HREF}/{key}/{record_id}/put-back",
        version=row.version,
        blocked=_blocked(named),
    )


def _page_of(named: Named) -> str:
    is_there = named.owner is not None and named.owner.deleted_at is None
    return named.href if is_there else ""


def _blocked(named: Named) -> str:
    if named.owner is None or named.owner.deleted_at is None:
        return ""
    return f"It hangs on {named.on}, which is in the bin too. Put that back first."


def _removed_by(session: Session, key: str, record_id: int) -> str:
    query = (
        select(Change.device)
        .where(Change.table_name == key, Change.record_id == record_id, Change.action == "removed")
        .order_by(col(Change.id).desc())
        .limit(1)
    )
    return session.exec(query).first() or NOBODY


def put_back(work: UnitOfWork, key: str, record_id: int, showing: Showing) -> tuple[str, str]:
    """Take a record out of the bin again; return its page and what it is called."""
    kind = KINDS.get(key)
    if kind is None:
        raise NotFound(key, record_id)
    row = work.session.get(kind, record_id)
    if row is None:
        raise NotFound(key, record_id)
    named = name_of(work.session, row, showing)
    if row.deleted_at is not None:
        if blocked := _blocked(named):
            raise StepRefused("", blocked)
        _WAYS_BACK.get(kind, _plainly)(work, row)
    location = named.href or HREF
    work.answered_at(location)
    return location, named.words


def _plainly(work: UnitOfWork, row: Any) -> None:
    take_back(work, type(row), row_id(row))


def _weighing(work: UnitOfWork, row: GasWeighing) -> None:
    batch = next(iter(kept(work.session, Batch, Batch.fire_id == row.fire_id)), None)
    if batch is None:
        get_row(work.session, Batch, 0)
    else:
        put_back_weighing(work, row_id(batch), row_id(row))


_WAYS_BACK: Mapping[type[Record], Callable[[UnitOfWork, Any], object]] = {
    BroughtIn: lambda work, row: bring_in.put_back(work, row_id(row)),
    GasWeighing: _weighing,
    Step: lambda work, row: put_back_step(work, row_id(row)),
}
