"""A copy put back in the place of the logbook: checked whole and made ready aside before anything moves.

It may be a backup, a database (one of the copies kept beside the logbook), or everything taken along, JSON
or zip of tables. Pictures go to their folder first, under the hash of what is in them, which touches no
picture that is there; then the database changes places in one rename (`store/swap.py`).
"""

from __future__ import annotations

import shutil
import sqlite3
import zipfile
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from webapp.services.backup_file import BAD_ZIP, LIST_FILE, PHOTO_NAME, BackupFile
from webapp.services.condition import COUNTED
from webapp.services.photo_check import missing_pictures
from webapp.services.read_back import read_back
from webapp.services.whole_export import ABOUT_FILE
from webapp.store.backup import check_database
from webapp.store.disk import copy_whole, sync
from webapp.store.engine import LOGBOOK_FILE, open_store, plain_trouble
from webapp.store.errors import CannotOpen, CannotSave, CopyFailed, Refused
from webapp.store.migrate import bring_up_to_date, refuse_newer
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.swap import settle, staging, swap_in
from webapp.store.tables import metadata
from webapp.store.word_index import INDEX, ensure_words

SQLITE_START = b"SQLite format 3\0"
ZIP_START = b"PK"
ROOM_TO_SPARE = 32 * 1024**2


@dataclass(frozen=True)
class Staged:
    """A copy that is ready aside: what kind it is, what is in it, and photos whose picture is nowhere."""

    kind: str
    counts: dict[str, int]
    shop: str
    last_change: str
    made_at: str
    missing_photos: int

    def told(self, name: str) -> dict[str, Any]:
        """Return what is remembered of it once it stands."""
        return {"from": name, "kind": self.kind, "counts": self.counts, "missing": self.missing_photos}


@dataclass(frozen=True)
class Restored:
    """What came back, and where the logbook that stood there lies now."""

    staged: Staged
    aside: Path | None


def restore(file: Path, folder: Path, now: datetime, name: str = "") -> Restored:
    """Put a copy in the place of the logbook of a folder that nobody has open."""
    settle(folder)
    staged = stage(file, folder, now)
    return Restored(staged, swap_in(folder, now, staged.told(name or file.name)))


def begin_anew(folder: Path, now: datetime) -> Path | None:
    """Put an empty logbook in the place of one that nobody has open; return where that lies."""
    try:
        aside = staging(folder)
        with closing(open_store(aside)) as store:
            bring_up_to_date(store, now)
            ensure_words(store)
        return swap_in(folder, now, {"from": "nothing", "kind": "empty", "counts": {}, "missing": 0})
    except OSError as error:
        raise CannotSave(f"No new logbook was begun: {plain_trouble(error)}.") from error


def stage(file: Path, folder: Path, now: datetime, with_pictures: bool = True) -> Staged:
    """Check a copy whole and make it ready aside; its pictures go to the others. Nothing else moves."""
    kind = kind_of(file)
    try:
        aside = staging(folder)
        try:
            _check_room(file, folder)
            made_at, coming = _unpack(kind, file, folder if with_pictures else None, aside, now)
            bring_along(aside, now)
            return _look(aside, folder, kind, made_at, coming)
        except BaseException:
            shutil.rmtree(aside, ignore_errors=True)
            raise
    except CopyFailed as problem:
        raise Refused(f"{file.name} was not put back. {problem}") from problem
    except (OSError, sqlite3.Error) as error:
        raise CannotSave(f"{file.name} was not put back: {plain_trouble(error)}.") from error


def bring_along(aside: Path, now: datetime) -> None:
    """Check the database that lies aside, and bring it to the form this code works with."""
    database = aside / LOGBOOK_FILE
    check_database(database)
    refuse_newer(_form_of(database))
    with closing(open_store(aside)) as store:
        bring_up_to_date(store, now)
        ensure_words(store)
    _check_form(database)


def kind_of(file: Path) -> str:
    """Return what a file is by what is in it: database, backup, tables or document."""
    try:
        with file.open("rb") as read:
            start = read.read(len(SQLITE_START))
        if start == SQLITE_START:
            return "database"
        if not start.startswith(ZIP_START):
            return "document"
        with zipfile.ZipFile(file) as archive:
            names = set(archive.namelist())
    except BAD_ZIP as error:
        if isinstance(error, OSError):
            raise CannotOpen(f"{file.name} cannot be read: {plain_trouble(error)}.") from error
        raise Refused(f"{file.name} is damaged or cut short. Take another copy.") from error
    if LIST_FILE in names:
        return "backup"
    if ABOUT_FILE in names:
        return "tables"
    raise Refused(f"{file.name} is no copy that casewright made.")


