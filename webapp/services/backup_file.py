"""A backup as it lies in its file: a zip of the database, the photos, a table of each list, and what it says.

Nothing is unpacked under a name that the zip gives: only the names that casewright writes are known, each
as long as the list in it says, and what is read is held against that list's checksums. So a zip that
climbs out of its folder, swells without end or was damaged is refused before anything of it is kept.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from webapp.store.disk import CHUNK
from webapp.store.engine import LOGBOOK_FILE, plain_trouble
from webapp.store.errors import CannotOpen, LogbookNewer, Refused
from webapp.store.photo_files import PHOTO_FOLDER

KIND = "casewright backup"
BACKUP_SCHEMA = 1
LIST_FILE = "backup.json"
WORDS_FILE = "read-me.txt"
TABLES_FOLDER = "tables"
PHOTO_NAME = re.compile(rf"{PHOTO_FOLDER}/([0-9a-f]{{64}})(-small)?\.jpg")
TABLE_NAME = re.compile(rf"{TABLES_FOLDER}/[a-z_]{{1,40}}\.csv")
MOST_LIST_BYTES = 128 * CHUNK
MOST_MEMBERS = 500_000
# a database shrinks to a fifth or so, a table to a twentieth
MOST_SWELL = 100
ALWAYS_ALLOWED = 16 * CHUNK
JPEG_START = b"\xff\xd8\xff"
BAD_ZIP = (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError, ValueError)
TAKE_ANOTHER = "Take another copy."


@dataclass(frozen=True)
class Member:
    """One file in a backup, as its list tells."""

    size: int
    sha256: str


class BackupFile:
    """A backup that is open; what it says of itself was read, and its names and lengths agree with that."""

    def __init__(self, file: Path) -> None:
        """Open it, or raise `Refused`, `LogbookNewer` or `CannotOpen` with what is wrong."""
        self.file = file
        try:
            self._archive = zipfile.ZipFile(file)
        except OSError as error:
            raise CannotOpen(f"{file.name} cannot be read: {plain_trouble(error)}.") from error
        except BAD_ZIP as error:
            raise Refused(f"{file.name} is damaged or cut short. {TAKE_ANOTHER}") from error
        try:
            self.about = self._list()
            self.members = _members(self.about)
            self._check_names()
        except BaseException:
            self._archive.close()
            raise

    def close(self) -> None:
        """Close the file."""
        self._archive.close()

    @property
    def photos(self) -> list[str]:
        """Return the names of its pictures and thumbnails."""
        return [name for name in self.members if PHOTO_NAME.fullmatch(name)]

    def check(self, seen: Callable[[str], None] | None = None) -> None:
        """Read every file in it once and hold it against its checksum."""
        for name in self.members:
            for _ in self.content(name):
                pass
            if seen is not None:
                seen(name)

    def content(self, name: str) -> Iterator[bytes]:
        """Give a file of it in pieces; raises `Refused` at the end of one that is not as listed."""
        told, found, length = self.members[name], hashlib.sha256(), 0
        try:
            with self._archive.open(name) as member:
                while piece := member.read(min(CHUNK, told.size - length + 1)):
                    length += len(piece)
                    if length > told.size:
                        break
                    found.update(piece)
                    yield piece
        except BAD_ZIP as error:
            raise Refused(f"{name} in the copy is damaged. Nothing was kept. {TAKE_ANOTHER}") from error
        if length != told.size or found.hexdigest() != told.sha256:
            raise Refused(f"{name} in the copy is not what was put in. Nothing was kept. {TAKE_ANOTHER}")

    def put(self, name: str, out: IO[bytes]) -> None:
        """Write a file of it out."""
        for piece in self.content(name):
            out.write(piece)

    def _list(self) -> Mapping[str, Any]:
        try:
            if self._archive.getinfo(LIST_FILE).file_size > MOST_LIST_BYTES:
                raise Refused(f"{self.file.name} has a list too long for a copy of a logbook.")
            told = json.loads(self._archive.read(LIST_FILE))
        except KeyError:
            raise Refused(f"{self.file.name} is no copy that casewright made.") from None
        except BAD_ZIP as error:
            raise Refused(f"{self.file.name} is damaged: its list cannot be read. {TAKE_ANOTHER}") from error
        if not isinstance(told, dict) or told.get("kind") != KIND:
            raise Refused(f"{self.file.name} is no copy that casewright made.")
        schema = told.get("schema")
        if isinstance(schema, int) and schema > BACKUP_SCHEMA:
            raise LogbookNewer(
                f"{self.file.name} was made by a newer casewright ({told.get('program')}). "
                "Nothing was touched. Install that one, then try again."
            )
        if schema != BACKUP_SCHEMA:
            raise Refused(f"{self.file.name} is no copy that casewright made.")
        return told

    def _check_names(self) -> None:
        entries = self._archive.infolist()
        names = [entry.filename for entry in entries]
        strange = [name for name in names if name != LIST_FILE and name not in self.members]
        missing = set(self.members) - set(names)
        if strange or missing or len(names) != len(set(names)):
            which = ascii((strange or sorted(missing) or ["a name twice"])[0])[:60]
            raise Refused(f"{self.file.name} does not hold what its list says ({which}). {TAKE_ANOTHER}")
        if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
            raise Refused(f"{self.file.name} is packed in a way that casewright does not use.")
        whole = sum(member.size for member in self.members.values())
        if whole > self.file.stat().st_size * MOST_SWELL + ALWAYS_ALLOWED:
            raise Refused(
                f"{self.file.name} would unpack to far more than a logbook holds. Nothing was kept."
            )


def _members(told: Mapping[str, Any]) -> dict[str, Member]:
    """Return the files that a list names, or raise `Refused` where it names one that is none of ours."""
    files = told.get("files")
    if not isinstance(files, dict) or LOGBOOK_FILE not in files or len(files) > MOST_MEMBERS:
        raise Refused("The copy's list does not name a logbook.")
    found = {}
    for name, one in files.items():
        if name not in (LOGBOOK_FILE, WORDS_FILE) and not (
            PHOTO_NAME.fullmatch(name) or TABLE_NAME.fullmatch(name)
        ):
            raise Refused(f"The copy names a file that is none of casewright's ({ascii(name)[:60]}).")
        size, sha256 = (one.get("bytes"), one.get("sha256")) if isinstance(one, dict) else (None, None)
        if type(size) is not int or size < 0 or not isinstance(sha256, str):
            raise Refused(f"The copy's list does not say how long {name} is.")
        found[name] = Member(size, sha256)
    return found
