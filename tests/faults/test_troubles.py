"""The disk, the folder or the clock fails under a running app: said in words, nothing typed is lost.

The faults are put in SQLite's way and the app's own (`recorded_disk.py`) or set by the system itself (the
size a file may have, the rights of a folder). Each time: no page fails, the form comes back with all that
was typed, and once the trouble is gone the same form is saved, once.
"""

from __future__ import annotations

import ctypes
import os
import resource
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from tests.faults.servers import COMMAND, ENVIRONMENT, PATIENCE_S, Served, Servers
from tests.faults.tally import Tally
from tests.faults.the_book import rows_that_differ, troubles_of_file
from tests.web.drawn_photos import disc, plain
from tests.web.page_forms import read_page_form, text_of
from webapp.store.engine import LOGBOOK_FILE

BAR = {"name": "Grey <b>rod</b>", "grade": "1018", "carbon_low_wt": "0,15", "carbon_high_wt": "0.2"}
TYPED = {**BAR, "note": "from the left rack\nsecond shelf"}
PAGES = ("/", "/bars", "/bars/new", "/condition", "/api/batches", "/api/export")
WORDS = {
    "full": "the disk is full; make room and try again",
    "no write": "the disk reported a fault; see that it is there and has room, then try again",
    "no sync": "the disk reported a fault; see that it is there and has room, then try again",
}
PR_CAPBSET_DROP, CAP_DAC_OVERRIDE = 24, 1


@pytest.fixture
def fault(tmp_path: Path) -> Path:
    file = tmp_path / "fault.txt"
    file.write_text("")
    return file


@pytest.fixture
def served(servers: Servers, book: Path, fault: Path) -> Iterator[Served]:
    with servers.running(book, fault=fault) as running:
        yield running


def speaking(served: Served) -> httpx.Client:
    return httpx.Client(base_url=served.url, timeout=PATIENCE_S)


def bars(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / LOGBOOK_FILE)) as book:
        return [row[0] for row in book.execute("SELECT name FROM bar WHERE name LIKE 'Grey%'")]


def refused_in_words(client: httpx.Client, words: str, form_id: str) -> dict[str, list[str]]:
    """Send a bar while something is wrong, in both ways; return the form that came back with it."""
    typed = {**TYPED, "form_id": form_id}
    by_htmx = client.post("/bars", data=typed, headers={"HX-Request": "true"})
    answer = client.post("/bars", data=typed)
    for given in (by_htmx, answer):
        assert given.status_code == 503, given.text
        assert f"Not saved: {words}" in text_of(given.text)
        assert "Traceback" not in given.text
    assert "<b>rod</b>" not in answer.text
    back = read_page_form(answer.text, "/bars")
    assert {name: texts[0] for name, texts in back.items()} == typed
    return back


def every_page_answers(client: httpx.Client) -> None:
    assert {page: client.get(page).status_code for page in PAGES} == dict.fromkeys(PAGES, 200)


def saved_once(served: Served, client: httpx.Client, folder: Path, back: dict[str, list[str]]) -> list[str]:
    """Send the form that came back, twice; return what is wrong with the book after it and after a kill."""
    for _ in range(2):
        answer = client.post("/bars", data=back)
        assert (answer.status_code, answer.headers["location"]) == (303, "/bars"), answer.text
    served.kill()
    return [*troubles_of_file(folder / LOGBOOK_FILE), *rows_that_differ(folder), *bars(folder)[1:]]


@pytest.mark.parametrize("trouble", sorted(WORDS))
def test_a_disk_that_fails_is_told_in_words_and_nothing_typed_is_lost(
    served: Served, fault: Path, book: Path, trouble: str, tally: Tally
) -> None:
    with speaking(served) as client:
        fault.write_text(trouble)
        every_page_answers(client)
        back = refused_in_words(client, WORDS[trouble], "form-number-1")
        every_page_answers(client)
        assert bars(book) == []
        fault.write_text("")
        wrong = saved_once(served, client, book, back)
    tally(f"disk: {trouble}", 1, wrong)
    assert wrong == []
    assert bars(book) == [TYPED["name"]]


