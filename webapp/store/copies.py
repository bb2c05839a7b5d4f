"""The copies kept beside a logbook: what there is, the one that is taken each day, and how long they stay.

copies/MOMENT-WHY.db        taken by casewright: daily, or before something that changes much
set-aside/MOMENT/logbook.db the logbook that stood before a copy was put in its place
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from webapp.store.backup import COPIES_FOLDER, check_database, copy_database, copy_path
from webapp.store.engine import LOGBOOK_FILE, Store
from webapp.store.errors import CopyFailed, NotFound
from webapp.store.moments import STAMP
from webapp.store.swap import ASIDE_FOLDER

DAILY = "daily"
KEPT_FOR = timedelta(days=14)
STAMP_LENGTH = len("2026-11-28T20-00-00Z")


@dataclass(frozen=True)
class KeptCopy:
    """One copy: where it lies, its name there, when and why it was made, its size in bytes."""

    file: Path
    place: str
    name: str
    made_at: datetime
    why: str
    size: int


def list_copies(folder: Path) -> list[KeptCopy]:
    """Return the copies of a data folder, newest first; files that bear no time of ours are none."""
    files = [(file, COPIES_FOLDER, file.stem) for file in (folder / COPIES_FOLDER).glob("*.db")]
    asides = (folder / ASIDE_FOLDER).glob(f"*/{LOGBOOK_FILE}")
    files += [(file, ASIDE_FOLDER, file.parent.name) for file in asides]
    found = [copy for told in files if (copy := _copy_of(*told)) is not None]
    return sorted(found, key=lambda copy: (copy.made_at, copy.name), reverse=True)


def _copy_of(file: Path, place: str, name: str) -> KeptCopy | None:
    try:
        made_at = datetime.strptime(name[:STAMP_LENGTH], STAMP).replace(tzinfo=UTC)
        size = file.stat().st_size
    except (ValueError, OSError):
        return None
    return KeptCopy(file, place, name, made_at, name[STAMP_LENGTH + 1 :], size)


def find_copy(folder: Path, place: str, name: str) -> KeptCopy:
    """Return the copy of this name, or raise `NotFound`; a name is only ever compared, never a path."""
    found = next((c for c in list_copies(folder) if (c.place, c.name) == (place, name)), None)
    if found is None:
        raise NotFound("copy", 0)
    return found


def is_whole(copy: KeptCopy) -> bool:
    """Tell whether a copy checks out; it is read from end to end."""
    try:
        check_database(copy.file)
    except CopyFailed:
        return False
    return True


def take_daily(store: Store, now: datetime, day_of: Callable[[datetime], date]) -> Path | None:
    """Copy the logbook if something changed since the last daily copy and today has none yet."""
    daily = [copy for copy in list_copies(store.folder) if copy.why.startswith(DAILY)]
    if daily and day_of(daily[0].made_at) >= day_of(now):
        return None
    with store.doors.inside():
        last = last_change(store.file)
        if last is None or (daily and last == last_change(daily[0].file)):
            return None
        return copy_database(store.file, copy_path(store.folder, DAILY, now))


def last_change(database: Path) -> tuple[int, str] | None:
    """Return what tells the last change of a logbook from every other; None where nothing changed yet."""
    try:
        with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            found = connection.execute(
                "SELECT id, happened_at FROM change ORDER BY id DESC LIMIT 1"
            ).fetchone()
    except sqlite3.Error:
        return None
    return tuple(found) if found else None


def let_go(folder: Path, now: datetime, whole: Callable[[KeptCopy], bool] = is_whole) -> list[Path]:
    """Remove daily copies that are too old, as long as a younger one is known to be whole."""
    daily = [copy for copy in list_copies(folder) if copy.why.startswith(DAILY)]
    old = [copy for copy in daily if copy.made_at < now - KEPT_FOR]
    if not old:
        return []
    young = [copy for copy in daily if copy not in old]
    if not any(whole(copy) for copy in young):
        # the last good one stays, however old it is
        good = next((copy for copy in old if whole(copy)), None)
        old = old[old.index(good) + 1 :] if good is not None else []
    for copy in old:
        copy.file.unlink(missing_ok=True)
    return [copy.file for copy in old]
