"""A new logbook put in the place of the one that stands, so that at every moment one of the two is whole.

restoring/         the new database, made ready aside: until the mark is there, the old one stands
restoring.json     the mark: from here on the exchange goes forward, at the next start if need be
set-aside/MOMENT/  the old database, with its WAL file if it had one, as it was; nothing is thrown away
restored.json      what the last exchange did, for the page

Pictures lie under the hash of what is in them and are never removed: old and new share them.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from webapp.store.disk import copy_whole, read_told, sync, write_told
from webapp.store.engine import LOGBOOK_FILE, plain_trouble
from webapp.store.errors import CannotSave
from webapp.store.moments import free_path

STAGING_FOLDER = "restoring"
MARK_FILE = "restoring.json"
ASIDE_FOLDER = "set-aside"
RESTORED_FILE = "restored.json"
PARTS = (LOGBOOK_FILE, f"{LOGBOOK_FILE}-wal", f"{LOGBOOK_FILE}-shm")
ABOUT_ASIDE = (
    "This is the logbook as it was before a copy was put in its place. Its photos lie in the folder photos "
    "beside the present logbook. The page of the logbook's copies can put it back.\n"
)


@dataclass(frozen=True)
class Settled:
    """What was found of an exchange that was cut short: words to say, and whether the new logbook stands."""

    words: str
    is_new: bool


def staging(folder: Path) -> Path:
    """Return an empty folder to make a new logbook ready in."""
    made = folder / STAGING_FOLDER
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir(parents=True)
    return made


def drop_staged(folder: Path) -> None:
    """Throw away what was made ready and is not wanted."""
    shutil.rmtree(folder / STAGING_FOLDER, ignore_errors=True)


def swap_in(folder: Path, now: datetime, told: dict[str, Any]) -> Path | None:
    """Put the staged logbook in its place; return the folder of the old one. No connection may be open."""
    try:
        aside = _set_aside(folder, now)
        mark = {**told, "at": now.isoformat(), "aside": str(aside.relative_to(folder)) if aside else ""}
        sync(folder / STAGING_FOLDER / LOGBOOK_FILE)
        sync(folder / STAGING_FOLDER)
        write_told(folder / MARK_FILE, mark)
    except OSError as error:
        raise CannotSave(f"The logbook was not exchanged: {plain_trouble(error)}.") from error
    try:
        _go_forward(folder, mark)
    except OSError as error:
        raise CannotSave(
            f"The exchange has begun and could not be ended: {plain_trouble(error)}. Stop casewright and "
            "start it again: the start will end it."
        ) from error
    return aside


def settle(folder: Path) -> Settled | None:
    """Finish or clear away an exchange that was cut short; to be called before the logbook is opened."""
    mark = read_told(folder / MARK_FILE)
    if mark is not None:
        _go_forward(folder, mark)
        aside = f" The one from before lies in {folder / mark['aside']}." if mark.get("aside") else ""
        return Settled(f"A restore that was cut short is finished: the restored logbook stands.{aside}", True)
    if (folder / STAGING_FOLDER).exists():
        shutil.rmtree(folder / STAGING_FOLDER, ignore_errors=True)
        return Settled("A restore was cut short before it changed anything: the logbook is as it was.", False)
    return None


def last_exchange(folder: Path) -> dict[str, Any] | None:
    """Return what the last exchange did, None if there never was one."""
    return read_told(folder / RESTORED_FILE)


def _set_aside(folder: Path, now: datetime) -> Path | None:
    there = [folder / name for name in PARTS if (folder / name).exists()]
    if not there:
        return None
    aside = free_path(folder / ASIDE_FOLDER, now)
    aside.mkdir(parents=True)
    for part in there:
        copy_whole(part, aside / part.name)
    (aside / "about.txt").write_text(ABOUT_ASIDE, encoding="utf-8")
    sync(aside.parent)
    sync(folder)
    return aside


def _go_forward(folder: Path, mark: dict[str, Any]) -> None:
    """Do what is left to do; each step may have been done before."""
    staged = folder / STAGING_FOLDER / LOGBOOK_FILE
    if staged.exists():
        for name in PARTS[1:]:  # they belong to the old database and would be read into the new one
            (folder / name).unlink(missing_ok=True)
        sync(folder)
        staged.replace(folder / LOGBOOK_FILE)
        sync(folder)
    write_told(folder / RESTORED_FILE, mark)
    # the mark goes last: a folder without one is of an exchange that changed nothing
    shutil.rmtree(folder / STAGING_FOLDER, ignore_errors=True)
    (folder / MARK_FILE).unlink(missing_ok=True)
    sync(folder)
