"""Books to keep and to bring back: what is in a data folder, to the last row and picture."""

from __future__ import annotations

import io
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from tests.web.drawn_photos import disc, plain
from webapp.services.photos import Owner, add_photos, keep_picture
from webapp.services.pictures import prepare
from webapp.store.engine import LOGBOOK_FILE, Store
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.tables import Photo
from webapp.store.unit_of_work import UnitOfWork

NO_RECORDS = "wordindex"


def rows_of(database: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table of a database, the index of words apart."""
    with closing(sqlite3.connect(database)) as connection:
        listed = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        names = sorted(name for (name,) in listed if not name.startswith(NO_RECORDS))
        return {name: connection.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall() for name in names}


def pictures_of(folder: Path) -> dict[str, bytes]:
    """Return every picture of a data folder by its name."""
    return {file.name: file.read_bytes() for file in (folder / PHOTO_FOLDER).glob("*")}


def book_of(folder: Path) -> tuple[dict[str, list[tuple[Any, ...]]], dict[str, bytes]]:
    """Return all that a backup must bring back of a data folder."""
    return rows_of(folder / LOGBOOK_FILE), pictures_of(folder)


def add_photo(work: UnitOfWork, store: Store, radius: int = 200) -> Photo:
    """Put a drawn photo with the first batch."""
    file = plain(disc(radius=radius))
    picture = keep_picture(store.folder, prepare(io.BytesIO(file), len(file)))
    return add_photos(work, Owner(batch_id=1), [picture])[0]
