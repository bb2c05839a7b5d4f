"""A whole copy of the logbook, checked before it counts.

Copying the file of a database in use loses what still stands in its WAL file; SQLite's own VACUUM INTO
writes one consistent file.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from webapp.store.disk import sync
from webapp.store.engine import BUSY_TIMEOUT_MS, plain_trouble
from webapp.store.errors import CopyFailed
from webapp.store.moments import free_path

COPIES_FOLDER = "copies"


def copy_database(source: Path, target: Path) -> Path:
    """Copy a database to a file that does not exist yet: written aside, checked, synced, then named."""
    unfinished = target.with_name(target.name + ".unfinished")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished.unlink(missing_ok=True)
        with closing(sqlite3.connect(source, timeout=BUSY_TIMEOUT_MS / 1000)) as connection:
            connection.execute("VACUUM INTO ?", (str(unfinished),))
        check_database(unfinished)
        sync(unfinished)
        unfinished.replace(target)
        sync(target.parent)
    except (OSError, sqlite3.Error) as error:
        raise CopyFailed(f"No copy of the logbook could be made: {plain_trouble(error)}.") from error
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
    return target


def check_database(file: Path) -> None:
    """Raise `CopyFailed` unless the database is whole and every reference in it leads somewhere."""
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
            loose = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.Error as error:
        raise CopyFailed(f"The copy of the logbook is damaged ({plain_trouble(error)}).") from error
    if verdict != "ok":
        raise CopyFailed(f"The copy of the logbook is damaged ({verdict}).")
    if loose:
        raise CopyFailed(f"The copy of the logbook has {len(loose)} references that lead nowhere.")


def copy_path(folder: Path, why: str, now: datetime) -> Path:
    """Return a name for a copy that sorts by time, says why it was made and is not taken."""
    return free_path(folder / COPIES_FOLDER, now, why, ".db")
