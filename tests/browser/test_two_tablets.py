"""Two tablets in one batch: nothing that was saved is lost, and nobody overwrites what was not shown."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from itertools import count, takewhile
from time import monotonic

import httpx
import pytest

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served
from tests.browser.two_tablets import PLACES, Place, Tablet, Told, take_turn
from tests.faults.servers import PATIENCE_S
from tests.faults.the_book import rows_that_differ, troubles_of_file
from tests.web.batch_steps import start, walk
from tests.web.page_forms import begin, send
from webapp.store.engine import LOGBOOK_FILE

pytestmark = pytest.mark.browser

TURNS_IN_CI, SECONDS_IN_LONG = 30, 300.0
FORMS_USED = "SELECT form_id FROM formuse ORDER BY rowid"
NOTES_CHANGED = """SELECT before, after FROM change
WHERE action = 'changed' AND json_extract(after, '$.note') IS NOT NULL"""
FIRST_READING = "/items/1/readings/new?kind=first"


def begun_batch(served: Served) -> dict[Place, str]:
    """Take a batch to its quench and a reading; return the words that stand in each place."""
    with httpx.Client(base_url=served.url, timeout=PATIENCE_S) as client:
        begin(client)
        start(client)
        for action in ("box_in", "at_heat", "box_out", "reheat", "quench"):
            served.move_clock(hours=1)
            walk(client, "/batches/1", action)
        assert send(client, FIRST_READING, FIRST_READING, hardness="60").status_code == 303
        words = {place: f"first-of-{place.table}-{place.record}" for place in PLACES if place.record}
        for place, first in words.items():
            answer = send(client, place.href, place.href, **{place.words: first})
            assert answer.status_code == 303, answer.text
    return words


def asked(served: Served, question: str) -> list[tuple[str, ...]]:
    with closing(sqlite3.connect(served.folder / LOGBOOK_FILE)) as book:
        return book.execute(question).fetchall()


def work(served: Served, tablet: OpenTablet, turns: Iterator[int], number: int) -> Told:
    """Have two tablets write in turns; then end the server and hold the book against what they were told."""
    told = Told(begun_batch(served))
    used_before = asked(served, FORMS_USED)
    chance = random.Random(number)
    tablets = [
        Tablet(tablet(served.url), name, random.Random(f"{name} {number}"), told) for name in ("ann", "bob")
    ]
    for _ in turns:
        take_turn(tablets, chance, told)
    for one in tablets:
        one.page.close()  # what it still asks must not meet a server that is gone
    served.kill()
    assert troubles_of_file(served.folder / LOGBOOK_FILE) == []
    assert rows_that_differ(served.folder) == []  # a version is the number of a record's changes
    used = [form_id for (form_id,) in asked(served, FORMS_USED)[len(used_before) :]]
    assert sorted(used) == sorted(saved.form_id for saves in told.saved.values() for saved in saves)
    for place in PLACES:
        hold_against_book(served, place, told)
    return told


def hold_against_book(served: Served, place: Place, told: Told) -> None:
    """Find each save once, in the order it was told, over the words that its writer had seen."""
    if not place.record:
        kept = [words for (words,) in asked(served, "SELECT note FROM event ORDER BY id")]
        assert sorted(kept) == sorted(saved.words for saved in told.saved[place])
        return
    where = f"table_name = '{place.table}' AND record_id = {place.record} ORDER BY id"
    changes = asked(served, f"{NOTES_CHANGED} AND {where}")
    noted = [(json.loads(before)["note"], json.loads(after)["note"]) for before, after in changes]
    assert noted[0] == ("", told.first[place])
    assert noted[1:] == [(saved.seen, saved.words) for saved in told.saved[place]]
    if place.number and told.saved[place]:
        row = asked(served, f"SELECT {place.number} FROM {place.table} WHERE id = {place.record}")
        assert row == [(float(told.saved[place][-1].number),)]


@pytest.mark.long
def test_two_tablets_in_one_batch_lose_nothing_and_see_every_conflict(
    own_book: Served, tablet: OpenTablet
) -> None:
    told = work(own_book, tablet, iter(range(TURNS_IN_CI)), 1)
    assert told.counted["conflicts shown"] >= 1  # who is first of two at once may differ, and all after it
    assert told.counted["saved"] >= 5


@pytest.mark.long
def test_two_tablets_in_one_batch_for_five_minutes(own_book: Served, tablet: OpenTablet) -> None:
    end = monotonic() + SECONDS_IN_LONG
    told = work(own_book, tablet, takewhile(lambda _turn: monotonic() < end, count()), 2)
    print(dict(told.counted))  # noqa: T201
    assert told.counted["conflicts shown"] >= 10
