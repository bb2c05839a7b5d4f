"""The logbook's files: where they lie, what is kept beside them, what was put back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from webapp.services.showing import Showing, plural
from webapp.store.copies import KeptCopy, last_change, list_copies
from webapp.store.disk import read_told, write_told
from webapp.store.engine import Store
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.revision import current_revision
from webapp.store.swap import ASIDE_FOLDER, last_exchange

BYTES_IN_MEGABYTE = 1e6
TAKEN_FILE = "taken-along.json"
WHY = {
    "daily": "the day's copy",
    "before-update": "before an update of casewright",
    "before-leaving-demo": "before the demo was left",
    "what-still-reads": "what still read of a damaged logbook",
}
WHOLE_WORDS: dict[bool | None, tuple[str, str]] = {
    True: ("whole", "done"),
    False: ("damaged", "bad"),
    None: ("not read yet", "wait"),
}
COUNTED = (
    ("batch", "batch", "batches"),
    ("item", "piece", "pieces"),
    ("reading", "reading", "readings"),
    ("plan", "plan", "plans"),
    ("part", "part", "parts"),
    ("photo", "photo", "photos"),
)


@dataclass(frozen=True)
class CopyView:
    """One copy of the logbook kept beside it, and where it is looked at and sent from."""

    name: str
    when: str
    what: str
    megabytes: str
    whole: str
    look: str
    href: str


@dataclass(frozen=True)
class ConditionView:
    """Where the logbook lies, its size, what wrote it, its copies (newest first), what was put back."""

    folder: str
    megabytes: str
    photos: str
    photos_folder: str
    program: str
    revision: str
    sqlite: str
    copies: tuple[CopyView, ...]
    taken: str
    put_back: str
    trouble: str


def view_condition(
    store: Store, showing: Showing, whole: Callable[[KeptCopy], bool | None], trouble: str = ""
) -> ConditionView:
    """Look at the logbook's files as they are now; `whole` tells whether a copy checks out."""
    folder = store.folder / PHOTO_FOLDER
    pictures = [file.stat().st_size for file in folder.glob("*.jpg")]
    return ConditionView(
        folder=str(store.folder),
        megabytes=megabytes(store.file.stat().st_size),
        photos=f"{plural(len(pictures), 'file')}, {megabytes(sum(pictures))}" if pictures else "none yet",
        photos_folder=str(folder) if pictures else "",
        program=program_version(),
        revision=current_revision(store) or "none",
        sqlite=sqlite3.sqlite_version,
        copies=tuple(view_copy(copy, showing, whole(copy)) for copy in list_copies(store.folder)),
        taken=_taken_words(store, showing),
        put_back=_put_back_words(store.folder, showing),
        trouble=trouble,
    )


def view_copy(copy: KeptCopy, showing: Showing, whole: bool | None) -> CopyView:
    """Return a copy as its line shows it."""
    words, look = WHOLE_WORDS[whole]
    return CopyView(
        name=copy.name,
        when=showing.moment(copy.made_at),
        what=copy_words(copy),
        megabytes=megabytes(copy.size),
        whole=words,
        look=look,
        href=f"/{copy.place}/{copy.name}",
    )


def copy_words(copy: KeptCopy) -> str:
    """Return why a copy was made."""
    if copy.place == ASIDE_FOLDER:
        return "the logbook before a copy was put in its place"
    found = [why for why in WHY if copy.why.startswith(why)]
    return WHY[max(found, key=len)] if found else copy.why.replace("-", " ")


def say_counts(counts: dict[str, int]) -> str:
    """Return what is in a logbook in words."""
    told = [plural(counts[table], one, many) for table, one, many in COUNTED if counts.get(table)]
    return ", ".join(told) or "an empty logbook"


def note_taken(store: Store, now: datetime) -> None:
    """Remember that everything was taken along, and up to which change."""
    last = last_change(store.file)
    write_told(store.folder / TAKEN_FILE, {"at": now.isoformat(), "change": last[0] if last else 0})


def _taken_words(store: Store, showing: Showing) -> str:
    told = read_told(store.folder / TAKEN_FILE)
    if told is None:
        return "Nobody has taken one yet: should this computer break, everything is gone with it."
    last = last_change(store.file)
    since = (last[0] if last else 0) - int(told.get("change", 0))
    later = f"; {plural(since, 'change was', 'changes were')} saved since" if since > 0 else ""
    return f"Last taken on {showing.moment(datetime.fromisoformat(told['at']))}{later}."


def _put_back_words(folder: Path, showing: Showing) -> str:
    told: dict[str, Any] | None = last_exchange(folder)
    if told is None:
        return ""
    when = showing.moment(datetime.fromisoformat(told["at"]))
    kept = f" The logbook from before lies in {folder / told['aside']}." if told.get("aside") else ""
    lacking = int(told.get("missing", 0))
    lack = f" {plural(lacking, 'photo has', 'photos have')} no picture on this computer." if lacking else ""
    return f"Put back on {when} from {told.get('from', 'a copy')}: {say_counts(told['counts'])}.{lack}{kept}"


def program_version() -> str:
    """Return casewright's version; a checkout that was never installed has none."""
    try:
        return version("casewright")
    except PackageNotFoundError:
        return "not installed, run from its folder"


def megabytes(size: int) -> str:
    """Return a size in words."""
    return f"{size / BYTES_IN_MEGABYTE:.1f} MB"
