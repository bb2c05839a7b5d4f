"""One casewright a data folder: a lock that the operating system lets go of even after a power cut."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from webapp.store.engine import plain_trouble
from webapp.store.errors import CannotOpen, FolderInUse

LOCK_FILE = "in-use.lock"
ADDRESS_FILE = "in-use.txt"


@contextmanager
def hold_folder(folder: Path, address: str) -> Iterator[None]:
    """Hold the data folder while the block runs; `FolderInUse` says where the other one answers."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = (folder / LOCK_FILE).open("a+b")
    except OSError as error:
        raise CannotOpen(f"The data folder {folder} cannot be used: {plain_trouble(error)}.") from error
    with lock:
        if not _take(lock):
            raise FolderInUse(_who_holds(folder))
        with suppress(OSError):  # a full disk: only the word to a second one is missing then
            (folder / ADDRESS_FILE).write_text(address, encoding="utf-8")
        yield


def _who_holds(folder: Path) -> str:
    where = ""
    with suppress(OSError):
        told = (folder / ADDRESS_FILE).read_text(encoding="utf-8")
        where = f" at {told}" if told else ""
    return (
        f"casewright already runs on the data folder {folder}{where}. "
        "Use that one, stop it first, or choose another folder with --data."
    )


if sys.platform == "win32":
    import msvcrt

    def _take(lock: IO[bytes]) -> bool:
        try:
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(lock: IO[bytes]) -> bool:
        try:
            fcntl.flock(lock.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
