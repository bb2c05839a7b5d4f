"""Every address that the app answers, with a record of a big book in it, and what answering one costs."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from time import process_time

from fastapi.testclient import TestClient
from sqlalchemy import event

from tests.browser.looks import LOOKS, SHEETS
from tests.conftest import FixedClock
from tests.web.big_book import OF_A_BLOCK, BigBook, copy_big_book
from tests.web.fitted_demo import store_of
from tests.web.page_forms import read_page_form
from tests.web.quick_start import quick_app
from webapp.routes import API, PAGES
from webapp.settings import Settings

SEEN = 200
STARTED = 17  # the batch that the demo starts from its plan
IN_ADDRESS = re.compile(r"(?<=/)(batches|items|readings|plans|photos)/(\d+)|(?<=[?&])(batch|b)=(\d+)")
TABLES = {"batches": "batch", "items": "item", "readings": "reading", "plans": "plan", "photos": "photo",
          "batch": "batch", "b": "batch"}  # fmt: skip
# what stands for each part of an address in braces, by how the address begins
RECORDS = {
    "/plans": ("record_id=1",), "/bars": ("record_id=1", "key=quenched_scrap"), "/parts": ("record_id=1",),
    "/batches": ("batch_id=1", "record_id=1"), "/items": ("item_id=1",), "/readings": ("reading_id=1",),
}  # fmt: skip


@dataclass(frozen=True)
class Answer:
    """One answered request: processor time, queries, bytes."""

    status: int
    seconds: float
    queries: tuple[str, ...]
    size: int


class BookReader:
    """A client of an app on a copy of a book, whose newest plan was started as a batch."""

    def __init__(self, client: TestClient, book: BigBook) -> None:
        self.client, self.book = client, book
        self._asked: list[str] = []
        self._demo_of: dict[str, str] = {}
        store = store_of(client)
        for engine in (store.reader, store.writer):
            event.listen(engine, "before_cursor_execute", self._note)
        with closing(sqlite3.connect(store.file)) as connection:
            self._spans = {table: _top(connection, table) // book.blocks for table in OF_A_BLOCK}
            self._sha = connection.execute("SELECT sha256 FROM photo").fetchone()[0]
        page = client.get(f"/plans/{self.newest('plan', 1)}").text
        start = re.search(r'action="(/batches\?plan=\d+)"', page)
        assert start is not None
        sent = client.post(start[1], data=read_page_form(page, start[1]))
        assert sent.status_code == 303, sent.text
        self.started = int(sent.headers["location"].rpartition("/")[2])

    def newest(self, table: str, demo_id: int) -> int:
        """Return the id that a record of the demo has in the newest block."""
        if table == "batch" and demo_id == STARTED:
            return self.started
        return self.book.newest(demo_id, self._spans[table])

    def placed(self, address: str) -> str:
        """Return an address of the demo with the records of the newest block in it."""

        def record(found: re.Match[str]) -> str:
            family, number, asked, asked_number = found.groups()
            own = self.newest(TABLES[family or asked], int(number or asked_number))
            return f"{family}/{own}" if family else f"{asked}={own}"

        return IN_ADDRESS.sub(record, address)

    def of_demo(self, address: str) -> str:
        """Return the address in the demo of one that `pages` gave, whatever the book."""
        return self._demo_of[address]

    def ask(self, address: str) -> Answer:
        """Ask for a page and count."""
        self._asked.clear()
        began = process_time()
        answer = self.client.get(address)
        seconds = process_time() - began
        return Answer(answer.status_code, seconds, tuple(self._asked), len(answer.content))

    def _note(self, _connection: object, _cursor: object, statement: str, *_: object) -> None:
        self._asked.append(statement)

    def pages(self) -> list[str]:
        """Return every page that is walked in the browser, and every other address the app answers by GET."""
        looked = [look.address for look in LOOKS if look.status == SEEN]
        self._demo_of = {self.placed(one): one for one in (*_demo_addresses(self._sha), *looked)}
        return list(self._demo_of)


def _demo_addresses(sha: str) -> Iterator[str]:
    for prefix, routers in (("", PAGES), ("/api", API)):
        for router in routers:
            for route in router.routes:
                if "GET" in route.methods:  # type: ignore[attr-defined]
                    yield from _filled(prefix + route.path, sha)  # type: ignore[attr-defined]


def _filled(path: str, sha: str) -> Iterator[str]:
    if path == "/{family}/{record_id}/set-aside":
        yield from ("/batches/1/set-aside", "/items/1/set-aside", "/readings/1/set-aside")
    elif path.startswith("/shop/{key}"):
        ids = {"record_id": "1"}
        for key in SHEETS:
            if not (path.endswith("/checks") and key not in ("heats", "testers", "ovens")):
                yield path.format(key=key, **ids)
    elif path.endswith("/steps/{action}"):
        yield path.format(batch_id=STARTED, item_id=1, action="box_in")
    elif path == "/plans/new":
        yield "/plans/new?part=1"
    elif path.startswith("/copies/"):
        pass  # a copy's own file, of which this book has none
    else:
        yield path.format(
            record_id=1, batch_id=1, item_id=1, reading_id=1, plan_id=1, step_id=1, photo_id=1, sha256=sha,
            topic="carbon", code="000000", table="batch", line_id=1,
            key="quenched_scrap" if path.startswith("/bars") else "none",
        )  # fmt: skip


def _top(connection: sqlite3.Connection, table: str) -> int:
    return int(connection.execute(f'SELECT max(id) FROM "{table}"').fetchone()[0])


@contextmanager
def reading(settings: Settings, book: BigBook) -> Iterator[BookReader]:
    """Open a copy of a book in an app whose keeper of the fit does not run."""
    copy_big_book(settings.data_folder, book)
    app = quick_app(settings, FixedClock(book.now))
    client = TestClient(app, base_url=settings.url, follow_redirects=False)
    with closing(client), closing(app.state.context.store):
        yield BookReader(client, book)
