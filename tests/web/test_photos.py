"""Photos of a piece or a batch: many at once, captioned, removed and put back, kept whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import io
import os
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from PIL import Image

from tests.web.batch_steps import press, rows, start
from tests.web.drawn_photos import SECRET, as_camera, disc, plain
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.pages import photos as photo_pages
from webapp.settings import Settings
from webapp.store import photo_files
from webapp.store.engine import Store
from webapp.store.photo_files import PHOTO_FOLDER
from webapp.store.tables import Photo

PIN, BATCH = "/items/1", "/batches/1"
ODD_NAMES = ("../../etc/x.jpg", "..\\..\\x.jpg", "a\0b.png", "<script>alert(1)</script>.jpg", "é" * 300)
Named = tuple[str, bytes]


@pytest.fixture(autouse=True)
def _packed(client: TestClient) -> None:
    begin(client)
    start(client)


def give(client: TestClient, page: str, *files: bytes | Named) -> Response:
    action = f"{page}/photos"
    fields = {"form_id": read_page_form(client.get(page).text, action)["form_id"][0]}
    named = [file if isinstance(file, tuple) else ("photo.jpg", file) for file in files]
    return client.post(action, data=fields, files=[("chosen", file) for file in named])


def on_disk(settings: Settings) -> list[Path]:
    folder = settings.data_folder / PHOTO_FOLDER
    return sorted(folder.iterdir()) if folder.is_dir() else []


def sources(html: str) -> list[str]:
    return re.findall(r'<img src="(/photos/[^"]+)"', html)


def test_several_photos_of_a_piece_are_kept_at_once_and_shown_small(
    client: TestClient, app_store: Store, settings: Settings
) -> None:
    answer = give(client, PIN, as_camera(disc()), plain(disc(radius=150)))
    assert (answer.status_code, answer.headers["location"]) == (303, PIN)
    first, second = rows(app_store, Photo)
    assert (first.item_id, first.batch_id, first.width_px, first.height_px) == (1, None, 600, 900)
    page = client.get(PIN).text
    assert sources(page) == [f"/photos/{photo.sha256}-small.jpg" for photo in (first, second)]
    assert "2 photos" in text_of(page)
    for photo in (first, second):
        kept = (settings.data_folder / PHOTO_FOLDER / f"{photo.sha256}.jpg").read_bytes()
        assert hashlib.sha256(kept).hexdigest() == photo.sha256
        assert len(kept) == photo.size_bytes
    assert len(on_disk(settings)) == 4


def test_a_batch_shows_its_own_photos_and_those_of_its_pieces(client: TestClient, app_store: Store) -> None:
    assert give(client, BATCH, plain(disc())).headers["location"] == BATCH
    give(client, PIN, plain(disc(radius=100)))
    own, of_pin = rows(app_store, Photo)
    assert (own.batch_id, own.item_id) == (1, None)
    assert len(set(sources(client.get(BATCH).text))) == 2
    assert sources(client.get(PIN).text) == [f"/photos/{of_pin.sha256}-small.jpg"]
    assert "added photo" in text_of(client.get(BATCH).text)


def test_what_is_served_is_a_bare_picture_that_a_browser_may_keep(
    client: TestClient, app_store: Store
) -> None:
    give(client, PIN, as_camera(disc()))
    (photo,) = rows(app_store, Photo)
    for ending, size in ((".jpg", (600, 900)), ("-small.jpg", (267, 400))):
        answer = client.get(f"/photos/{photo.sha256}{ending}")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/jpeg"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "immutable" in answer.headers["cache-control"]
        assert "img-src 'self'" in answer.headers["content-security-policy"]
        assert "content-disposition" not in answer.headers
        assert Image.open(io.BytesIO(answer.content)).size == size
        for told in (SECRET, b"Exif", b"GPS"):
            assert told not in answer.content


@pytest.mark.parametrize("name", ["0" * 64, "..%2f..%2flogbook", "A" * 64, "x", "1" * 63])
@pytest.mark.parametrize("ending", [".jpg", "-small.jpg"])
def test_no_other_file_is_served(client: TestClient, name: str, ending: str) -> None:
    assert client.get(f"/photos/{name}{ending}").status_code == 404


def test_what_a_file_was_called_touches_no_path_and_no_markup(
    client: TestClient, app_store: Store, settings: Settings
) -> None:
    before = {path for path in settings.data_folder.rglob("*") if path.parent.name != PHOTO_FOLDER}
    give(client, PIN, *((name, plain(disc(radius=100 + i))) for i, name in enumerate(ODD_NAMES)))
    assert len(rows(app_store, Photo)) == len(ODD_NAMES)
    after = {path for path in settings.data_folder.rglob("*") if path.parent.name != PHOTO_FOLDER}
    assert after - before == {settings.data_folder / PHOTO_FOLDER}
    assert all(re.fullmatch(r"[0-9a-f]{64}(-small)?\.jpg", path.name) for path in on_disk(settings))
    refused = give(client, PIN, ("<script>alert(1)</script>.jpg", b"no picture"))
    assert refused.status_code == 422
    assert "<script>alert" not in refused.text


def test_a_bad_file_among_good_ones_is_named_and_the_good_ones_are_kept(
    client: TestClient, app_store: Store
) -> None:
    answer = give(client, PIN, plain(disc()), ("notes.txt", b"hello"), plain(disc(radius=90)))
    assert answer.status_code == 422
    said = text_of(answer.text)
    assert "notes.txt: It is not a picture" in said
    assert "The other 2 were kept" in said
    assert len(rows(app_store, Photo)) == 2


def test_no_file_and_too_many_files_are_refused_in_words(
    client: TestClient, app_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    nothing = give(client, PIN, ("", b""))
    assert nothing.status_code == 422
    assert "No photo was picked" in text_of(nothing.text)
    monkeypatch.setattr(photo_pages, "MOST_AT_ONCE", 1)
    many = give(client, PIN, plain(disc()), plain(disc()))
    assert many.status_code == 422
    assert "smaller lots" in text_of(many.text)
    assert rows(app_store, Photo) == []


def test_photos_may_be_large_and_everything_else_may_not(
    client: TestClient, app_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    large = plain(Image.effect_noise((1400, 1400), 90).convert("RGB"))
    assert len(large) > 2 * 1024 * 1024
    assert give(client, PIN, large).status_code == 303
    assert client.post("/photos/1", data={"caption": "x" * len(large)}).status_code == 413
    monkeypatch.setattr("webapp.security.MOST_PHOTO_BODY_BYTES", 1000)
    assert give(client, PIN, large).status_code == 413
    assert len(rows(app_store, Photo)) == 1


def test_a_second_tap_keeps_no_second_photo(client: TestClient, app_store: Store) -> None:
    fields = {"form_id": "the-one-and-only"}
    for _ in range(2):
        answer = client.post(f"{PIN}/photos", data=fields, files={"camera": ("a.png", plain(disc()))})
        assert (answer.status_code, answer.headers["location"]) == (303, PIN)
    assert len(rows(app_store, Photo)) == 1


def test_a_caption_is_kept_and_a_second_tablet_overwrites_nothing(
    client: TestClient, app_store: Store
) -> None:
    give(client, PIN, plain(disc()))
    page = client.get("/photos/1").text
    typed = {**read_page_form(page, "/photos/1"), "caption": "broken end, <b>fine</b> rim"}
    assert client.post("/photos/1", data=typed).headers["location"] == "/photos/1"
    (photo,) = rows(app_store, Photo)
    assert photo.caption == "broken end, <b>fine</b> rim"
    assert "<b>fine</b>" not in client.get(PIN).text
    second = client.post("/photos/1", data={**typed, "form_id": "another-tablet", "caption": "mine"})
    assert second.status_code == 409
    assert "mine" in second.text
    assert rows(app_store, Photo)[0].caption == photo.caption


def test_a_removed_photo_is_gone_until_it_is_put_back(
    client: TestClient, app_store: Store, settings: Settings
) -> None:
    give(client, PIN, plain(disc()))
    (photo,) = rows(app_store, Photo)
    assert press(client, "/photos/1", "/photos/1/remove").headers["location"] == PIN
    page = client.get(PIN).text
    assert "The photo was removed." in page
    assert sources(page) == []
    assert client.get(f"/photos/{photo.sha256}.jpg").status_code == 404
    assert client.get("/photos/1").status_code == 404
    assert len(on_disk(settings)) == 2
    assert client.post("/photos/1/put-back", data={"form_id": "undo-it-now"}).headers["location"] == PIN
    assert client.get(f"/photos/{photo.sha256}.jpg").status_code == 200
    with_changes = [
        row for row in client.get("/api/export").json()["tables"]["change"] if row["table_name"] == "photo"
    ]
    assert [row["action"] for row in with_changes] == ["added", "removed", "put back"]


def test_the_export_lists_each_photo_by_its_hash(client: TestClient, app_store: Store) -> None:
    give(client, PIN, plain(disc()))
    (listed,) = client.get("/api/export").json()["tables"]["photo"]
    (photo,) = rows(app_store, Photo)
    assert (listed["sha256"], listed["item_id"], listed["size_bytes"]) == (photo.sha256, 1, photo.size_bytes)


@pytest.mark.parametrize("step", ["fsync", "replace", "mkstemp"])
def test_a_full_disk_keeps_neither_row_nor_half_a_file(
    client: TestClient, app_store: Store, settings: Settings, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_args: object, **_named: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        room = photo_files.tempfile if step == "mkstemp" else photo_files.os
        patched.setattr(room, step, full)
        answer = give(client, PIN, plain(disc()))
    assert answer.status_code == 503
    assert "the disk is full" in text_of(answer.text)
    assert rows(app_store, Photo) == []
    assert on_disk(settings) == []
    assert give(client, PIN, plain(disc())).status_code == 303


def test_the_files_are_on_the_disk_before_the_row_is_in_the_logbook(
    client: TestClient, app_store: Store, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_args: object) -> None:
        raise RuntimeError("killed between the files and the row")

    with monkeypatch.context() as patched:
        patched.setattr("webapp.services.photos.add_photos", fail)
        assert give(client, PIN, plain(disc())).status_code == 500
    assert len(on_disk(settings)) == 2
    assert rows(app_store, Photo) == []
    assert give(client, PIN, plain(disc())).status_code == 303
    assert len(on_disk(settings)) == 2


def test_a_picture_that_is_lost_from_the_folder_is_missed_in_words(
    client: TestClient, app_store: Store, settings: Settings
) -> None:
    give(client, PIN, plain(disc()))
    for path in on_disk(settings):
        path.unlink()
    (photo,) = rows(app_store, Photo)
    assert client.get(f"/photos/{photo.sha256}.jpg").status_code == 404
    assert client.get("/photos/1").status_code == 200


def test_a_photo_of_nothing_that_is_there_is_refused(client: TestClient, app_store: Store) -> None:
    answer = client.post("/items/99/photos", files={"camera": ("a.png", plain(disc()))})
    assert answer.status_code == 404
    assert rows(app_store, Photo) == []


def test_each_change_of_a_photo_is_in_the_change_record(client: TestClient, app_store: Store) -> None:
    give(client, PIN, plain(disc()))
    send(client, "/photos/1", "/photos/1", caption="the fine rim")
    assert "What it shows: nothing → the fine rim" in text_of(client.get(BATCH).text)


def test_a_photo_of_a_batch_stands_on_its_time_line_with_its_words(
    client: TestClient, app_store: Store
) -> None:
    give(client, BATCH, plain(disc()))
    give(client, PIN, plain(disc(radius=90)))
    send(client, "/photos/1", "/photos/1", caption="seal cracked at the corner")
    line = client.get(BATCH).text.partition('<ol class="timeline">')[2].partition("</ol>")[0]
    own = rows(app_store, Photo)[0]
    assert sources(line) == [f"/photos/{own.sha256}-small.jpg"]
    assert 'href="/photos/1"' in line
    assert "seal cracked at the corner" in line


def test_a_photo_of_something_that_happened_stands_on_its_line_and_on_paper(
    client: TestClient, app_store: Store
) -> None:
    page = f"{BATCH}/events/new"
    assert send(client, page, page, event_kind="seal cracked").status_code == 303
    action = f"{BATCH}/events/1"
    fields = {"form_id": read_page_form(client.get(BATCH).text, f"{action}/photos")["form_id"][0]}
    answer = client.post(f"{action}/photos", data=fields, files=[("camera", ("x.jpg", plain(disc())))])
    assert (answer.status_code, answer.headers["location"]) == (303, BATCH)
    (photo,) = rows(app_store, Photo)
    assert (photo.batch_id, photo.event_id, photo.item_id) == (1, 1, None)
    html = client.get(BATCH).text
    line = re.search(r'<li class="event">.*?</li>', html, re.DOTALL)
    assert line is not None
    assert sources(line[0]) == [f"/photos/{photo.sha256}-small.jpg"]
    assert '<li class="photo">' not in html
    assert "Batch 1, seal cracked" in text_of(client.get("/photos/1").text)
    paper = client.get(f"{BATCH}/print").text
    assert sources(paper.partition("photos-two")[2]) == [f"/photos/{photo.sha256}-small.jpg"]
    assert (
        client.post("/batches/1/events/9/photos", files=[("camera", ("x.jpg", plain(disc())))]).status_code
        == 404
    )
    # once the event is taken back, its photo is one of the batch
    assert client.post(f"{action}/remove").status_code == 303
    assert '<li class="photo">' in client.get(BATCH).text


def test_the_interface_lists_a_coupons_photos_and_the_files_page_says_where_they_lie(
    client: TestClient, app_store: Store, settings: Settings
) -> None:
    assert "none yet" in text_of(client.get("/condition").text)
    give(client, PIN, plain(disc()))
    (coupon,) = client.get("/api/coupons").json()["coupons"]
    (listed,), (photo,) = coupon["photos"], rows(app_store, Photo)
    assert (listed["sha256"], listed["measured"], listed["reading_id"]) == (photo.sha256, {}, None)
    assert client.get(listed["address"]).status_code == 200
    said = text_of(client.get("/condition").text)
    assert "2 files" in said
    assert str(settings.data_folder / PHOTO_FOLDER) in said
