"""The logbook's database file: how it is opened, and the one lock every writer holds.

Two engines open the same file. The writer has a single connection and begins each transaction with
BEGIN IMMEDIATE: a transaction that reads first cannot be upgraded while another writes. Readers are
`query_only` and see one steady snapshot. All writes and checkpoints hold `Store.lock`, so that two
connections never checkpoint at once (a WAL fault of SQLite before 3.51.3).
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic, sleep
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import NullPool
from sqlmodel import Session

from webapp.store.doors import Doors
from webapp.store.errors import CannotOpen, CannotSave

LOGBOOK_FILE = "logbook.db"
BUSY_TIMEOUT_MS = 5000
STEADY = "one steady snapshot"  # marks a session in which what was read once can be taken as read
READERS_KEPT = 8
READERS_MORE = 40
SAVE_PATIENCE_S = 30.0
READ_PATIENCE_S = 5.0  # a fit has read a long logbook in two or three
LOOK_S = 0.1
NOT_READ = "The logbook cannot be read just now"

PRAGMAS = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
)


@dataclass(frozen=True)
class Store:
    """One open logbook: its folder, its two engines, the lock of its one writer, and whether it changed."""

    folder: Path
    writer: Engine
    reader: Engine
    lock: threading.Lock = field(default_factory=threading.Lock)
    changed: threading.Event = field(default_factory=threading.Event)
    doors: Doors = field(default_factory=Doors)

    @property
    def file(self) -> Path:
        """Return the path of the database file."""
        return self.folder / LOGBOOK_FILE

    def close(self) -> None:
        """Close every connection; the last one folds the WAL file back into the database."""
        with self.lock:
            self.reader.dispose()
            self.writer.dispose()

    @contextmanager
    def exchanging(self) -> Iterator[None]:
        """Hold the logbook with nobody reading or saving and no connection open; the next one opens anew.

        Renaming a database that a connection has open would let that one fold an old WAL file into the new.
        """
        if not self.lock.acquire(timeout=SAVE_PATIENCE_S):
            raise CannotSave("A save is taking very long. Nothing was changed; try again.")
        try:
            with self.doors.shut():
                if not self._left_alone():
                    raise CannotSave(
                        "Another program has the logbook open, perhaps a copy is being taken. "
                        "Nothing was changed; try again when it has ended."
                    )
                yield
        finally:
            self.lock.release()

    def _left_alone(self) -> bool:
        """Close every connection; return whether nobody else has the logbook open, once a fit has read it.

        Who reads beside this process cannot fold the WAL file back, so the writer does that after it.
        """
        given_up_s = monotonic() + READ_PATIENCE_S
        while True:
            self.reader.dispose()
            self.writer.dispose()
            if not self.file.with_name(f"{LOGBOOK_FILE}-wal").exists():
                return True
            if monotonic() > given_up_s:
                return False
            sleep(LOOK_S)
            with self.writer.connect() as connection:
                connection.exec_driver_sql("SELECT count(*) FROM sqlite_master")


def open_store(folder: Path) -> Store:
    """Open the logbook in this folder, making both if they are missing; migrations are not its work."""
    file = folder / LOGBOOK_FILE
    writer = make_engine(file, begin="BEGIN IMMEDIATE", pool_size=1, max_overflow=0)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with writer.connect() as connection:
            connection.exec_driver_sql("SELECT count(*) FROM sqlite_master")
    except (OSError, DatabaseError) as error:
        writer.dispose()
        raise CannotOpen(f"The data folder {folder} cannot be used: {plain_trouble(error)}.") from error
    reader = make_engine(
        file, begin="BEGIN", query_only=True, pool_size=READERS_KEPT, max_overflow=READERS_MORE
    )
    return Store(folder, writer, reader)


def make_engine(file: Path, begin: str, query_only: bool = False, **pool: int) -> Engine:
    """Return an engine on this file whose transactions are begun by us, not by the driver."""
    engine = create_engine(
        f"sqlite:///{file}",
        connect_args={"isolation_level": None, "check_same_thread": False},
        json_serializer=strict_json,
        **pool,
    )

    @event.listens_for(engine, "connect")
    def set_pragmas(connection: sqlite3.Connection, _record: Any) -> None:
        for pragma in PRAGMAS:
            connection.execute(pragma)
        if query_only:
            connection.execute("PRAGMA query_only = ON")

    @event.listens_for(engine, "begin")
    def begin_by_hand(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def strict_json(value: Any) -> str:
    """Write JSON for a column; NaN and infinities are an error, never stored."""
    return json.dumps(value, allow_nan=False, ensure_ascii=False)


@contextmanager
def read(store: Store) -> Iterator[Session]:
    """Give a session on one steady snapshot of the logbook; it cannot write."""
    try:
        steady = Session(store.reader, expire_on_commit=False, autoflush=False, info={STEADY: True})
        with store.doors.inside(), steady as session:
            yield session
    except DatabaseError as error:
        raise CannotSave(f"{NOT_READ}: {plain_trouble(error)}.") from error


@contextmanager
def read_beside(folder: Path) -> Iterator[Session]:
    """Give a session as `read` does, in a process beside the one that holds the logbook open.

    Its connection cannot write, and is closed at the end: an exchange of the file waits for all to be.
    """
    address = f"{(folder / LOGBOOK_FILE).absolute().as_uri()}?mode=ro"
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect(
            address, uri=True, isolation_level=None, timeout=BUSY_TIMEOUT_MS / 1000.0
        ),
        poolclass=NullPool,
    )
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    try:
        with Session(engine, expire_on_commit=False, autoflush=False, info={STEADY: True}) as session:
            yield session
    except DatabaseError as error:
        raise CannotSave(f"{NOT_READ}: {plain_trouble(error)}.") from error
    finally:
        engine.dispose()


def plain_trouble(error: Exception) -> str:
    """Say in plain words what the disk or the database complained about."""
    words = str(error).lower()
    for sign, meaning in TROUBLES.items():
        if sign in words:
            return meaning
    return "the disk or the folder did not answer as it should"


TROUBLES = {
    "disk is full": "the disk is full; make room and try again",
    "no space left": "the disk is full; make room and try again",
    "readonly": "the data folder is read-only; allow writing to it and try again",
    "read-only": "the data folder is read-only; allow writing to it and try again",
    "file too large": "the disk gives the logbook no more room; make room and try again",
    "quota": "the disk gives this user no more room; make room and try again",
    "permission denied": "this user may not write there; allow it or choose another folder with --data",
    "unable to open": "the file cannot be opened; check that the folder is there and may be written to",
    "not a directory": "a file stands where the folder should be; choose another folder with --data",
    "file exists": "a file stands where the folder should be; choose another folder with --data",
    "locked": "another program holds the logbook; close it and try again",
    "disk i/o": "the disk reported a fault; see that it is there and has room, then try again",
    "input/output": "the disk reported a fault; see that it is there and has room, then try again",
    "malformed": "the logbook file is damaged; go back to one of the copies kept beside it",
    "not a database": "the file is not a logbook; go back to one of the copies kept beside it",
}