def _unpack(
    kind: str, file: Path, folder: Path | None, aside: Path, now: datetime
) -> tuple[str, frozenset[str]]:
    """Put the database of a copy aside; return when the copy was made and which pictures come with it."""
    if kind == "backup":
        return _unpack_backup(file, folder, aside)
    if kind == "database":
        copy_whole(file, aside / LOGBOOK_FILE)
        wal = file.with_name(f"{file.name}-wal")
        if wal.exists():  # a logbook that was set aside as it was
            copy_whole(wal, aside / f"{LOGBOOK_FILE}-wal")
    else:
        read_back(file, aside, now)
    return "", frozenset()


def _unpack_backup(file: Path, folder: Path | None, aside: Path) -> tuple[str, frozenset[str]]:
    with closing(BackupFile(file)) as backup:
        backup.check()
        with (aside / LOGBOOK_FILE).open("wb") as out:
            backup.put(LOGBOOK_FILE, out)
        # a bad database is found before the pictures are put with the others
        check_database(aside / LOGBOOK_FILE)
        refuse_newer(_form_of(aside / LOGBOOK_FILE))
        if folder is not None:
            _put_pictures(backup, folder)
        coming = frozenset(name.removeprefix(f"{PHOTO_FOLDER}/") for name in backup.photos)
        return str(backup.about.get("made_at", "")), coming


def _put_pictures(backup: BackupFile, folder: Path) -> None:
    """Put the pictures of a backup with the others; one that is there whole stays as it is."""
    pictures = folder / PHOTO_FOLDER
    pictures.mkdir(exist_ok=True)
    for name in backup.photos:
        told, named = backup.members[name], PHOTO_NAME.fullmatch(name)
        assert named is not None
        sha256, is_small = named.groups()
        if not is_small and told.sha256 != sha256:
            raise Refused(f"{name} in the copy is another picture than its name says. Nothing was exchanged.")
        there = folder / name
        if there.is_file() and there.stat().st_size == told.size:
            continue
        coming = there.with_name(f".coming-{there.name}")
        with coming.open("wb") as out:
            backup.put(name, out)
            out.flush()
        sync(coming)
        coming.replace(there)
    sync(pictures)


def _check_room(file: Path, folder: Path) -> None:
    """Refuse a copy that the disk has no room for, before it is full."""
    size = file.stat().st_size
    if zipfile.is_zipfile(file):
        with zipfile.ZipFile(file) as archive:
            size = sum(entry.file_size for entry in archive.infolist())
    free = shutil.disk_usage(folder).free
    if size + ROOM_TO_SPARE > free:
        raise CannotSave(
            f"{file.name} needs {size // 1024**2} MB and the disk has {free // 1024**2} MB left. "
            "Nothing was changed. Make room and try again."
        )


def _form_of(database: Path) -> str:
    """Return the form of a database, or raise `Refused` if it is none of casewright's."""
    with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        kinds = connection.execute("SELECT type, name FROM sqlite_master").fetchall()
        # a view or trigger of somebody else's would run as the logbook is read and written
        strange = [
            name for kind, name in kinds
            if kind == "view" or (kind == "trigger" and not name.startswith(f"{INDEX}_"))
        ]  # fmt: skip
        if strange or ("table", "alembic_version") not in kinds:
            raise Refused("The copy's database is no logbook of casewright's. Nothing was changed.")
        form = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(form[0]) if form else ""


def _check_form(database: Path) -> None:
    """Raise `Refused` unless the database has every table and column that this code reads."""
    with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        for table in metadata.sorted_tables:
            there = {row[1] for row in connection.execute(f'PRAGMA table_info("{table.name}")')}
            if missing := set(table.columns.keys()) - there:
                raise Refused(
                    f"The copy's database lacks {min(missing)} of {table.name}. Nothing was changed."
                )


def _look(aside: Path, folder: Path, kind: str, made_at: str, coming: frozenset[str]) -> Staged:
    """Return what is in the database that lies aside."""
    database = aside / LOGBOOK_FILE
    with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        counts, shop, last = count_records(connection)
        missing = [s for s in missing_pictures(connection, folder) if f"{s}.jpg" not in coming]
    return Staged(kind, counts, shop, last, made_at, len(missing))


def count_records(connection: sqlite3.Connection) -> tuple[dict[str, int], str, str]:
    """Return how many records a logbook holds outside the bin, its shop's name and its last change."""
    counts = {
        table: connection.execute(f"SELECT count(*) FROM {table} WHERE deleted_at IS NULL").fetchone()[0]
        for table, _, _ in COUNTED
    }
    shop = connection.execute("SELECT name FROM shop").fetchone()
    last = connection.execute("SELECT max(happened_at) FROM change").fetchone()[0]
    return counts, shop[0] if shop else "", last or ""
