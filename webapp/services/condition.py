"""What there is to know about the logbook's files."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from webapp.services.showing import plural
from webapp.store.backup import COPIES_FOLDER
from webapp.store.engine import Store
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.revision import current_revision

BYTES_IN_MEGABYTE = 1e6


@dataclass(frozen=True)
class CopyView:
    """One copy of the logbook kept beside it."""

    name: str
    megabytes: str


@dataclass(frozen=True)
class ConditionView:
    """Where the logbook lies, how large it is, what wrote it, and its copies, newest first."""

    folder: str
    megabytes: str
    photos: str
    photos_folder: str
    program: str
    revision: str
    sqlite: str
    copies: tuple[CopyView, ...]


def view_condition(store: Store) -> ConditionView:
    """Look at the logbook's files as they are now."""
    folder = store.folder / PHOTO_FOLDER
    pictures = [file.stat().st_size for file in folder.glob("*.jpg")]
    copies = sorted((store.folder / COPIES_FOLDER).glob("*.db"), reverse=True)
    return ConditionView(
        folder=str(store.folder),
        megabytes=_megabytes(store.file.stat().st_size),
        photos=f"{plural(len(pictures), 'file')}, {_megabytes(sum(pictures))}" if pictures else "none yet",
        photos_folder=str(folder) if pictures else "",
        program=program_version(),
        revision=current_revision(store) or "none",
        sqlite=sqlite3.sqlite_version,
        copies=tuple(CopyView(copy.name, _megabytes(copy.stat().st_size)) for copy in copies),
    )


def program_version() -> str:
    """Return casewright's version; a checkout that was never installed has none."""
    try:
        return version("casewright")
    except PackageNotFoundError:
        return "not installed, run from its folder"


def _megabytes(size: int) -> str:
    return f"{size / BYTES_IN_MEGABYTE:.1f} MB"
