"""The computer's clock steps back an hour in the middle of a run: said in words, saved once, in order."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.faults.tablets import Tablet
from tests.faults.tally import Tally
from tests.faults.the_book import lost_or_doubled, rows_that_differ
from tests.web.batch_steps import start, walk
from tests.web.page_forms import send, text_of
from webapp.store.engine import LOGBOOK_FILE

WENT_BACK = "If the clock of the computer that keeps the logbook went back, put it right and press again"


@pytest.fixture
def batch(client: TestClient, clock: FixedClock) -> str:
    """A batch ten minutes into its soak, when the clock goes back."""
    address = start(client)
    walk(client, address, "box_in")
    clock.move(minutes=40)
    walk(client, address, "at_heat")
    clock.move(minutes=10)
    client.get(address)
    clock.move(hours=-1)
    return address


def test_the_run_clock_shows_no_time_rather_than_a_wrong_one(
    client: TestClient, clock: FixedClock, batch: str
) -> None:
    told = text_of(client.get(batch).text)
    assert "–:––" in told
    assert "says 11:52, but something was noted at 12:42. Nothing is lost" in told
    assert 'role="timer" aria-live="off">–:––' in client.get(batch).text
    assert "–:––" in text_of(client.get("/").text)
    back = client.get(f"{batch}/beat").json()["mark"]
    clock.move(hours=1)
    assert client.get(f"{batch}/beat").json()["mark"] != back, "a screen that is open must look again"
    assert "0:10" in text_of(client.get(batch).text)


def test_a_clock_that_went_back_within_the_soak_is_found_out_by_what_was_noted_since(
    client: TestClient, clock: FixedClock, batch: str
) -> None:
    clock.move(hours=3)
    assert "2:10" in text_of(client.get(batch).text)
    send(client, f"{batch}/events/new", f"{batch}/events/new", event_kind="box turned")
    clock.move(hours=-1)
    told = text_of(client.get(batch).text)
    assert "–:––" in told
    assert "says 13:52, but something was noted at 14:52" in told


def test_a_step_before_the_one_before_is_refused_in_words_and_taken_when_the_clock_is_right(
    client: TestClient, clock: FixedClock, batch: str
) -> None:
    address = f"{batch}/events/new"
    typed = {"event_kind": "other", "event_note": "a word to keep"}
    refused = send(client, address, address, **typed)
    assert refused.status_code == 422
    assert WENT_BACK in text_of(refused.text)
    assert 'value="a word to keep"' in refused.text
    clock.move(hours=1)
    assert send(client, address, address, **typed).headers["location"] == batch
    assert "a word to keep" in text_of(client.get(batch).text)


def test_what_is_saved_while_the_clock_is_back_is_saved_once_and_stands_in_order(
    client: TestClient, clock: FixedClock, batch: str, book: Path, tally: Tally
) -> None:
    tablet = Tablet("tablet", random.Random(1), batch=batch)
    for does in ("bar", "edit", "reminder", "bar"):
        post = tablet.work(client, does)
        tablet.send(client, post)  # a second tap
    assert "Saved 11:52" in text_of(client.get("/bars").text)
    history = text_of(client.get(batch).text).partition("Who changed what")[2]
    assert history.index("11:52") < history.index("12:42") < history.index("12:02"), "newest first"
    clock.move(hours=1)
    tablet.send(client, tablet.sent[0])
    wrong = [*lost_or_doubled(book / LOGBOOK_FILE, [tablet]), *rows_that_differ(book)]
    wrong = [each for each in wrong if "batches added" not in each]  # the run's own batch was no form of it
    tally("clock an hour back", len(tablet.sent), wrong)
    assert wrong == []
