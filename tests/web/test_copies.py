"""The page of the logbook itself: a copy of everything, the copies kept beside it, and one put back."""

from __future__ import annotations

import io
import re
import threading
import zipfile
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx import Response

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.batch_steps import start
from tests.web.conftest import Save
from tests.web.kept_books import add_photo, pictures_of, rows_of
from tests.web.page_forms import begin, send, text_of
from webapp.context import AppContext
from webapp.copy_keeper import CopyKeeper
from webapp.services.backup_file import BackupFile
from webapp.settings import Settings
from webapp.store import copies as copies_module
from webapp.store.copies import KEPT_FOR, let_go, list_copies
from webapp.store.doors import Doors
from webapp.store.engine import LOGBOOK_FILE, Store, read
from webapp.store.errors import CannotSave
from webapp.store.tables import Bar, Batch, Shop
from webapp.store.unit_of_work import Actor, write


@pytest.fixture(autouse=True)
def _in_use(client: TestClient) -> None:
    begin(client)
    start(client)


def note_of(store: Store) -> str:
    with read(store) as session:
        return session.get_one(Batch, 1).note


def rename(save: Save, words: str) -> None:
    with save() as work:
        work.change(work.get(Batch, 1), note=words)


def keeper_of(app: FastAPI) -> CopyKeeper:
    context: AppContext = app.state.context
    return context.copy_keeper


def send_file(client: TestClient, content: bytes, name: str = "copy.zip") -> Response:
    return client.post("/copies/look", files={"copy": (name, content)})


def test_one_button_gives_a_whole_checked_copy_and_the_page_remembers_that(
    client: TestClient, app_store: Store, save: Save, tmp_path: Path
) -> None:
    assert "Nobody has taken one yet" in text_of(client.get("/condition").text)
    with save() as work:
        add_photo(work, app_store)
    answer = send(client, "/condition", "/copies/whole")
    assert answer.status_code == 200
    assert re.search(r'filename="my-shop-2026-04-03-\d{4}\.zip"', answer.headers["content-disposition"])
    (tmp_path / "got.zip").write_bytes(answer.content)
    with closing(BackupFile(tmp_path / "got.zip")) as backup:
        backup.check()
        assert len(backup.photos) == 2
    assert not list((app_store.folder / "making").iterdir())
    said = text_of(client.get("/condition").text)
    assert "Last taken on 3 Apr 2026" in said
    assert "saved since" not in said
    rename(save, "later")
    assert "1 change was saved since" in text_of(client.get("/condition").text)


def test_neither_passcode_nor_sessions_nor_forecasts_are_in_a_copy_of_everything(
    client: TestClient, app_store: Store
) -> None:
    for name in ("forecasts.npz", "access.db", "door.json", "sessions.json"):
        (app_store.folder / name).write_bytes(b"secret of this computer")
    content = send(client, "/condition", "/copies/whole").content
    names = zipfile.ZipFile(io.BytesIO(content)).namelist()
    ours = r"logbook\.db|photos/|tables/|backup\.json|read-me"
    assert [name for name in names if not re.match(ours, name)] == []
    assert b"secret of this computer" not in content


def test_a_copy_is_looked_at_then_put_back_while_the_app_runs_and_the_undo_brings_the_other_back(
    client: TestClient, app_store: Store, save: Save
) -> None:
    with save() as work:
        add_photo(work, app_store)
    rename(save, "when it was copied")
    pictures = pictures_of(app_store.folder)
    content = send(client, "/condition", "/copies/whole").content
    rename(save, "written later")
    for file in (app_store.folder / "photos").iterdir():
        file.unlink()
    looked = send_file(client, content)
    assert looked.status_code == 303
    page = looked.headers["location"]
    text = text_of(client.get(page).text)
    assert "read from end to end and is whole" in text
    assert "no picture" not in text
    assert note_of(app_store) == "written later"
    assert not pictures_of(app_store.folder), "looking keeps nothing"
    answer = send(client, page, page.partition("?")[0].replace("look", "put-back"))
    assert (answer.status_code, answer.headers["location"]) == (303, "/condition")
    assert note_of(app_store) == "when it was copied"
    assert pictures_of(app_store.folder) == pictures
    shown = client.get("/condition").text
    assert "1 batch, 1 piece, 1 photo came back" in shown
    assert "Put back on 3 Apr 2026" in shown
    assert client.get("/batches/1").status_code == 200
    undo = re.search(r'action="(/copies/put-back/set-aside/[^"]+)"', shown)
    assert undo is not None
    assert client.post(undo[1], data={"form_id": "x" * 12}).status_code == 303
    assert note_of(app_store) == "written later"
    rename(save, "and saves go on")
    assert note_of(app_store) == "and saves go on"


def test_everything_as_json_is_put_back_by_the_same_page(
    client: TestClient, app_store: Store, save: Save
) -> None:
    document = client.get("/api/export").content
    rename(save, "written later")
    page = send_file(client, document, "all.json").headers["location"]
    assert "everything as JSON, without photos" in text_of(client.get(page).text)
    send(client, page, page.partition("?")[0].replace("look", "put-back"))
    assert note_of(app_store) == ""


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not JSON"),
        (b"PK\x03\x04", "damaged or cut short"),
        (b"SQLite format 3\0" + bytes(999), "damaged"),
    ],
)
def test_what_is_no_copy_is_refused_on_the_page_and_nothing_moves(
    client: TestClient, app_store: Store, content: bytes, words: str
) -> None:
    before = rows_of(app_store.file)
    answer = client.get(send_file(client, content, "<b>odd.zip").headers["location"])
    assert answer.status_code == 422
    assert words in text_of(answer.text)
    assert "<b>odd" not in answer.text
    assert rows_of(app_store.file) == before


