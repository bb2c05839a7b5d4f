"""The file of passcode, devices and wrong tries: beside the logbook, apart from it, its owner's alone.

A small SQLite file, opened for each question, so that `casewright passcode reset` may write to it while the
app runs. Nothing makes it before somebody sets a passcode or has a wrong try counted.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from webapp.store.errors import CannotSave

DOOR_FILE = "door.db"
OWNER_ONLY = 0o600
WAIT_FOR_OTHERS_S = 5.0
SCHEMA = """
BEGIN IMMEDIATE;
CREATE TABLE IF NOT EXISTS setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS session (
    id INTEGER PRIMARY KEY AUTOINCREMENT, token_hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
    started_at REAL NOT NULL, seen_at REAL NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS pairing (token_hash TEXT PRIMARY KEY, ends_at REAL NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS failure (id INTEGER PRIMARY KEY, address TEXT NOT NULL, at REAL NOT NULL) STRICT;
COMMIT;
"""


class DoorTrouble(CannotSave):
    """The file cannot be read or written; `str()` is fit to show."""


class DoorFile:
    """The file in one data folder."""

    def __init__(self, folder: Path) -> None:
        """Remember where it lies; it is not made yet."""
        self.path = folder / DOOR_FILE

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection | None]:
        """Give the file to read; None if there is none yet."""
        with _in_words(self.path):
            if not self.path.exists() or not self.path.stat().st_size:
                yield None
                return
            with closing(self._open()) as connection:
                yield connection

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """Give the file to write to: all of the block is kept, or nothing."""
        with _in_words(self.path):
            self._make()
            with closing(self._open()) as connection:
                connection.execute("BEGIN IMMEDIATE")
                try:
                    yield connection
                except BaseException:
                    connection.execute("ROLLBACK")
                    raise
                connection.execute("COMMIT")

    def _open(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, timeout=WAIT_FOR_OTHERS_S, isolation_level=None)
        connection.execute("PRAGMA synchronous = FULL")
        return connection

    def _make(self) -> None:
        # before the first word is in it; SQLite gives its side file the same rights
        os.close(os.open(self.path, os.O_RDWR | os.O_CREAT, OWNER_ONLY))
        self.path.chmod(OWNER_ONLY)
        with closing(self._open()) as connection:
            connection.executescript(SCHEMA)


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise DoorTrouble(f"The file of passcode and devices, {path}, cannot be used: {error}.") from error
