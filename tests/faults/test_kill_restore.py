"""A restore that dies at any line of its exchange leaves the old logbook whole, or the next start the new."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests.conftest import A_SPRING_DAY
from webapp.store import disk, swap
from webapp.store.engine import LOGBOOK_FILE
from webapp.store.swap import ASIDE_FOLDER, last_exchange, settle, staging, swap_in

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")
WATCHED = (swap.__file__, disk.__file__)
MOST_LINES = 400


def book(file: Path, word: str, in_wal: str = "") -> None:
    """Write a database with a word, and another word that stands in its WAL file only."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE words(word)")
        connection.execute("INSERT INTO words VALUES (?)", (word,))
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        if in_wal:
            connection.execute("INSERT INTO words VALUES (?)", (in_wal,))
            connection.commit()
            for ending in ("", "-wal"):  # as a kill would leave them
                shutil.copy(f"{file}{ending}", f"{file}{ending}.left")
    if in_wal:
        for ending in ("", "-wal"):
            Path(f"{file}{ending}.left").replace(f"{file}{ending}")


def words_in(file: Path) -> list[str]:
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        return [word for (word,) in connection.execute("SELECT word FROM words")]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "data"
    made.mkdir()
    book(made / LOGBOOK_FILE, "old", in_wal="old in the wal")
    book(staging(made) / LOGBOOK_FILE, "new")
    return made


def dies_at_line(folder: Path, last: int) -> bool:
    """Do the exchange in a child that ends, without any clearing up, at its so-many-th line."""
    child = os.fork()
    if not child:
        passed = 0

        def watch(frame: FrameType, event: str, _told: Any) -> Any:
            nonlocal passed
            if frame.f_code.co_filename not in WATCHED:
                return None
            if event == "line":
                passed += 1
                if passed == last:
                    os._exit(9)
            return watch

        sys.settrace(watch)
        swap_in(folder, A_SPRING_DAY, {"from": "a copy"})
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


def test_dead_at_any_line_either_the_old_or_the_new_logbook_stands_whole(
    folder: Path, tmp_path: Path
) -> None:
    outcomes = []
    for last in range(1, MOST_LINES):
        tried = tmp_path / f"try-{last}"
        shutil.copytree(folder, tried)
        died = dies_at_line(tried, last)
        told = settle(tried)
        words = words_in(tried / LOGBOOK_FILE)
        assert words in (["old", "old in the wal"], ["new"]), last
        is_new = words == ["new"]
        if told is not None:
            assert told.is_new == is_new, last
        if is_new:
            (aside,) = (tried / ASIDE_FOLDER).iterdir()
            assert words_in(aside / LOGBOOK_FILE) == ["old", "old in the wal"], last
            assert (last_exchange(tried) or {})["from"] == "a copy"
        assert not (tried / "restoring").exists()
        assert not (tried / "restoring.json").exists()
        shutil.rmtree(tried)
        outcomes.append(is_new)
        if not died:
            break
    assert not died
    assert outcomes == sorted(outcomes), "once the new one stands, no later death brings the old one back"
    assert 10 < outcomes.index(True) < len(outcomes) - 10


def test_a_folder_without_an_exchange_has_nothing_to_settle(tmp_path: Path) -> None:
    assert settle(tmp_path) is None
    assert last_exchange(tmp_path) is None
