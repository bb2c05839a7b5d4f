"""The power is cut while a copy is put back: the old logbook stands whole, or the restored one does.

The old one has a WAL file, as after a kill; that of another book beside a new file would spoil it.
"""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.faults.cuts import Check, Stream, cut_everywhere, settled_book
from tests.faults.recorded_disk import recorded
from tests.faults.tablets import Tablet
from tests.faults.tally import Tally
from tests.faults.the_book import photos_without_a_file, troubles_of_file
from tests.web.drawn_photos import disc, plain
from tests.web.page_forms import send
from tests.web.quick_start import quick_app
from webapp.services.backup import make_backup
from webapp.services.restore import restore
from webapp.settings import Settings
from webapp.store import swap
from webapp.store.damage import find_damage
from webapp.store.engine import LOGBOOK_FILE
from webapp.store.swap import ASIDE_FOLDER, MARK_FILE, STAGING_FOLDER, settle

OLD, NEW = "in the old one's WAL", "from the copy"
WAL_FILE = f"{LOGBOOK_FILE}-wal"


def called(folder: Path) -> str:
    """Return what the shop of a logbook is called."""
    with closing(sqlite3.connect(folder / LOGBOOK_FILE)) as book:
        (name,) = book.execute("SELECT name FROM shop").fetchone()
    return str(name)


def old_book(folder: Path) -> dict[str, bytes]:
    """Make a logbook whose newest save stands in its WAL file only; return what lies there."""
    files = [folder / LOGBOOK_FILE, folder / WAL_FILE]
    settled_book(folder)
    with closing(sqlite3.connect(files[0])) as book, book:
        book.execute("PRAGMA journal_mode = WAL")
        book.execute("UPDATE shop SET name = ?", (OLD,))
        book.commit()
        left = {str(file): file.read_bytes() for file in files}
    for file in files:
        file.write_bytes(left[str(file)])
    return left


def copy_with_a_photo(place: Path) -> Path:
    """Make a backup of another logbook, with a photo."""
    settings = Settings(data_folder=place / "other")
    settled_book(settings.data_folder)
    picture = [("chosen", ("p.jpg", plain(disc(size=(90, 60), radius=20.0, rim=5.0))))]
    app = quick_app(settings, FixedClock())
    with TestClient(app, base_url=settings.url, follow_redirects=False) as client:
        send(client, "/shop/settings", "/shop/settings", name=NEW)
        batch = client.post("/batches", data={"form_id": "a-batch"}).headers["location"]
        client.post(f"{batch}/photos", data={"form_id": "a-photo"}, files=picture)
    return make_backup(settings.data_folder, place / "copy.zip", A_SPRING_DAY).file


def restore_noted(place: Path, library: Path) -> Stream:
    copy, folder = copy_with_a_photo(place), place / "book"
    before = old_book(folder)
    with recorded(library) as disk:
        restore(copy, folder, A_SPRING_DAY)
    return Stream(folder, disk.events, before, Tablet("nobody", random.Random(1)))


def one_or_the_other(found: list[str]) -> Check:
    """Return what looks at a folder that a cut left, as the next start does, and notes which book stands."""

    def check(left: Path, _: Tablet) -> list[str]:
        settle(left)
        wrong = troubles_of_file(left / LOGBOOK_FILE)
        if wrong:
            return wrong
        found.append(called(left))
        wrong = photos_without_a_file(left)
        wrong += [f"{name} is left" for name in (MARK_FILE, STAGING_FOLDER) if (left / name).exists()]
        if (damage := find_damage(left)) is not None:
            wrong.append(f"taken for damage at the start: {damage.words}")
        if found[-1] == NEW:
            aside = list((left / ASIDE_FOLDER).glob("*"))
            kept = [(called(one), troubles_of_file(one / LOGBOOK_FILE)) for one in aside]
            wrong += [] if kept == [(OLD, [])] else ["the old one is not aside as it was"]
        return wrong if found[-1] in (OLD, NEW) else [*wrong, f"a book called {found[-1]}"]

    return check


@pytest.mark.parametrize(
    ("every", "samples"), [(40, 1), pytest.param(1, 20, marks=pytest.mark.long)], ids=["few", "many"]
)
def test_a_power_cut_while_a_copy_is_put_back_leaves_the_old_logbook_or_the_restored_one(
    tmp_path: Path, library: Path, every: int, samples: int, tally: Tally
) -> None:
    found: list[str] = []
    stream = restore_noted(tmp_path, library)
    tries, lost = cut_everywhere(stream, tmp_path, every, samples, one_or_the_other(found))
    tally("power cut while a copy is put back", tries, lost)
    assert lost == []
    assert set(found) == {OLD, NEW}
    assert found[-1] == NEW, "what was told to be in its place is"


def test_an_exchange_whose_names_are_not_settled_is_found_out(
    tmp_path: Path, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_names = swap.sync
    monkeypatch.setattr(swap, "sync", lambda path: None if path.is_dir() else with_names(path))
    found: list[str] = []
    _, lost = cut_everywhere(restore_noted(tmp_path, library), tmp_path, 10_000, 0, one_or_the_other(found))
    assert lost or found[-1] != NEW