def test_a_sync_that_fails_before_the_power_goes_leaves_the_form_saved_once_or_not_at_all(
    served: Served, servers: Servers, fault: Path, book: Path, tally: Tally
) -> None:
    with speaking(served) as client:
        fault.write_text("no sync")
        back = refused_in_words(client, WORDS["no sync"], "form-number-1")
    served.kill()
    assert troubles_of_file(book / LOGBOOK_FILE) == []
    with servers.running(book) as again, speaking(again) as client:
        wrong = saved_once(again, client, book, back)
    tally("disk: no sync, then a kill", 1, wrong)
    assert wrong == []
    assert bars(book) == [TYPED["name"]]


@pytest.mark.parametrize("trouble", ["full", "no sync"])
def test_a_photo_that_the_disk_does_not_take_is_told_in_words_and_taken_later(
    served: Served, fault: Path, book: Path, trouble: str
) -> None:
    picture = [("chosen", ("p.jpg", plain(disc(size=(90, 60), radius=20.0, rim=5.0))))]
    with speaking(served) as client:
        batch = client.post("/batches", data={"form_id": "a-batch"}).headers["location"]
        fault.write_text(trouble)
        answer = client.post(f"{batch}/photos", data={"form_id": "a-photo"}, files=picture)
        assert answer.status_code == 503
        assert "Nothing was changed" in text_of(answer.text)
        assert client.get(batch).status_code == 200
        fault.write_text("")
        answer = client.post(f"{batch}/photos", data={"form_id": "a-photo"}, files=picture)
        assert answer.headers["location"] == batch
    with closing(sqlite3.connect(book / LOGBOOK_FILE)) as opened:
        (name,) = opened.execute("SELECT sha256 FROM photo").fetchone()
    assert (book / "photos" / f"{name}.jpg").is_file()


def test_a_file_that_may_grow_no_more_is_told_in_words(servers: Servers, book: Path, tally: Tally) -> None:
    with servers.running(book) as served, speaking(served) as client:
        client.post("/batches", data={"form_id": "a-batch-to-begin-with"})
        every_page_answers(client)
        before = resource.prlimit(served.pid, resource.RLIMIT_FSIZE)
        size = (book / f"{LOGBOOK_FILE}-wal").stat().st_size
        resource.prlimit(served.pid, resource.RLIMIT_FSIZE, (size, before[1]))
        back = refused_in_words(client, WORDS["no write"], "form-number-1")
        every_page_answers(client)
        resource.prlimit(served.pid, resource.RLIMIT_FSIZE, before)
        wrong = saved_once(served, client, book, back)
    tally("a file may not grow (RLIMIT_FSIZE)", 1, wrong)
    assert wrong == []
    assert bars(book) == [TYPED["name"]]


def bound_by_rights() -> None:
    """In the new process: give up what lets root write where it may not."""
    ctypes.CDLL(None).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0)


def may_grow_no_file() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))


def try_to_start(folder: Path, bound: Callable[[], None]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *COMMAND, str(folder)],
        capture_output=True,
        env=dict(os.environ) | ENVIRONMENT,
        preexec_fn=bound,
        text=True,
        timeout=PATIENCE_S,
    )


def test_a_read_only_folder_is_told_in_words_at_the_start(servers: Servers, book: Path) -> None:
    files = [path for path in book.iterdir() if path.is_file()]
    for path in files:
        path.chmod(0o444)
    book.chmod(0o555)
    try:
        started = try_to_start(book, bound_by_rights)
    finally:
        book.chmod(0o755)
    assert started.returncode == 1, started.stdout
    assert "this user may not write there; allow it or choose another folder with --data" in started.stderr
    assert "Traceback" not in started.stderr
    for path in files:
        path.chmod(0o644)
    with servers.running(book) as served, speaking(served) as client:
        assert client.get("/bars").status_code == 200


def test_a_full_disk_is_told_in_words_at_the_start(book: Path) -> None:
    started = try_to_start(book, may_grow_no_file)
    assert started.returncode == 1, started.stdout
    assert "cannot be used" in started.stderr
    assert "Traceback" not in started.stderr
    assert troubles_of_file(book / LOGBOOK_FILE) == []
