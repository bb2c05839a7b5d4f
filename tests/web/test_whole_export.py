"""What is taken along goes out row by row: the same bytes, little memory, whole or not at all."""

from __future__ import annotations

import asyncio
import io
import json
import resource
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from tests.conftest import A_SPRING_DAY
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.many_batches import fill
from tests.web.run_aside import run_aside
from webapp import made_file
from webapp.forms.logbook_output import ExportAnswer
from webapp.services import json_reader, stored_rows
from webapp.services.json_pieces import JsonPieces
from webapp.services.json_reader import JsonReader
from webapp.services.whole_export import about, document_pieces, kept_tables, write_tables
from webapp.settings import Settings
from webapp.store.engine import Store, read
from webapp.store.unit_of_work import plain_value

WHOLE = ("/logbook.csv", "/readings.csv", "/everything.zip", "/api/export")
BATCHES, CHANGES = 250, 1_500
LIMIT_MB = 2.5  # it takes 1.0 to 1.4; built whole in memory, as it once was, 4 to 10
LONG_NOTE = {"note": "a broken face, white to the eye, " * 30, "at": [0.1, 1e-05, None]}


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


@pytest.fixture
def grown(app_store: Store) -> Store:
    """Some hundred batches and a long change record, written straight into the tables of the app."""
    fill(app_store, BATCHES)
    columns = "happened_at, device, table_name, record_id, action, before, after"
    with app_store.lock, app_store.writer.begin() as connection:
        connection.exec_driver_sql(
            f"WITH RECURSIVE n(k) AS (VALUES (1) UNION ALL SELECT k + 1 FROM n WHERE k < {CHANGES}) "
            f"INSERT INTO change ({columns}) SELECT '2026-04-03 12:02:00', 'tablet', 'batch', k, 'changed', "
            "'{}', ? FROM n",
            (json.dumps(LONG_NOTE),),
        )
    return app_store


class Asked:
    """One request that no client keeps the answer of: what was sent, and what was seen while it was sent."""

    def __init__(self, app: FastAPI, address: str, look: Callable[[], object] = lambda: None) -> None:
        self.app, self.address, self.look = app, address, look
        self.headers: dict[str, str] = {}
        self.status, self.sent, self.seen = 0, 0, list[object]()

    async def ask(self, hang_up_after: int | None = None) -> None:
        gone, is_asked = asyncio.Event(), False
        host = self.app.state.context.settings.url.partition("//")[2]

        async def receive() -> dict[str, Any]:
            nonlocal is_asked
            if not is_asked:
                is_asked = True
                return {"type": "http.request", "body": b"", "more_body": False}
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                self.status = message["status"]
                self.headers = {name.decode(): value.decode() for name, value in message["headers"]}
                return
            self.sent += len(message.get("body", b""))
            self.seen.append(self.look())
            if hang_up_after is not None and self.sent > hang_up_after:
                gone.set()
                await asyncio.sleep(30)  # the tablet takes no more; the server is to end this

        scope = {
            "type": "http", "asgi": {"version": "3.0", "spec_version": "2.3"}, "http_version": "1.1",
            "method": "GET", "path": self.address, "raw_path": self.address.encode(), "query_string": b"",
            "root_path": "", "scheme": "http", "client": ("127.0.0.1", 5), "server": ("127.0.0.1", 80),
            "headers": [(b"host", host.encode())], "state": {},
        }  # fmt: skip
        await self.app(scope, receive, send)  # type: ignore[arg-type]


