"""The one way to write to the logbook: begun at once, recorded, and committed before the answer is sent."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, TypeVar

from sqlalchemy import event
from sqlalchemy.exc import DatabaseError, IntegrityError
from sqlmodel import Session, SQLModel

from webapp.store.engine import Store, plain_trouble
from webapp.store.errors import AlreadySaved, CannotSave, ChangedMeanwhile, NotFound, Refused
from webapp.store.tables import Change, FormUse, Record

LOCK_TIMEOUT_S = 30.0
LONGEST_FORM_ID = 64
KEPT_BY_US = ("version", "created_at", "updated_at", "deleted_at")

AnyRecord = TypeVar("AnyRecord", bound=Record)
AnyRow = TypeVar("AnyRow", bound=SQLModel)


@dataclass(frozen=True)
class Actor:
    """Who writes: the name of the tablet or computer."""

    device: str


@contextmanager
def write(store: Store, actor: Actor, now: datetime, form_id: str | None = None) -> Iterator[UnitOfWork]:
    """Give a unit of work that commits at its end, and rolls back whole on any error.

    A form id that was used before raises `AlreadySaved` before the body runs. Do no long sum inside:
    everybody else's save waits.
    """
    if not store.lock.acquire(timeout=LOCK_TIMEOUT_S):
        raise CannotSave("Another save is taking very long. Nothing was changed; try again.")
    try:
        with Session(store.writer, expire_on_commit=False) as session, session.begin():
            work = UnitOfWork(session, actor, now)
            if form_id:
                work.claim_form(form_id[:LONGEST_FORM_ID])
            yield work
            work.finish()
        store.changed.set()
    except IntegrityError as error:
        raise Refused(_words_of(error)) from error
    except OverflowError as error:  # of SQLite's whole numbers
        raise Refused("A number is too large to be kept. Nothing was changed; type a smaller one.") from error
    except (DatabaseError, OSError) as error:
        raise CannotSave(f"Not saved: {plain_trouble(error)}. Nothing was changed.") from error
    finally:
        store.lock.release()


def _words_of(error: IntegrityError) -> str:
    """Return what the database's refusal of a record means."""
    why = str(error.orig)
    if getattr(error.orig, "sqlite_errorname", "") == "SQLITE_CONSTRAINT_FOREIGNKEY":
        why = "it names another one that is not in the logbook, or another one still names it"
    return f"The logbook refused this record ({why}). Nothing was changed."


class UnitOfWork:
    """The writes of one answer to one form."""

    def __init__(self, session: Session, actor: Actor, now: datetime) -> None:
        """Hold the open session; `write` makes and ends it."""
        self.session, self.actor, self.now = session, actor, now
        self._form_use: FormUse | None = None
        self._is_noting = False
        event.listen(session, "before_flush", self._refuse_unnoted)

    def claim_form(self, form_id: str) -> None:
        """Use up a form id, or raise `AlreadySaved` with where its first answer led."""
        used = self.session.get(FormUse, form_id)
        if used is not None:
            raise AlreadySaved(used.location)
        self._form_use = FormUse(form_id=form_id, used_at=self.now, location="/")
        self.session.add(self._form_use)

    def answered_at(self, location: str) -> None:
        """Remember where this form's answer led, for the second tap."""
        if self._form_use is not None:
            self._form_use.location = location

    def get(self, kind: type[AnyRecord], record_id: int) -> AnyRecord:
        """Return a record that is there and not in the bin, or raise `NotFound`."""
        row = self.session.get(kind, record_id)
        if row is None or row.deleted_at is not None:
            raise NotFound(kind.__name__.lower(), record_id)
        return row

    def add(self, row: AnyRow) -> AnyRow:
        """Save a new row, give it its id and, if it is a record, write it into the change record."""
        if isinstance(row, Record):
            row.version, row.created_at, row.updated_at = 1, self.now, self.now
        plain_fields(row)  # refuses NaN before SQLite turns it into an empty field
        self.session.add(row)
        self._send()
        if isinstance(row, Record):
            self._note(row, "added", {}, plain_fields(row))
        return row

    def change(self, row: AnyRecord, version: int | None = None, **fields: Any) -> AnyRecord:
        """Set fields of a record, unless its version moved on since the form was opened.

        `version` is the one the form carried; None is for rows that no form showed.
        """
        self._check_version(row, version, fields)
        before = plain_fields(row)
        for name, value in fields.items():
            if name not in type(row).model_fields or name in KEPT_BY_US or name == "id":
                raise TypeError(f"{type(row).__name__} has no field {name} that may be set")
            setattr(row, name, value)
        after = plain_fields(row)
        names = [name for name in fields if before[name] != after[name]]
        if names:
            self._touch(row)
            self._note(row, "changed", {n: before[n] for n in names}, {n: after[n] for n in names})
        return row

    def remove(self, row: AnyRecord, version: int | None = None) -> AnyRecord:
        """Put a record in the bin; it can be put back."""
        self._check_version(row, version, {"deleted_at": self.now})
        row.deleted_at = self.now
        self._touch(row)
        self._note(row, "removed", {"deleted_at": None}, {"deleted_at": self.now.isoformat()})
        return row

    def put_back(self, row: AnyRecord, version: int | None = None) -> AnyRecord:
        """Take a record out of the bin again."""
        self._check_version(row, version, {"deleted_at": None})
        before = plain_fields(row)["deleted_at"]
        row.deleted_at = None
        self._touch(row)
        self._note(row, "put back", {"deleted_at": before}, {"deleted_at": None})
        return row

    def finish(self) -> None:
        """Send everything to the database, so that its refusals come before the commit."""
        self.session.flush()

    def _check_version(self, row: Record, version: int | None, mine: dict[str, Any]) -> None:
        if version is not None and version != row.version:
            wanted = {name: plain_value(value) for name, value in mine.items()}
            raise ChangedMeanwhile(type(row).__name__.lower(), row.id or 0, plain_fields(row), wanted)

    def _touch(self, row: Record) -> None:
        row.version += 1
        row.updated_at = self.now
        self.session.add(row)
        self._send()

    def _send(self) -> None:
        """Send to the database what goes into the change record with it."""
        self._is_noting = True
        try:
            self.session.flush()
        finally:
            self._is_noting = False

    def _refuse_unnoted(self, session: Any, *_: Any) -> None:
        """Stop a record that was added, set or deleted by hand: nobody could tell later who changed it."""
        touched = (*session.new, *session.deleted, *filter(session.is_modified, session.dirty))
        past = [type(row).__name__ for row in touched if isinstance(row, Record)]
        if past and not self._is_noting:
            raise TypeError(f"a {past[0]} was changed past the change record; use the unit of work")

    def _note(self, row: Record, action: str, before: dict[str, Any], after: dict[str, Any]) -> None:
        change = Change(
            happened_at=self.now,
            device=self.actor.device,
            table_name=type(row).__name__.lower(),
            record_id=row.id or 0,
            action=action,
            before=before,
            after=after,
        )
        self.session.add(change)


def plain_fields(row: SQLModel) -> dict[str, Any]:
    """Return a row's fields as JSON can hold them; NaN and infinities raise `Refused`."""
    return {name: plain_value(getattr(row, name)) for name in type(row).model_fields}


def plain_value(value: Any) -> Any:
    """Return a value as JSON can hold it, a copy that later changes do not reach."""
    if isinstance(value, float) and not math.isfinite(value):
        raise Refused(
            "A number is missing or without end where a plain number must stand. Nothing was changed."
        )
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: plain_value(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain_value(part) for part in value]
    return value
