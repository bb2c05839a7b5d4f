"""One file with everything of the logbook in it, made aside and checked before anybody gets it.

The database is copied in one consistent piece while saves go on; all else is made from that copy. What a
backup leaves out is said in it: whatever can be worked out anew, and whatever opens doors.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Table, create_engine
from sqlalchemy.engine import Connection

from model import MODEL_VERSION
from webapp.services.backup_file import (
    BACKUP_SCHEMA,
    KIND,
    LIST_FILE,
    TABLES_FOLDER,
    WORDS_FILE,
    BackupFile,
)
from webapp.services.condition import program_version
from webapp.services.stored_rows import StoredRow, stored_rows
from webapp.services.whole_csv import csv_pieces
from webapp.store.backup import check_database, copy_database
from webapp.store.disk import CHUNK, sync
from webapp.store.engine import LOGBOOK_FILE, plain_trouble
from webapp.store.errors import CannotOpen, CopyFailed, Refused
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.reflected import record_tables

LEFT_OUT = {
    "forecasts.npz": "only saves time, and is made anew",
    "passcode and signed-in tablets": "they open the door of one computer and lie in a file apart",
    "copies, set-aside": "earlier copies of the same logbook",
    "pictures that no record names": "left by an upload that was cut short",
}
WORDS = """This is a whole copy of a casewright logbook.

logbook.db    everything that was written, with the bin and the record of all changes
photos/       the pictures, each named by the SHA-256 of what is in it, and small ones beside them
tables/       the same records as CSV tables, for a spreadsheet
backup.json   when and by what it was made, and the length and SHA-256 of every file

Not in it: {left_out}.

To put it back: the page "The logbook itself" of casewright, or
    casewright restore THIS-FILE
Both check all of it first and keep the logbook that is there aside.
"""


@dataclass(frozen=True)
class BackupMade:
    """A backup that was made and checked: its size, rows by table, and pictures that were not there."""

    file: Path
    size: int
    counts: dict[str, int]
    photos: int
    missing_photos: tuple[str, ...]


def make_backup(data_folder: Path, target: Path, now: datetime) -> BackupMade:
    """Write a backup of the logbook in a data folder to a file that does not exist yet, and check it."""
    if not (data_folder / LOGBOOK_FILE).is_file():
        raise CannotOpen(f"There is no logbook in {data_folder}.")
    unfinished = target.with_name(f"{target.name}.unfinished")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix="making-copy-", dir=target.parent) as aside:
            copy = copy_database(data_folder / LOGBOOK_FILE, Path(aside) / LOGBOOK_FILE)
            told = _write(unfinished, copy, data_folder / PHOTO_FOLDER, now)
            check_backup(unfinished, Path(aside))
        sync(unfinished)
        unfinished.replace(target)
        sync(target.parent)
    except OSError as error:
        raise CopyFailed(f"No copy could be made: {plain_trouble(error)}.") from error
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
    photos = sum(name.startswith(PHOTO_FOLDER) and "-small" not in name for name in told["files"])
    return BackupMade(target, target.stat().st_size, told["counts"], photos, tuple(told["missing_photos"]))


def check_backup(file: Path, aside: Path) -> None:
    """Open a backup afresh, read all of it, and have its database checked; raises what is wrong with it."""
    try:
        with closing(BackupFile(file)) as backup:
            backup.check()
            unpacked = aside / "checked.db"
            with unpacked.open("wb") as out:
                backup.put(LOGBOOK_FILE, out)
        check_database(unpacked)
    except Refused as problem:
        raise CopyFailed(f"The copy that was made is not whole and was thrown away: {problem}") from problem


def _write(file: Path, copy: Path, photo_folder: Path, now: datetime) -> dict[str, Any]:
    """Write the zip; return what it says of itself."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        put = Packer(archive, now)
        put.words(
            WORDS_FILE, WORDS.format(left_out="; ".join(f"{what} ({why})" for what, why in LEFT_OUT.items()))
        )
        put.pieces(LOGBOOK_FILE, _pieces_of(copy))
        engine = create_engine(f"sqlite:///{copy}")
        try:
            with engine.connect() as connection:
                told = _about(connection, now)
                for table in record_tables(connection):
                    put.pieces(
                        f"{TABLES_FOLDER}/{table.name}.csv", _csv_of(connection, table, told["counts"])
                    )
                names = _photo_names(connection)
        finally:
            engine.dispose()
        told["missing_photos"] = []
        for name in names:
            if (photo_folder / name).is_file():
                put.pieces(f"{PHOTO_FOLDER}/{name}", _pieces_of(photo_folder / name), zipfile.ZIP_STORED)
            else:
                told["missing_photos"].append(name)
        told["files"] = put.told
        put.words(LIST_FILE, json.dumps(told, ensure_ascii=False, indent=1))
    return told


class Packer:
    """Puts files into a zip in pieces, and keeps what was put in: length and checksum."""

    def __init__(self, archive: zipfile.ZipFile, now: datetime) -> None:
        """Hold the zip and the time that its files bear."""
        self._archive, self._time = archive, now.astimezone(UTC).timetuple()[:6]
        self.told: dict[str, dict[str, Any]] = {}

    def words(self, name: str, text: str) -> None:
        """Put a text in."""
        self.pieces(name, [text.encode()])

    def pieces(self, name: str, pieces: Iterable[bytes], how: int = zipfile.ZIP_DEFLATED) -> None:
        """Put a file in, piece by piece."""
        entry = zipfile.ZipInfo(name, self._time)
        entry.compress_type = how
        found, length = hashlib.sha256(), 0
        with self._archive.open(entry, "w", force_zip64=True) as out:
            for piece in pieces:
                out.write(piece)
                found.update(piece)
                length += len(piece)
        self.told[name] = {"bytes": length, "sha256": found.hexdigest()}


def _about(connection: Connection, now: datetime) -> dict[str, Any]:
    form = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
    shop = connection.exec_driver_sql("SELECT name FROM shop").scalar()
    return {
        "kind": KIND,
        "schema": BACKUP_SCHEMA,
        "program": program_version(),
        "model_version": MODEL_VERSION,
        "revision": form,
        "made_at": now.astimezone(UTC).isoformat(),
        "shop": shop or "",
        "counts": {},
        "left_out": LEFT_OUT,
    }


def _csv_of(connection: Connection, table: Table, counts: dict[str, int]) -> Iterator[bytes]:
    """Give a table as CSV, some hundred rows at a time, and count them."""
    counts[table.name] = 0

    def counted() -> Iterator[StoredRow]:
        for row in stored_rows(connection, table):
            counts[table.name] += 1
            yield row

    return (piece.encode() for piece in csv_pieces(table, counted()))


def _photo_names(connection: Connection) -> list[str]:
    """Return the picture files that records name, those in the bin too, each with its small one."""
    if "photo" not in {table.name for table in record_tables(connection)}:
        return []
    named = connection.exec_driver_sql("SELECT DISTINCT sha256 FROM photo ORDER BY sha256").scalars()
    return [f"{sha256}{size}.jpg" for sha256 in named for size in ("", "-small")]


def _pieces_of(file: Path) -> Iterator[bytes]:
    with file.open("rb") as read:
        while piece := read.read(CHUNK):
            yield piece
