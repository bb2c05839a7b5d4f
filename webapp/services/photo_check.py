"""Which pictures that records name are not on the disk."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from webapp.store.photo_files import PHOTO_FOLDER


def missing_pictures(connection: sqlite3.Connection, folder: Path) -> list[str]:
    """Return the hashes of photos, those in the bin too, whose picture is not in the data folder."""
    named = connection.execute("SELECT DISTINCT sha256 FROM photo ORDER BY sha256").fetchall()
    pictures = folder / PHOTO_FOLDER
    return [sha256 for (sha256,) in named if not (pictures / f"{sha256}.jpg").is_file()]