def test_nothing_picked_and_copies_that_are_not_there_are_told(client: TestClient, app_store: Store) -> None:
    assert "No file was picked" in client.post("/copies/look", data={"form_id": "x" * 12}).text
    (app_store.folder / "copies").mkdir()
    (app_store.folder / "outside.db").write_bytes(app_store.file.read_bytes())
    for place, name in (("copies", "..%2Foutside"), ("copies", "none"), ("..", "outside"), ("incoming", "x")):
        assert client.get(f"/copies/look/{place}/{name}").status_code == 404
        assert client.get(f"/copies/file/{place}/{name}").status_code == 404
        assert client.post(f"/copies/put-back/{place}/{name}").status_code == 404


def test_a_day_has_one_copy_and_only_when_something_changed(
    app: FastAPI, client: TestClient, save: Save, clock: FixedClock, settings: Settings
) -> None:
    keeper = keeper_of(app)
    first = keeper.look()
    assert first is not None
    assert keeper.look() is None
    rename(save, "the same day")
    assert keeper.look() is None
    clock.move(days=1)
    second = keeper.look()
    assert second is not None
    assert "the same day" in str(rows_of(second)["batch"])
    clock.move(days=1)
    assert keeper.look() is None, "nothing changed"
    text = client.get("/condition").text
    assert text_of(text).count("the day's copy") == 2
    assert text.count('class="tag done"') == 2
    assert len(list_copies(settings.data_folder)) == 2


def test_a_days_copy_can_be_taken_along_and_put_back(
    app: FastAPI, client: TestClient, app_store: Store, save: Save
) -> None:
    rename(save, "copied")
    made = keeper_of(app).look()
    assert made is not None
    rename(save, "later")
    assert client.get(f"/copies/file/copies/{made.stem}").content == made.read_bytes()
    page = f"/copies/look/copies/{made.stem}"
    send(client, page, page.replace("look", "put-back"))
    assert note_of(app_store) == "copied"


def test_copies_go_after_fourteen_days_but_never_the_last_good_one(
    app: FastAPI, save: Save, clock: FixedClock, settings: Settings
) -> None:
    keeper, made = keeper_of(app), []
    for day in range(4):
        rename(save, f"day {day}")
        made.append(keeper.look())
        clock.move(days=1)
    long_after = A_SPRING_DAY + KEPT_FOR + timedelta(days=2)
    assert let_go(settings.data_folder, A_SPRING_DAY + KEPT_FOR) == []
    assert [file.name for file in let_go(settings.data_folder, long_after)] == [
        copy.name for copy in (made[1], made[0]) if copy
    ]
    very_long_after = long_after + timedelta(days=300)
    assert let_go(settings.data_folder, very_long_after) == [made[2]]
    assert made[3] is not None
    damaged = bytearray(made[3].read_bytes())
    damaged[5000:9000] = bytes(4000)
    made[3].write_bytes(damaged)
    assert let_go(settings.data_folder, very_long_after) == []
    assert [copy.file for copy in list_copies(settings.data_folder)] == [made[3]]


def test_a_damaged_copy_is_said_to_be_and_is_not_put_back(
    app: FastAPI, client: TestClient, app_store: Store
) -> None:
    made = keeper_of(app).look()
    assert made is not None
    content = bytearray(made.read_bytes())
    content[4096 * 3 : 4096 * 5] = b"\xff" * 8192
    made.write_bytes(content)
    assert 'class="tag bad"' in client.get("/condition").text
    before = rows_of(app_store.file)
    answer = client.post(f"/copies/put-back/copies/{made.stem}", data={"form_id": "x" * 12})
    assert answer.status_code == 422
    assert "damaged" in text_of(answer.text)
    assert rows_of(app_store.file) == before


def test_a_copy_that_cannot_be_taken_is_told_on_the_page(
    app: FastAPI, client: TestClient, monkeypatch: pytest.MonkeyPatch, settings: Settings
) -> None:
    (settings.data_folder / "copies").write_text("a file where the folder should be")
    assert keeper_of(app).look() is None
    assert "a file stands where the folder should be" in text_of(client.get("/condition").text)


def test_readers_and_savers_wait_for_an_exchange_and_an_exchange_waits_for_them(app_store: Store) -> None:
    seen: list[str] = []
    done = threading.Event()

    def read_late() -> None:
        with read(app_store) as session:
            seen.append(session.get_one(Shop, 1).name)
        with write(app_store, Actor("another"), A_SPRING_DAY) as work:
            work.add(Bar(name="late", carbon_low_wt=0.1, carbon_high_wt=0.2))
        done.set()

    with app_store.exchanging():
        reader = threading.Thread(target=read_late)
        reader.start()
        assert not done.wait(0.1)
        assert seen == []
    assert done.wait(20)
    reader.join()
    assert seen == ["My shop"]


def test_an_exchange_that_finds_somebody_reading_gives_up_and_a_reader_may_come_in_twice(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("webapp.store.doors.PATIENCE_S", 0.01)
    monkeypatch.setattr("webapp.store.doors.SHUT_FOR_S", 0.01)
    doors = Doors()
    with doors.inside(), doors.inside(), pytest.raises(CannotSave, match="read all the time"), doors.shut():
        pass
    with doors.shut(), pytest.raises(CannotSave, match="being exchanged"), doors.inside():
        pass


def test_another_program_that_has_the_logbook_open_stops_an_exchange(app_store: Store) -> None:
    app_store.file.with_name(f"{LOGBOOK_FILE}-wal").touch()
    held = copies_module.sqlite3.connect(app_store.file)
    held.execute("SELECT count(*) FROM bar").fetchone()
    with pytest.raises(CannotSave, match="Another program"), app_store.exchanging():
        pass
    held.close()
    with app_store.exchanging():
        pass
