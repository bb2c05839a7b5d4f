"""A damaged logbook is found at the start, its files are kept, and the newest good copy is one tap away."""

from __future__ import annotations

import shutil
import socket
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.kept_books import rows_of
from webapp.commands import rescue as command
from webapp.commands.serve import stands
from webapp.rescue import good_copies, rescue_app
from webapp.settings import Settings
from webapp.store.backup import copy_database, copy_path
from webapp.store.copies import DAILY
from webapp.store.damage import Damage, find_damage, keep_what_reads
from webapp.store.engine import LOGBOOK_FILE, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.swap import ASIDE_FOLDER
from webapp.store.tables import Bar
from webapp.store.unit_of_work import Actor, write

WAL = f"{LOGBOOK_FILE}-wal"
PAGE = 4096


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook as a kill leaves it: with two daily copies, and three saves in its WAL file only."""
    folder, left = tmp_path_factory.mktemp("used"), tmp_path_factory.mktemp("killed")
    with closing(open_store(folder)) as store:
        bring_up_to_date(store, A_SPRING_DAY)
        for day in range(2):
            save(store, f"bar of day {day}")
            now = A_SPRING_DAY + timedelta(days=day)
            copy_database(store.file, copy_path(folder, DAILY, now))
        with closing(sqlite3.connect(store.file)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for number in range(3):
            save(store, f"bar {number} in the wal")
        shutil.copytree(folder, left, dirs_exist_ok=True)
    return left


def save(store: object, name: str) -> None:
    with write(store, Actor("test bench"), A_SPRING_DAY) as work:  # type: ignore[arg-type]
        work.add(Bar(name=name, carbon_low_wt=0.1, carbon_high_wt=0.2, note="x" * 9000))


@pytest.fixture
def folder(killed: Path, tmp_path: Path) -> Path:
    return shutil.copytree(killed, tmp_path / "data")


def bars_in(folder: Path) -> list[str]:
    return [str(row[6]) for row in rows_of(folder / LOGBOOK_FILE)["bar"]]


def overwrite(file: Path, at: int, content: bytes) -> None:
    with file.open("r+b") as out:
        out.seek(at)
        out.write(content)


def flipped_pages(folder: Path) -> None:
    for page in range(2, 30):
        overwrite(folder / LOGBOOK_FILE, page * PAGE, b"\xa5" * PAGE)


def cut_in_half(folder: Path) -> None:
    file = folder / LOGBOOK_FILE
    (folder / WAL).unlink()
    with file.open("r+b") as out:
        out.truncate(file.stat().st_size // 2)


def wrong_head(folder: Path) -> None:
    (folder / WAL).unlink()  # it holds the first page too, and SQLite would read that one
    overwrite(folder / LOGBOOK_FILE, 0, b"not a database!!")


def emptied(folder: Path) -> None:
    (folder / LOGBOOK_FILE).write_bytes(b"")
    (folder / WAL).unlink()


def gone(folder: Path) -> None:
    (folder / LOGBOOK_FILE).unlink()


DAMAGES = (flipped_pages, cut_in_half, wrong_head, emptied, gone)


def frames_of(wal: Path) -> list[int]:
    """Return where each page of a WAL file begins that ends a save."""
    content = wal.read_bytes()
    begins = range(32, len(content), 24 + PAGE)
    return [at for at in begins if struct.unpack(">I", content[at + 4 : at + 8])[0]]


def test_a_whole_logbook_and_one_never_begun_have_no_damage(folder: Path, tmp_path: Path) -> None:
    assert find_damage(folder) is None
    assert bars_in(folder)[-1] == "bar 2 in the wal"
    assert find_damage(tmp_path / "new") is None
    (tmp_path / "begun").mkdir()
    (tmp_path / "begun" / LOGBOOK_FILE).touch()
    assert find_damage(tmp_path / "begun") is None


@pytest.mark.parametrize("damage", DAMAGES)
def test_damage_is_found_and_the_newest_good_copy_is_one_tap_away_and_nothing_is_thrown_away(
    folder: Path, damage: Callable[[Path], None]
) -> None:
    damage(folder)
    before = {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}
    found = find_damage(folder)
    assert found is not None
    assert str(folder / LOGBOOK_FILE) in found.words
    stood: list[bool] = []
    app = rescue_app(Settings(folder), found, FixedClock(), lambda: stood.append(True))
    with TestClient(app, base_url=Settings().url, follow_redirects=False) as client:
        page = client.get("/batches/1")
        assert page.status_code == 503
        assert found.words.split(" (")[0] in page.text.replace("&#39;", "'")
        assert page.text.count("Go back to it") == 2
        assert page.text.index("4 Apr 2026") < page.text.index("3 Apr 2026")
        assert client.get("/api/batches").json() == {"detail": found.words}
        assert client.get("/static/css/base.css").status_code == 200
        action = page.text.partition('action="')[2].partition('"')[0]
        answer = client.post(action)
    assert answer.status_code == 200
    assert "The copy stands" in answer.text
    assert stood == [True]
    assert bars_in(folder) == ["bar of day 0", "bar of day 1"]
    assert find_damage(folder) is None
    asides = list((folder / ASIDE_FOLDER).glob("*"))
    kept = {file.name: file.read_bytes() for aside in asides for file in aside.iterdir()}
    for name in (LOGBOOK_FILE, WAL):
        assert kept.get(name, b"") == before.get(name, b""), name


def test_a_damaged_copy_is_not_offered(folder: Path) -> None:
    newest = max((folder / "copies").glob("*.db"))
    overwrite(newest, 3 * PAGE, b"\xa5" * PAGE * 20)
    wrong_head(folder)
    app = rescue_app(Settings(folder), Damage("It is damaged."), FixedClock(), lambda: None)
    with TestClient(app, base_url=Settings().url) as client:
        page = client.get("/").text
        assert "3 Apr 2026" in page
        assert "4 Apr 2026" not in page
        refused = client.post(f"/rescue/copies/{newest.stem}")
        assert refused.status_code == 503
        assert "damaged" in refused.text
        assert client.post("/rescue/copies/none").status_code == 503


def test_saves_that_were_lost_in_the_wal_are_told_and_what_comes_before_them_is_kept(folder: Path) -> None:
    first, second, _ = frames_of(folder / WAL)
    overwrite(folder / WAL, second + 24 + 100, b"\xa5" * 50)
    before = (folder / WAL).read_bytes()
    found = find_damage(folder)
    assert found is not None
    assert found.is_readable
    assert "The last saves" in found.words
    kept = keep_what_reads(folder, A_SPRING_DAY + timedelta(days=3))
    assert [row[6] for row in rows_of(kept)["bar"]] == ["bar of day 0", "bar of day 1", "bar 0 in the wal"]
    assert (folder / WAL).read_bytes() == before
    assert first < second


def test_a_wal_head_that_does_not_check_out_is_damage(folder: Path) -> None:
    overwrite(folder / WAL, 8, b"\xa5\xa5")
    found = find_damage(folder)
    assert found is not None
    assert found.is_readable


def test_what_a_power_cut_leaves_of_a_save_that_nobody_was_told_of_is_no_damage(folder: Path) -> None:
    wal = folder / WAL
    last = frames_of(wal)[-1]
    whole = wal.read_bytes()
    wal.write_bytes(whole[: last + 1000])
    assert find_damage(folder) is None
    wal.write_bytes(whole[:last] + bytes(len(whole) - last))
    assert find_damage(folder) is None
    wal.write_bytes(whole[: last + 24] + b"\xa5" * PAGE)
    assert find_damage(folder) is None
    wal.write_bytes(whole + whole[32 : 32 + 24 + PAGE].replace(whole[16:24], b"\1" * 8))
    assert find_damage(folder) is None, "left by an earlier round"


def test_a_logbook_that_somebody_chose_to_replace_is_offered_last(folder: Path) -> None:
    aside = folder / ASIDE_FOLDER / "2026-11-28T00-00-00Z"
    aside.mkdir(parents=True)
    shutil.copy(max((folder / "copies").glob("*.db")), aside / LOGBOOK_FILE)
    assert [offer.when[:10] for offer in good_copies(folder)] == ["4 Apr 2026", "3 Apr 2026", "28 Nov 202"]


def test_an_empty_logbook_can_be_begun_with_the_damaged_one_kept(folder: Path) -> None:
    wrong_head(folder)
    app = rescue_app(Settings(folder), Damage("It is damaged."), FixedClock(), lambda: None)
    with TestClient(app, base_url=Settings().url) as client:
        assert "An empty logbook stands" in client.post("/rescue/empty").text
    assert bars_in(folder) == []
    assert len(list((folder / ASIDE_FOLDER).glob(f"*/{LOGBOOK_FILE}"))) == 1


def test_only_the_computer_that_keeps_the_logbook_may_choose(folder: Path) -> None:
    wrong_head(folder)
    settings = Settings(folder, address="192.168.1.5")
    app = rescue_app(settings, Damage("It is damaged."), FixedClock(), lambda: None)
    with TestClient(app, base_url="http://192.168.1.5:8350", client=("192.168.1.7", 5000)) as client:
        for page in (client.get("/"), client.post("/rescue/empty")):
            assert "Go to the computer that keeps it" in page.text
            assert "Go back to it" not in page.text
            assert str(folder) not in page.text
    assert find_damage(folder) is not None


def test_the_start_says_in_its_window_what_the_page_says_and_goes_on_once_a_copy_stands(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong_head(folder)
    settings = Settings(folder, port=8350)

    def choose(server: object, sockets: list[socket.socket]) -> None:
        guarded = server.config.app  # type: ignore[attr-defined]
        with TestClient(guarded, base_url=settings.url) as client:
            assert client.post("/rescue/empty", headers={"sec-fetch-site": "cross-site"}).status_code == 403
            action = client.get("/").text.partition('action="')[2].partition('"')[0]
            client.post(action)
        for each in sockets:
            each.close()

    monkeypatch.setattr(command.uvicorn.Server, "run", choose)
    with closing(socket.socket()) as listener:
        assert stands(settings, [listener], find_damage(folder))
        assert listener.fileno() != -1, "the app answers there next"
    said = capsys.readouterr()
    assert "not a logbook" in said.err
    assert "A good copy: 4 Apr 2026" in said.err
    assert "casewright restore FILE" in said.err
    assert "stands again" in said.out
    assert stands(settings, [], find_damage(folder))
