"""Very many records in few statements, each with its line in the change record as if it came alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import func, insert, update
from sqlmodel import SQLModel, col, select

from webapp.store.tables import Change, Record
from webapp.store.unit_of_work import UnitOfWork, plain_value

BLOCK = 1000
"""Records sent together: memory stays small, and a statement is worth its way."""


class ManyRows:
    """Records on their way into the logbook, in the order in which they point to one another.

    Their numbers are given here and not by the database, so nobody else may add to the same tables in this
    unit of work. Nothing is in the logbook before `send`, and all of it goes with the unit of work.
    """

    def __init__(self, work: UnitOfWork) -> None:
        """Take the unit of work that they go in with."""
        self._work = work
        self._next: dict[type[Record], int] = {}
        self._blank: dict[type[Record], dict[str, Any]] = {}
        self._told: dict[type[Record], dict[str, Any]] = {}
        self._waiting: dict[type[SQLModel], list[dict[str, Any]]] = {}
        self._count = 0

    def add(self, kind: type[Record], /, **fields: Any) -> int:
        """Take a new record; return the number it will have."""
        if kind not in self._blank:
            self._begin(kind)
        blank = self._blank[kind]
        if unknown := fields.keys() - blank.keys():
            raise TypeError(f"{kind.__name__} has no field {', '.join(unknown)}")
        number = self._next[kind]
        self._next[kind] = number + 1
        plain = {name: plain_value(value) for name, value in fields.items()}
        told = {**self._told[kind], **plain, "id": number}
        self._keep(
            kind, {**blank, **fields, "id": number}, _change(self._work, kind, number, "added", {}, told)
        )
        return number

    def _begin(self, kind: type[Record]) -> None:
        last = self._work.session.exec(select(func.max(col(kind.id)))).one()
        self._next[kind] = (last or 0) + 1
        fresh = {
            name: info.get_default(call_default_factory=True) for name, info in kind.model_fields.items()
        }
        now = self._work.now
        self._blank[kind] = fresh | {"version": 1, "created_at": now, "updated_at": now}
        self._told[kind] = {name: plain_value(value) for name, value in self._blank[kind].items()}

    def _keep(self, kind: type[Record], row: dict[str, Any], change: dict[str, Any]) -> None:
        self._waiting.setdefault(kind, []).append(row)
        self._waiting.setdefault(Change, []).append(change)
        self._count += 1
        if self._count >= BLOCK:
            self.send()

    def send(self) -> None:
        """Send what waits to the database."""
        connection = self._work.session.connection()
        for kind in self._blank:  # parents came first
            if rows := self._waiting.get(kind):
                connection.execute(insert(kind), rows)
        if changes := self._waiting.get(Change):
            connection.execute(insert(Change), changes)
        self._waiting.clear()
        self._count = 0


class TriedRows(ManyRows):
    """The same with nothing kept: what could be put in is found out, and nothing is."""

    def add(self, kind: type[Record], /, **_fields: Any) -> int:
        """Let go of a record; return a number as if it were kept."""
        number = self._next.get(kind, 1)
        self._next[kind] = number + 1
        return number

    def send(self) -> None:
        """Send nothing."""


def remove_many(work: UnitOfWork, kind: type[Record], numbers: Sequence[int]) -> None:
    """Put records that are there in the bin together, in a few statements."""
    _move(work, kind, numbers, "removed", None, work.now)


def put_back_many(work: UnitOfWork, kind: type[Record], numbers: Sequence[int], gone_at: datetime) -> None:
    """Take records that went into the bin together out of it again."""
    _move(work, kind, numbers, "put back", gone_at, None)


def _move(
    work: UnitOfWork,
    kind: type[Record],
    numbers: Sequence[int],
    action: str,
    before: datetime | None,
    after: datetime | None,
) -> None:
    connection = work.session.connection()
    told = {"deleted_at": plain_value(before)}, {"deleted_at": plain_value(after)}
    moved = {"deleted_at": after, "updated_at": work.now, "version": col(kind.version) + 1}
    for start in range(0, len(numbers), BLOCK):
        some = numbers[start : start + BLOCK]
        connection.execute(update(kind).where(col(kind.id).in_(some)).values(moved))
        connection.execute(insert(Change), [_change(work, kind, one, action, *told) for one in some])


def _change(
    work: UnitOfWork,
    kind: type[Record],
    number: int,
    action: str,
    before: dict[str, Any],
    after: dict[str, Any],
) -> dict[str, Any]:
    return {
        "happened_at": work.now,
        "device": work.actor.device,
        "table_name": kind.__name__.lower(),
        "record_id": number,
        "action": action,
        "before": before,
        "after": after,
    }
