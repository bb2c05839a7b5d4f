"""Where photos lie: in `photos/` beside the database, under the hash of what is in them.

`<sha256>.jpg` is the picture and `<sha256>-small.jpg` its thumbnail. A file is whole on the disk before
the row that names it is committed, so no row ever lacks its picture; a file that no row names is left
where it is. Whoever copies the logbook copies this folder with it.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from contextlib import suppress
from pathlib import Path

from webapp.store.engine import plain_trouble
from webapp.store.errors import CannotSave, NotFound

PHOTO_FOLDER = "photos"
SHA256 = re.compile(r"[0-9a-f]{64}")


def keep_photo(data_folder: Path, picture: bytes, small: bytes) -> str:
    """Write a picture and its thumbnail to the disk and return the hash that is their name."""
    name = hashlib.sha256(picture).hexdigest()
    folder = data_folder / PHOTO_FOLDER
    try:
        folder.mkdir(exist_ok=True)
        _write_whole(folder / f"{name}-small.jpg", small)
        _write_whole(folder / f"{name}.jpg", picture)
        _settle(folder)
        _settle(data_folder)
    except OSError as error:
        raise CannotSave(f"The photo was not kept: {plain_trouble(error)}. Nothing was changed.") from error
    return name


def photo_file(data_folder: Path, sha256: str, small: bool = False) -> Path:
    """Return the file of a picture that is there, or raise `NotFound`."""
    if not SHA256.fullmatch(sha256):
        raise NotFound("photo", 0)
    file = data_folder / PHOTO_FOLDER / f"{sha256}{'-small' if small else ''}.jpg"
    if not file.is_file():
        raise NotFound("photo", 0)
    return file


def _write_whole(file: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all; one that is there whole already stays."""
    if file.is_file() and file.read_bytes() == content:
        return
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=".coming-")
    try:
        with os.fdopen(handle, "wb") as coming:
            coming.write(content)
            coming.flush()
            os.fsync(coming.fileno())
        os.replace(name, file)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise


def _settle(folder: Path) -> None:
    """Have the disk remember the names in a folder; one that cannot be opened (on Windows) does by itself."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
