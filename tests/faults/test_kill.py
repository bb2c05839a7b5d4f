"""Killed at any moment: the logbook opens, and everything that was answered is there, once.

A killed process leaves what it gave to the system's memory of the files; `test_power_cut.py` has the rest.
At work are tablets by their forms, and a program that reads and writes by the JSON interface.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import httpx
import pytest

from tests.faults.servers import COMMAND, ENVIRONMENT, PATIENCE_S, Served, Servers, by_command
from tests.faults.tablets import Program, Tablet
from tests.faults.tally import Tally
from tests.faults.the_book import lost_or_doubled, rows_that_differ, troubles_of_file
from tests.web.page_forms import begin
from webapp.store.engine import LOGBOOK_FILE

Start = Callable[[Path], AbstractContextManager[Served]]
TABLETS = 3
KILLS_IN_CI, KILLS_IN_LONG = 25, 220
MOST_ANSWERS_IN_CI, MOST_ANSWERS_IN_LONG = 16, 30
LONGEST_PAUSE_S = 0.03


class AtWork(threading.Thread):
    """A tablet that saves until the server is gone."""

    def __init__(self, url: str, tablet: Tablet, answered: threading.Semaphore) -> None:
        super().__init__()
        self.url, self.tablet, self.answered = url, tablet, answered
        self.trouble: BaseException | None = None

    def run(self) -> None:
        try:
            with httpx.Client(base_url=self.url, timeout=PATIENCE_S) as client:
                while True:
                    self.tablet.work(client)
                    self.answered.release()
        except httpx.TransportError:
            return
        except Exception as trouble:  # noqa: BLE001 - told by the test that waits for this thread
            self.trouble = trouble
            self.answered.release()


def work_until_killed(
    served: Served, tablets: list[Tablet], chance: random.Random, most_answers: int
) -> None:
    """Have all at work, and kill the server after some answers and a moment more."""
    answered = threading.Semaphore(0)
    at_work = [AtWork(served.url, tablet, answered) for tablet in tablets]
    for thread in at_work:
        thread.start()
    for _ in range(chance.randint(1, most_answers)):
        assert answered.acquire(timeout=PATIENCE_S)
    threading.Event().wait(chance.uniform(0, LONGEST_PAUSE_S))
    served.kill()
    for thread in at_work:
        thread.join(PATIENCE_S)
    assert [thread.trouble for thread in at_work if thread.trouble] == []


def begun_shop(served: Served) -> None:
    with httpx.Client(base_url=served.url, timeout=PATIENCE_S) as client:
        assert begin(client).status_code == 303


def troubles_after_kill(folder: Path, tablets: list[Tablet]) -> list[str]:
    """Look at the folder as the kill left it; SQLite itself folds in what stands in the WAL."""
    book = folder / LOGBOOK_FILE
    return troubles_of_file(book) or [*lost_or_doubled(book, tablets), *rows_that_differ(folder)]


def kill_again_and_again(start: Start, folder: Path, kills: int, most_answers: int, tally: Tally) -> None:
    chance = random.Random(8350)
    tablets: list[Tablet] = [Tablet(f"tablet{number}", random.Random(number)) for number in range(TABLETS)]
    program = Program("program", random.Random(TABLETS))
    tablets.append(program)
    with start(folder) as served:
        begun_shop(served)
    wrong: list[str] = []
    cut_off = 0
    for kill in range(kills):
        with start(folder) as served:
            work_until_killed(served, tablets, chance, most_answers)
        cut_off += sum(tablet.unanswered is not None for tablet in tablets)
        wrong += [f"kill {kill}: {trouble}" for trouble in troubles_after_kill(folder, tablets)]
    tally("killed in the middle of saves", kills, wrong)
    tally("forms sent again whose answer was lost", cut_off, [each for each in wrong if "times" in each])
    written = [post for post in program.answered if post.does == "reading"]
    tally(
        "readings written by the JSON interface", len(written), [each for each in wrong if "reading" in each]
    )
    assert wrong == []
    assert cut_off >= kills / 5, "most kills must fall into the middle of something"
    assert sum(len(tablet.answered) for tablet in tablets) >= kills
    assert len(written) >= kills / 5


def test_everything_answered_survives_kills_in_the_middle_of_saves(
    tmp_path: Path, servers: Servers, tally: Tally
) -> None:
    kill_again_and_again(servers.running, tmp_path, KILLS_IN_CI, MOST_ANSWERS_IN_CI, tally)


@pytest.mark.long
def test_everything_answered_survives_hundreds_of_kills_of_the_command(tmp_path: Path, tally: Tally) -> None:
    kill_again_and_again(by_command, tmp_path, KILLS_IN_LONG, MOST_ANSWERS_IN_LONG, tally)


def test_the_server_stops_when_asked_even_with_a_connection_held_open(tmp_path: Path) -> None:
    with by_command(tmp_path) as served, httpx.Client(base_url=served.url, timeout=PATIENCE_S) as client:
        assert client.get("/condition").status_code == 200
        served.stop()
    assert not (tmp_path / "logbook.db-wal").exists()


def test_a_second_server_on_the_same_folder_says_where_the_first_answers(
    tmp_path: Path, servers: Servers
) -> None:
    with servers.running(tmp_path) as served:
        second = subprocess.run(
            [sys.executable, *COMMAND, str(tmp_path)],
            capture_output=True,
            env=dict(os.environ) | ENVIRONMENT,
            text=True,
            timeout=PATIENCE_S,
        )
    assert second.returncode == 1
    assert served.url in second.stderr
    assert "Traceback" not in second.stderr
