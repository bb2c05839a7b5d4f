"""Files that were sent to be looked at before anything of them is kept: `incoming/` beside the database."""

from __future__ import annotations

import hashlib
import re
import time
from pathlib import Path
from typing import BinaryIO

from webapp.store.disk import copy_whole
from webapp.store.engine import plain_trouble
from webapp.store.errors import CannotSave, NotFound

INCOMING_FOLDER = "incoming"
KEPT_FOR_S = 3 * 24 * 3600.0
SHA256 = re.compile(r"[0-9a-f]{64}")


def keep_incoming(data_folder: Path, content: bytes) -> str:
    """Write a file under the hash of what is in it, and let go of those that nobody came back to."""
    key = hashlib.sha256(content).hexdigest()
    folder = data_folder / INCOMING_FOLDER
    try:
        folder.mkdir(exist_ok=True)
        _let_go_of_old(folder)
        coming = folder / f"{key}.coming"
        coming.write_bytes(content)
        coming.replace(folder / key)
    except OSError as error:
        raise CannotSave(f"The file was not kept: {plain_trouble(error)}. Nothing was changed.") from error
    return key


def keep_incoming_copy(data_folder: Path, sent: BinaryIO) -> str:
    """Write a file that may be large under the hash of what is in it, piece by piece."""
    folder = data_folder / INCOMING_FOLDER
    try:
        folder.mkdir(exist_ok=True)
        _let_go_of_old(folder)
        coming = copy_whole(sent, folder / "copy.coming")
        with coming.open("rb") as whole:
            key = hashlib.file_digest(whole, "sha256").hexdigest()
        coming.replace(folder / key)
    except OSError as error:
        raise CannotSave(f"The file was not kept: {plain_trouble(error)}. Nothing was changed.") from error
    return key


def incoming_file(data_folder: Path, key: str) -> Path:
    """Return the file that was sent, or raise `NotFound`."""
    file = data_folder / INCOMING_FOLDER / key
    if not SHA256.fullmatch(key) or not file.is_file():
        raise NotFound("file", 0)
    return file


def _let_go_of_old(folder: Path) -> None:
    for old in folder.iterdir():
        if old.stat().st_mtime < time.time() - KEPT_FOR_S:
            old.unlink(missing_ok=True)


def read_incoming(data_folder: Path, key: str) -> bytes:
    """Return what is in a file that was sent, or raise `NotFound`."""
    if not SHA256.fullmatch(key):
        raise NotFound("file", 0)
    try:
        content = (data_folder / INCOMING_FOLDER / key).read_bytes()
    except OSError:
        raise NotFound("file", 0) from None
    if hashlib.sha256(content).hexdigest() != key:  # half of it, after a power cut: it is sent again
        raise NotFound("file", 0)
    return content
