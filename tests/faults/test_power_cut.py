"""The power is cut at any moment: what was answered is there, and the book is whole.

A kill leaves the system's own memory of the files; a power cut does not. So all that SQLite and the app ask
of the disk while the app saves is noted, and for moments all along the way a disk is laid out as a cut
might leave it (`after_a_cut.py`), opened and checked. What this cannot prove: a disk that says "synced" and
lies, and bytes that rot after they were written.
"""

from __future__ import annotations

import random
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.faults.cuts import Stream, cut_everywhere, only_the_book, settled_book
from tests.faults.recorded_disk import Disk, recorded
from tests.faults.tablets import Tablet
from tests.faults.tally import Tally
from tests.faults.the_book import (
    lost_or_doubled,
    photos_without_a_file,
    rows_that_differ,
    troubles_of_file,
)
from tests.migrations.filled import filled
from tests.web.drawn_photos import disc, plain
from tests.web.quick_start import quick_app
from webapp.services.backup import make_backup
from webapp.settings import Settings
from webapp.store import engine, photo_files
from webapp.store.backup import COPIES_FOLDER, copy_database, copy_path
from webapp.store.damage import find_damage
from webapp.store.engine import LOGBOOK_FILE, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.revision import newest_revision

OLDER_FORM = "0007"
PAGES_BETWEEN_CHECKPOINTS = 20


def saves_noted(folder: Path, library: Path, saves: int) -> Stream:
    """Save by the app's own pages, take photos and a copy, stop, and note what the disk was asked."""
    before = settled_book(folder)
    tablet = Tablet("power", random.Random(8410))
    settings, clock = Settings(data_folder=folder), FixedClock()
    with recorded(library) as disk:
        app = quick_app(settings, clock)
        store = app.state.context.store
        with store.writer.connect() as connection:
            connection.exec_driver_sql(f"PRAGMA wal_autocheckpoint = {PAGES_BETWEEN_CHECKPOINTS}").fetchone()
        with TestClient(app, base_url=settings.url, follow_redirects=False) as client:
            for number in range(saves):
                clock.move(minutes=1)
                disk.answered(tablet.work(client).form_id)
                if number % 16 == 10 and not tablet.is_in_bin:
                    take_photo(client, tablet, disk, number)
                if number == saves // 2:
                    copy_database(store.file, copy_path(folder, "by-hand", A_SPRING_DAY))
                    make_backup(folder, folder / "backup.zip", A_SPRING_DAY)
    return Stream(folder, disk.events, before, tablet)


def take_photo(client: TestClient, tablet: Tablet, disk: Disk, number: int) -> None:
    picture = plain(disc(size=(90, 60), radius=10.0 + number, rim=5.0))
    files = [("chosen", ("photo.jpg", picture))]
    tablet.unanswered = tablet.post("photo", f"{tablet.batch}/photos", files=files)
    tablet.sent.append(tablet.unanswered)
    disk.answered(tablet.work(client).form_id)


def wrong_after_cut(folder: Path, answered: Tablet) -> list[str]:
    """Return what is wrong with a folder that a cut left; an empty list is a book that lost nothing."""
    book = folder / LOGBOOK_FILE
    wrong = troubles_of_file(book)
    if wrong:
        return wrong
    wrong = lost_or_doubled(book, [answered])
    damage = find_damage(folder)
    if damage is not None:
        wrong.append(f"taken for damage at the start: {damage.words}")
    wrong += photos_without_a_file(folder)
    copies = folder / COPIES_FOLDER
    for copy in copies.glob("*.db") if copies.is_dir() else ():
        wrong += [f"{copy.name}: {trouble}" for trouble in troubles_of_file(copy)]
    return wrong + [f"{file.name} is broken" for file in folder.glob("*.zip") if not is_whole_zip(file)]


def is_whole_zip(file: Path) -> bool:
    try:
        with zipfile.ZipFile(file) as opened:
            return opened.testzip() is None
    except zipfile.BadZipFile:
        return False


@pytest.mark.parametrize(
    ("saves", "every", "samples"),
    [(24, 40, 1), pytest.param(150, 1, 3, marks=pytest.mark.long)],
    ids=["few", "many"],
)
def test_whatever_a_power_cut_leaves_holds_every_answered_save(
    tmp_path: Path, library: Path, tally: Tally, saves: int, every: int, samples: int
) -> None:
    stream = saves_noted(tmp_path / "book", library, saves)
    done = [event.what for event in stream.events]
    assert done.count("answered") == len(stream.tablet.answered) > saves
    assert {"write", "sync", "settle", "rename", "made", "answered", "delete"} <= set(done)
    checkpoints = [e for e in stream.events if e.what == "sync" and e.path.endswith(LOGBOOK_FILE)]
    assert len(checkpoints) >= 3, "the WAL must be folded back within the stream, and begun anew"
    tries, lost = cut_everywhere(stream, tmp_path, every, samples, wrong_after_cut)
    lost += rows_that_differ(tmp_path / "end")
    tally("power cut", tries, lost)
    assert lost == []


@pytest.mark.parametrize(
    ("every", "samples"), [(60, 1), pytest.param(3, 4, marks=pytest.mark.long)], ids=["few", "many"]
)
def test_a_power_cut_while_a_logbook_is_brought_up_to_date_leaves_the_old_form_or_the_new(
    tmp_path: Path, library: Path, tally: Tally, every: int, samples: int
) -> None:
    folder, forms = tmp_path / "book", (OLDER_FORM, newest_revision())
    filled(folder, OLDER_FORM).close()
    before = only_the_book(folder)
    with recorded(library) as disk, closing(open_store(folder)) as store:
        assert bring_up_to_date(store, A_SPRING_DAY) is not None
    found: set[str] = set()

    def one_form_or_the_other(left: Path, _: Tablet) -> list[str]:
        wrong = troubles_of_file(left / LOGBOOK_FILE)
        with closing(sqlite3.connect(left / LOGBOOK_FILE)) as opened:
            (form,) = opened.execute("SELECT version_num FROM alembic_version").fetchone()
            rows = opened.execute("SELECT (SELECT count(*) FROM bar), count(*) FROM reading").fetchone()
        found.add(form)
        return wrong if rows == (1, 1) and form in forms else [*wrong, f"form {form} with {rows}"]

    stream = Stream(folder, disk.events, before, Tablet("nobody", random.Random(1)))
    tries, lost = cut_everywhere(stream, tmp_path, every, samples, one_form_or_the_other)
    tally("power cut in an update of the logbook's form", tries, lost)
    assert lost == []
    assert found == set(forms)


def test_a_book_that_does_not_wait_for_the_disk_is_found_out(
    tmp_path: Path, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hasty = tuple(pragma.replace("synchronous = FULL", "synchronous = NORMAL") for pragma in engine.PRAGMAS)
    assert hasty != engine.PRAGMAS
    monkeypatch.setattr(engine, "PRAGMAS", hasty)
    _, lost = cut_everywhere(saves_noted(tmp_path / "book", library, 3), tmp_path, 40, 0, wrong_after_cut)
    assert any("lost: " in each for each in lost)


def test_a_photo_whose_name_is_not_settled_before_its_row_is_found_out(
    tmp_path: Path, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_files, "_settle", lambda _: None)
    stream = saves_noted(tmp_path / "book", library, 12)
    assert any(post.does == "photo" for post in stream.tablet.answered)
    _, lost = cut_everywhere(stream, tmp_path, 10_000, 0, wrong_after_cut)
    assert any("no whole file of photo" in each for each in lost)
