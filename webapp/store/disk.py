"""Files made to last: written whole or not at all, and on the disk before anything leans on them."""

from __future__ import annotations

import json
import os
import shutil
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO

CHUNK = 1024 * 1024


def sync(path: Path) -> None:
    """Have the disk remember a file, or the names in a folder; Windows sees to its folders by itself."""
    if path.is_dir() and os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_whole(source: Path | BinaryIO, target: Path) -> Path:
    """Copy a file in pieces; the target is there whole or not at all."""
    unfinished = target.with_name(f"{target.name}.unfinished")
    try:
        with unfinished.open("wb") as out:
            if isinstance(source, Path):
                with source.open("rb") as read:
                    shutil.copyfileobj(read, out, CHUNK)
            else:
                shutil.copyfileobj(source, out, CHUNK)
            out.flush()
            os.fsync(out.fileno())
        unfinished.replace(target)
    except BaseException:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise
    sync(target.parent)
    return target


def write_told(file: Path, told: dict[str, Any]) -> None:
    """Write a small JSON file, whole or not at all."""
    coming = file.with_name(f"{file.name}.unfinished")
    with coming.open("w", encoding="utf-8") as out:
        json.dump(told, out, ensure_ascii=False, indent=1)
        out.flush()
        os.fsync(out.fileno())
    coming.replace(file)
    sync(file.parent)


def read_told(file: Path) -> dict[str, Any] | None:
    """Return what a small JSON file tells; None where there is none that can be read."""
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None
