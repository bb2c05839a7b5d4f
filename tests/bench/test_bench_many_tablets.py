"""Twenty tablets save and read at once: nothing fails, nothing is lost, nobody waits."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from itertools import count
from os import sysconf
from pathlib import Path
from time import monotonic, perf_counter, sleep
from typing import Any

import httpx
import numpy as np
import pytest

from tests.bench.conftest import Tell
from tests.faults.servers import by_command
from tests.web.fitted_demo import copy_fitted_demo
from tests.web.page_forms import read_page_form, text_of
from webapp.store.engine import LOGBOOK_FILE

pytestmark = [pytest.mark.bench, pytest.mark.long]

TABLETS = 20
SECONDS = 60.0
PAUSE_S = 1.0  # from one answer to the next tap: nobody in gloves is quicker
LONGEST_WAIT_S = 0.300
READ = ("/", "/logbook", "/batches/{item}", "/items/{item}", "/shop", "/bars/1")


@dataclass
class Tablet:
    """One tablet: what it saved, how long each answer took, and what went wrong."""

    number: int
    url: str
    saved: int = 0
    waits_s: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def work(self, until: float) -> Tablet:
        """Read pages and save readings until the time is over."""
        with httpx.Client(base_url=self.url, timeout=30.0) as client:
            for turn in count(self.number):
                if monotonic() >= until:
                    break
                self._ask(client, 200, "GET", READ[turn % len(READ)].format(item=1 + self.number % 15))
                self._save(client)
        return self

    def _save(self, client: httpx.Client) -> None:
        address = f"/items/{self.number + 1}/readings/new"
        form = self._ask(client, 200, "GET", f"{address}?kind=hardness").text
        action = form_action(form, address)
        typed = {**read_page_form(form, action), "value": "58.5", "note": f"tablet {self.number}"}
        self.saved += self._ask(client, 303, "POST", action, typed).status_code == 303

    def _ask(
        self, client: httpx.Client, expected: int, how: str, address: str, typed: dict[str, Any] | None = None
    ) -> httpx.Response:
        began = perf_counter()
        answer = client.request(how, address, data=typed)
        self.waits_s.append(perf_counter() - began)
        if answer.status_code != expected:
            self.faults.append(f"{how} {address}: {answer.status_code} {text_of(answer.text)[:300]}")
        sleep(PAUSE_S)
        return answer


def form_action(html: str, begins: str) -> str:
    """Return the whole address of the form that begins so."""
    start = html.index(f'action="{begins}') + len('action="')
    return html[start : html.index('"', start)].replace("&amp;", "&")


def kept_by(folder: Path) -> dict[int, int]:
    """Return how many readings of each tablet are in the book."""
    with closing(sqlite3.connect(folder / LOGBOOK_FILE)) as book:
        rows = book.execute("SELECT note, count(*) FROM reading WHERE note LIKE 'tablet %' GROUP BY note")
        return {int(note.split()[1]): found for note, found in rows}


def processor_s(process: int) -> float:
    """Return the processor time that a process took so far, its threads' included."""
    spent = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(spent[11]) + int(spent[12])) / sysconf("SC_CLK_TCK")


def test_twenty_tablets_save_and_read_at_once_for_a_minute(tmp_path: Path, tell: Tell) -> None:
    folder = tmp_path / "data"
    copy_fitted_demo(folder)
    # what a shop starts, fits and all, from the first tap on while it still gets its pages ready
    with by_command(folder) as served:
        until, before_s = monotonic() + SECONDS, processor_s(served.pid)
        with ThreadPoolExecutor(TABLETS) as pool:
            tablets = list(pool.map(lambda number: Tablet(number, served.url).work(until), range(TABLETS)))
        waits = [wait for tablet in tablets for wait in tablet.waits_s]
        spent_s = (processor_s(served.pid) - before_s) / len(waits)
        kept = kept_by(folder)
    most_s = float(np.quantile(waits, 0.95))
    words = "95 of 100 waits are shorter, on the clock"
    tell(f"{TABLETS} tablets, {len(waits)} answers", most_s, words, limit="300 ms")
    tell("one of these answers", spent_s, "processor time of the server, its start included")
    assert [fault for tablet in tablets for fault in tablet.faults] == []
    assert kept == {one.number: one.saved for one in tablets}
    assert len(waits) > TABLETS * SECONDS / (2.0 * PAUSE_S)
    assert most_s < LONGEST_WAIT_S
