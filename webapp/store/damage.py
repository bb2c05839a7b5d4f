"""Whether the logbook in a folder is whole, looked at before anything opens it to write.

SQLite reads a WAL file up to its first bad page and says nothing, so saves that were answered could be
missing; the WAL file is therefore gone through by its own checksums first. A page that does not check out
at the very end is what a power cut leaves of a save nobody was told of, and is no damage.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from webapp.store.backup import copy_database, copy_path
from webapp.store.copies import list_copies
from webapp.store.disk import copy_whole
from webapp.store.engine import LOGBOOK_FILE, plain_trouble
from webapp.store.errors import CannotOpen

WAL_HEAD, FRAME_HEAD = 32, 24
WAL_SIGNS = (0x377F0682, 0x377F0683)
SAMPLES_SHOWN = 3
MEAN_DAMAGE = (
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_NOTADB,
    sqlite3.SQLITE_IOERR_READ,
    sqlite3.SQLITE_IOERR_SHORT_READ,
)
STILL_READS = "what-still-reads"


@dataclass(frozen=True)
class Damage:
    """What is wrong with a logbook, and whether what comes before the damage still reads whole."""

    words: str
    is_readable: bool = False


def find_damage(folder: Path) -> Damage | None:
    """Return what is wrong with the logbook of a folder; None if it is whole or was never begun."""
    file = folder / LOGBOOK_FILE
    has_copies = bool(list_copies(folder))
    if not file.exists():
        if has_copies:
            return Damage(f"The logbook {file} is gone; its copies are still there.")
        return None
    if not file.stat().st_size:
        return Damage(f"The logbook {file} is empty; its copies are not.") if has_copies else None
    try:
        found = _trouble_of(file)
    except sqlite3.Error as error:
        if error.sqlite_errorcode not in MEAN_DAMAGE:  # a full disk or a right that is missing is none
            raise CannotOpen(f"The logbook {file} cannot be used: {plain_trouble(error)}.") from error
        return Damage(f"The logbook {file} is damaged: {plain_trouble(error)}.")
    if found:
        return Damage(f"The logbook {file} is damaged ({found}).")
    if wal_is_damaged(file.with_name(f"{LOGBOOK_FILE}-wal")):
        return Damage(
            f"The last saves of the logbook {file} are damaged: its WAL file does not check out. What was "
            "saved before them reads whole.",
            is_readable=True,
        )
    return None


def _trouble_of(file: Path) -> str:
    """Return what SQLite's own check says of a database, empty if it is whole; nothing is written."""
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        said = [str(row[0]) for row in connection.execute(f"PRAGMA integrity_check({SAMPLES_SHOWN})")]
    return "" if said == ["ok"] else "; ".join(said).replace("\n", " ")[:200]


def keep_what_reads(folder: Path, now: datetime) -> Path:
    """Copy what still reads of a logbook whose last saves are damaged; its own files stay as they are."""
    with TemporaryDirectory(prefix="reading-damaged-", dir=folder) as aside:
        for name in (LOGBOOK_FILE, f"{LOGBOOK_FILE}-wal"):
            copy_whole(folder / name, Path(aside) / name)
        return copy_database(Path(aside) / LOGBOOK_FILE, copy_path(folder, STILL_READS, now))


def wal_is_damaged(file: Path) -> bool:
    """Tell whether a WAL file holds saves that were answered and cannot be read any more."""
    try:
        content = file.read_bytes()
    except OSError:
        return False
    if len(content) <= WAL_HEAD:
        return False
    sign, _, page_size, _, salt_1, salt_2, sum_1, sum_2 = struct.unpack(">8I", content[:WAL_HEAD])
    order = ">" if sign == WAL_SIGNS[1] else "<"
    if sign not in WAL_SIGNS or _sum(content[: WAL_HEAD - 8], (0, 0), order) != (sum_1, sum_2):
        return True
    page_size = page_size or 65536
    return _lost_saves(list(_frames(content, page_size, (salt_1, salt_2), (sum_1, sum_2), order)))


@dataclass(frozen=True)
class Frame:
    """One page in a WAL file: whether it checks out, and whether a save ends with it."""

    is_whole: bool
    ends_save: bool


def _frames(
    content: bytes, page_size: int, salts: tuple[int, int], sums: tuple[int, int], order: str
) -> Iterator[Frame]:
    """Give the pages of this round of the WAL file; what an earlier round left behind bears other salts."""
    is_whole = True
    for begin in range(WAL_HEAD, len(content) - FRAME_HEAD - page_size + 1, FRAME_HEAD + page_size):
        head = content[begin : begin + FRAME_HEAD]
        _, pages, *own_salts, sum_1, sum_2 = struct.unpack(">6I", head)
        if is_whole:
            sums = _sum(head[:8], sums, order)
            sums = _sum(content[begin + FRAME_HEAD : begin + FRAME_HEAD + page_size], sums, order)
            is_whole = tuple(own_salts) == salts and sums == (sum_1, sum_2)
        if not is_whole and tuple(own_salts) != salts:
            yield Frame(is_whole=False, ends_save=False)
            continue
        yield Frame(is_whole, ends_save=pages > 0)


def _lost_saves(frames: list[Frame]) -> bool:
    """Tell whether a save that was finished lies at or behind the first bad page.

    A save is synced before the next one begins. So if another save's page follows its end, it was finished.
    """
    bad = next((place for place, frame in enumerate(frames) if not frame.is_whole), None)
    if bad is None:
        return False
    ours = [place for place in range(bad, len(frames)) if frames[place].ends_save]
    return len(ours) > 1


def _sum(part: bytes, sums: tuple[int, int], order: str) -> tuple[int, int]:
    first, second = sums
    words = struct.unpack(f"{order}{len(part) // 4}I", part)
    for place in range(0, len(words), 2):
        first = (first + words[place] + second) & 0xFFFFFFFF
        second = (second + words[place + 1] + first) & 0xFFFFFFFF
    return first, second
