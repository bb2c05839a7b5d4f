"""One writer at a time: begun at once, committed before the answer, waited for, and said in words."""

from __future__ import annotations

import ast
import random
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event
from sqlmodel import select

from tests.faults.tablets import Tablet
from tests.web.page_forms import read_page_form, text_of
from webapp.context import AppContext
from webapp.store import unit_of_work
from webapp.store.engine import read
from webapp.store.errors import CannotSave
from webapp.store.tables import Bar

WEBAPP = Path(unit_of_work.__file__).parents[1]
# each with what it does there; all others read by `read` and save by `write`
OPEN_THE_BOOK = {
    "store/engine.py": "opens both engines",
    "store/unit_of_work.py": "every save",
    "store/word_index.py": "builds the index at the start, under the lock",
    "store/migrate.py": "brings it up to date at the start, under the lock",
    "store/backup.py": "copies and checks, writes to files of its own",
    "services/read_back.py": "fills a new book in a folder that holds none",
    "store/damage.py": "looks at it before anything opens it, read-only",
    "store/copies.py": "reads a copy, read-only",
    "services/copy_view.py": "reads a copy, read-only",
    "services/backup.py": "reads a copy",
    "services/restore.py": "looks at what is to be put back, read-only",
    "gate/door_file.py": "a file of its own: who may come in",
}
OPENERS = ("sqlite3.connect", "create_engine", "sqlalchemy.create_engine", "make_engine")
BAR = {"name": "Grey rod", "grade": "1018", "carbon_low_wt": "0.15", "carbon_high_wt": "0.2"}


@pytest.fixture
def context(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> AppContext:
    monkeypatch.setattr(unit_of_work, "LOCK_TIMEOUT_S", 0.05)
    found: AppContext = client.app.state.context  # type: ignore[attr-defined]
    return found


def test_a_save_that_waits_for_another_too_long_comes_back_with_what_was_typed(
    client: TestClient, context: AppContext
) -> None:
    sent = {**BAR, "form_id": "form-number-1", "note": ""}
    with context.store.lock:
        answer = client.post("/bars", data=sent)
    assert answer.status_code == 503
    assert "Another save is taking very long" in text_of(answer.text)
    back = read_page_form(answer.text, "/bars")
    assert {name: texts[0] for name, texts in back.items()} == sent
    assert client.post("/bars", data=back).headers["location"] == "/bars"
    with read(context.store) as session:
        assert [bar.name for bar in session.exec(select(Bar))].count(BAR["name"]) == 1


def test_a_passcode_that_could_not_be_saved_is_shown_to_nobody(
    client: TestClient, context: AppContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cannot(*_: object) -> None:
        raise CannotSave("Not saved: the disk is full; make room and try again.")

    monkeypatch.setattr(type(context.door), "set_passcode", cannot)
    secret = "three odd words"
    answer = client.post("/devices/passcode", data={"passcode": secret, "again": secret})
    assert answer.status_code == 503
    assert "the disk is full" in text_of(answer.text)
    assert secret not in answer.text


def test_every_statement_that_writes_is_begun_at_once_and_holds_the_one_lock(
    client: TestClient, context: AppContext
) -> None:
    """Watch both engines while a tablet works: readers read, and the writer writes under its lock."""
    store = context.store
    seen: dict[str, list[str]] = {"writer": [], "reader": []}
    unlocked: list[str] = []

    def watch(engine: Engine, name: str) -> None:
        @event.listens_for(engine, "before_cursor_execute")
        def note(_connection, _cursor, statement: str, *_: object) -> None:
            seen[name].append(statement.split(None, 1)[0].upper() if "BEGIN" not in statement else statement)
            if name == "writer" and not store.lock.locked():
                unlocked.append(statement)

    watch(store.writer, "writer")
    watch(store.reader, "reader")
    tablet = Tablet("tablet", random.Random(3))
    for does in ("", "bar", "event", "reminder", "edit", "remove", ""):
        tablet.work(client, does)
    assert unlocked == []
    assert set(seen["reader"]) == {"BEGIN", "SELECT"}
    assert seen["writer"].count("BEGIN IMMEDIATE") == len(tablet.sent)
    assert {"INSERT", "UPDATE"} <= set(seen["writer"])
    assert "BEGIN" not in seen["writer"]


def opens_the_book(path: Path) -> bool:
    """Tell whether a file of the app reaches for the writer or opens a database by itself."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and node.attr == "writer" and ast.unparse(node) != "csv.writer":
            return True
        if isinstance(node, ast.Call) and ast.unparse(node.func) in OPENERS:
            return True
    return False


def test_only_named_files_open_the_database_past_the_unit_of_work() -> None:
    found = {path.relative_to(WEBAPP).as_posix() for path in WEBAPP.rglob("*.py") if opens_the_book(path)}
    assert found == set(OPEN_THE_BOOK)
