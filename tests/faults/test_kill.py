"""Killed in the middle of a save: the logbook opens, and everything that was answered is there, once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from sqlmodel import select

from webapp.store.backup import check_database
from webapp.store.engine import open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Bar, Change, FormUse

SERVED = Path(__file__).with_name("served.py")
CHECKOUT = SERVED.parents[2]
TABLETS = 3
ROUNDS_IN_CI = 4
MOST_SAVES_A_TABLET = 400
PATIENCE_S = 60.0


@contextmanager
def running(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Run the server on a free port and give the process and its address."""
    environment = dict(os.environ) | {"PYTHONPATH": str(CHECKOUT)}
    process = subprocess.Popen(
        [sys.executable, str(SERVED), str(folder)], stdout=subprocess.PIPE, env=environment, text=True
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        assert "ready at http://127.0.0.1:" in line, line
        yield process, line.split("ready at ")[1].split()[0]
    finally:
        process.kill()
        with process:
            process.wait(PATIENCE_S)


class Tablet(threading.Thread):
    """Saves one bar after another until the server is gone; remembers what was answered, and where it led."""

    def __init__(self, url: str, name: str, answered: threading.Semaphore) -> None:
        super().__init__()
        self.url, self.tablet, self.answered = url, name, answered
        self.sent: list[str] = []
        self.led_to: dict[str, str] = {}

    def run(self) -> None:
        try:
            with httpx.Client(base_url=self.url, timeout=PATIENCE_S) as client:
                for number in range(MOST_SAVES_A_TABLET):
                    self.save(client, f"{self.tablet}-{number:04}")
        except httpx.TransportError:
            return

    def save(self, client: httpx.Client, name: str) -> None:
        self.sent.append(name)
        answer = client.post("/only-in-tests/bars", data={"name": name, "form_id": f"form-{name}"})
        assert answer.status_code == 303, answer.text
        self.led_to[name] = answer.headers["location"]
        self.answered.release()


def kill_while_saving(folder: Path, round_number: int, saves_first: int) -> list[Tablet]:
    answered = threading.Semaphore(0)
    with running(folder) as (process, url):
        tablets = [Tablet(url, f"round{round_number}-tablet{n}", answered) for n in range(TABLETS)]
        for tablet in tablets:
            tablet.start()
        for _ in range(saves_first):
            assert answered.acquire(timeout=PATIENCE_S)
        process.send_signal(signal.SIGKILL)
        for tablet in tablets:
            tablet.join(PATIENCE_S)
    return tablets


def check_everything_answered_is_there_once(folder: Path, tablets: list[Tablet]) -> None:
    with closing(open_store(folder)) as store:
        bring_up_to_date(store, datetime(2026, 4, 3, tzinfo=UTC))
        check_database(store.file)
        with read(store) as session:
            bars = {f"/bars/{bar.id}": bar for bar in session.exec(select(Bar))}
            forms = {use.form_id: use.location for use in session.exec(select(FormUse))}
            notes = [(change.record_id, change.action) for change in session.exec(select(Change))]
    names = [bar.name for bar in bars.values()]
    assert len(names) == len(set(names))
    assert {f"form-{bar.name.removesuffix(' kept')}": where for where, bar in bars.items()} == forms
    assert all(bar.name.endswith(" kept") and bar.version == 2 for bar in bars.values())
    assert sorted(notes) == sorted(
        (bar.id, action) for bar in bars.values() for action in ("added", "changed")
    )
    for tablet in tablets:
        assert set(tablet.led_to) <= set(tablet.sent)
        for name, where in tablet.led_to.items():
            assert bars[where].name == f"{name} kept"


@pytest.mark.parametrize(
    "rounds", [ROUNDS_IN_CI, pytest.param(40, marks=pytest.mark.long)], ids=["few", "many"]
)
def test_everything_answered_survives_a_kill_in_the_middle_of_saves(tmp_path: Path, rounds: int) -> None:
    chance = random.Random(8350)
    tablets: list[Tablet] = []
    for round_number in range(rounds):
        tablets += kill_while_saving(tmp_path, round_number, chance.randint(1, 40))
        check_everything_answered_is_there_once(tmp_path, tablets)
    assert sum(len(tablet.led_to) for tablet in tablets) >= rounds


def test_a_save_that_was_cut_off_is_made_once_when_it_is_sent_again(tmp_path: Path) -> None:
    tablets = kill_while_saving(tmp_path, 0, 10)
    with running(tmp_path) as (_, url), httpx.Client(base_url=url, timeout=PATIENCE_S) as client:
        for tablet in tablets:
            for name in tablet.sent:
                answer = client.post("/only-in-tests/bars", data={"name": name, "form_id": f"form-{name}"})
                assert answer.status_code == 303
                assert answer.headers["location"] == tablet.led_to.get(name, answer.headers["location"])
    with closing(open_store(tmp_path)) as store, read(store) as session:
        names = sorted(bar.name for bar in session.exec(select(Bar)))
    assert names == sorted(f"{name} kept" for tablet in tablets for name in tablet.sent)


def test_the_server_stops_when_asked_even_with_a_connection_held_open(tmp_path: Path) -> None:
    with running(tmp_path) as (process, url), httpx.Client(base_url=url, timeout=PATIENCE_S) as client:
        assert client.get("/condition").status_code == 200
        process.send_signal(signal.SIGTERM)
        process.wait(PATIENCE_S)
    assert not (tmp_path / "logbook.db-wal").exists()


def test_a_second_server_on_the_same_folder_says_where_the_first_answers(tmp_path: Path) -> None:
    with running(tmp_path) as (_, url):
        second = subprocess.run(
            [sys.executable, "-m", "webapp.cli", "--data", str(tmp_path), "--port", "0", "--no-open"],
            capture_output=True,
            env=dict(os.environ) | {"PYTHONPATH": str(CHECKOUT)},
            text=True,
            timeout=PATIENCE_S,
        )
    assert second.returncode == 1
    assert url in second.stderr
    assert "Traceback" not in second.stderr