@pytest.mark.usefixtures("grown")
def test_what_is_taken_along_is_never_held_whole(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(made_file, "MOST_IN_MEMORY", 1)
    most, sizes = {}, {}
    for address in WHOLE:
        run_aside(Asked(app, address).ask())
        tracemalloc.start()
        asked = Asked(app, address)
        run_aside(asked.ask())
        most[address] = tracemalloc.get_traced_memory()[1] / 1024**2
        tracemalloc.stop()
        sizes[address] = asked.sent
        assert (asked.status, asked.headers["content-length"]) == (200, str(asked.sent))
    assert sizes["/api/export"] > 2 * 1024**2
    assert {address: round(peak, 1) for address, peak in most.items() if peak > LIMIT_MB} == {}


@pytest.mark.parametrize("address", WHOLE)
def test_the_logbook_is_not_held_while_a_file_is_sent(
    app: FastAPI, grown: Store, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setattr(made_file, "MOST_IN_MEMORY", 1)
    asked = Asked(app, address, look=lambda: grown.doors._inside)
    run_aside(asked.ask())
    assert set(asked.seen) == {0}


def test_a_tablet_that_hangs_up_leaves_no_file(
    app: FastAPI, grown: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(made_file, "MOST_IN_MEMORY", 1)
    before = sorted(grown.folder.iterdir())
    during = Asked(app, "/api/export", look=lambda: sorted(grown.folder.iterdir()))
    run_aside(asyncio.wait_for(during.ask(hang_up_after=1), 10.0))
    assert 0 < during.sent < int(during.headers["content-length"])
    assert during.seen == [before]  # it has no name even while it is sent, so a kill leaves nothing
    assert open_files(grown.folder) == set()


def open_files(folder: Path) -> set[str]:
    """Return the files without a name that this process holds open in a folder."""
    found = (Path(f"/proc/self/fd/{one.name}") for one in Path("/proc/self/fd").iterdir())
    names = {str(one.readlink()) for one in found if one.is_symlink()}
    return {name for name in names if name.startswith(str(folder)) and name.endswith("(deleted)")}


@contextmanager
def largest_file(length: int) -> Iterator[None]:
    """Let no file of this process grow past a length, as a full disk would."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (length, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_disk_without_room_is_told_in_words_and_no_half_file_is_sent(
    client: TestClient, grown: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(made_file, "MOST_IN_MEMORY", 1)
    for address in WHOLE:
        with largest_file(5_000):
            answer = client.get(address, headers={"Accept-Encoding": "identity"})
        assert answer.status_code == 503, address
        assert "The file could not be made: the disk gives the logbook no more room" in unescape(answer.text)
        assert client.get(address).status_code == 200
    assert open_files(grown.folder) == set()


def test_a_short_export_needs_no_room_on_the_disk(demo: TestClient) -> None:
    with largest_file(0):
        assert {address: demo.get(address).status_code for address in WHOLE} == dict.fromkeys(WHOLE, 200)


def whole(store: Store) -> tuple[bytes, bytes]:
    """Return the document and the zip of a logbook."""
    with read(store) as session:
        write_tables(session, A_SPRING_DAY, tables := io.BytesIO())
        return b"".join(document_pieces(session, A_SPRING_DAY)), tables.getvalue()


def test_the_document_is_what_its_description_makes_of_all_rows(demo: TestClient) -> None:
    with read(store_of(demo)) as session:
        rows = {
            table.name: [
                {name: plain_value(value) for name, value in row.items()}
                for row in session.execute(select(table).order_by(*table.primary_key)).mappings()
            ]
            for table in kept_tables()
        }
        told = ExportAnswer.model_validate({**about(session, A_SPRING_DAY), "tables": rows})
    assert whole(store_of(demo))[0] == told.model_dump_json(by_alias=True).encode()


def test_texts_too_long_to_be_unpacked_whole_go_out_the_same(
    demo: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_usual = whole(store_of(demo))
    monkeypatch.setattr(stored_rows, "LONG_TEXT", 3)
    assert whole(store_of(demo)) == as_usual


def test_the_zip_is_one_that_any_program_reads(demo: TestClient) -> None:
    archive = zipfile.ZipFile(io.BytesIO(whole(store_of(demo))[1]))
    assert archive.testzip() is None
    assert len(archive.namelist()) == 1 + len(kept_tables())


TEXTS = st.text(st.characters(codec="utf-8"), max_size=12)
JSONS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=12,
)


@pytest.mark.property
@given(value=JSONS, chunk=st.integers(1, 40), is_ascii=st.booleans(), indent=st.none() | st.just(1))
def test_json_read_in_pieces_is_what_was_written(
    value: Any, chunk: int, is_ascii: bool, indent: int | None
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(json_reader, "CHUNK", chunk)
        text = json.dumps(value, ensure_ascii=is_ascii, indent=indent)
        assert JsonReader(io.StringIO(text).read).value() == value
        reader = JsonReader(io.StringIO(text).read)
        anew = "".join(JsonPieces(lambda v: json.dumps(v, ensure_ascii=False), ", ", ": ").of(reader))
        reader.end()
    assert anew == json.dumps(value, ensure_ascii=False)


@pytest.mark.parametrize(
    "text", ["", "[1 2]", "[1,]", '{"a" 1}', '{"a": 1', '"half', '"\\q"', '"\\u12"', "[1}", "{1: 2}"]
)
def test_what_is_no_json_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        "".join(JsonPieces(json.dumps, ", ", ": ").of(JsonReader(io.StringIO(text).read)))
