"""A piece's readings beside what was foretold of them, and what may lie behind the odd ones."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from tests.web.batch_steps import rows, start, walk
from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.page_forms import begin, send, text_of
from webapp.services.cause_words import CAUSES, TESTS, WAYS
from webapp.services.causes import _explained
from webapp.settings import Settings
from webapp.store.engine import Store
from webapp.store.tables import Reading

SEALED = "/items/5"  # the standard pin of a fire in which nothing went wrong
ODD = "/items/24"  # the standard pin of a batch whose case is far thinner than the other fires foretell
PIN = "/items/1"


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    """A client of an app on the fitted demo."""
    with speaking_to_demo(settings) as client:
        yield client


def test_every_reading_is_shown_beside_its_forecast_even_when_it_agrees(demo: TestClient) -> None:
    said = text_of(demo.get(f"{SEALED}/causes").text)
    assert re.search(r"Hardness foretold \d\d to \d\d HRC , read 64 HRC as foretold, after the quench", said)
    assert re.search(r"foretold 0\.\d\d to 0\.\d\d mm , read 0\.53 mm on a break as foretold", said)
    assert "Nine in ten lie in the range" in said
    assert "What may lie behind it" not in said


def test_an_odd_reading_names_three_causes_in_order_with_what_would_tell(demo: TestClient) -> None:
    answer = demo.get(f"{ODD}/causes")
    said = text_of(answer.text)
    assert "odd: shallower than foretold" in said
    assert answer.text.count("What would tell:") == 3
    assert "Thin case" in said
    assert "the fire was cooler than it read" in said.lower()
    assert "in 10" in said
    assert "break a second coupon of the same box" in said  # its own rim was read already
    assert "throws shards" in said
    assert "one reading in ten" in said


def test_nothing_is_set_aside_by_itself_and_the_cause_is_offered_as_the_reason(demo: TestClient) -> None:
    page = demo.get(f"{ODD}/causes").text
    assert not any(row.left_out_why for row in rows(store_of(demo), Reading))
    href = page.split('<a class="button plain" href="')[1].split('"')[0].replace("&amp;", "&")
    assert "/set-aside?why=" in href
    form = demo.get(href).text
    assert "odd: most likely a thin case" in form
    path = href.partition("?")[0]
    assert send(demo, href, path).status_code == 303
    assert [row.left_out_why for row in rows(store_of(demo), Reading) if row.left_out_why] == [
        "odd: most likely a thin case"
    ]


def test_the_piece_opens_without_waiting_and_asks_for_the_forecast_afterwards(demo: TestClient) -> None:
    page = demo.get(ODD).text
    assert f'hx-get="{ODD}/causes" hx-trigger="load" hx-select="#foretold"' in page
    assert f'<a href="{ODD}/causes">' in page  # without script
    assert 'id="foretold"' in demo.get(f"{ODD}/causes").text


def test_the_same_piece_is_not_worked_out_twice_for_the_same_fit_and_rows(demo: TestClient) -> None:
    demo.get(f"{SEALED}/causes")
    before = _explained.cache_info().misses
    demo.get(f"{SEALED}/causes")
    assert _explained.cache_info().misses == before


def test_a_reading_that_was_set_aside_is_not_held_against_a_forecast(demo: TestClient) -> None:
    said = text_of(demo.get("/items/21/causes").text)  # the rail that never hardened
    assert "set aside, so it is not held against a forecast" in said


def add_reading(client: TestClient, kind: str, **typed: str) -> None:
    page = f"{PIN}/readings/new?kind={kind}"
    assert send(client, page, page, **typed).status_code == 303


def test_an_incomplete_story_says_what_is_missing(client: TestClient, app_store: Store) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    add_reading(client, "depth", value="0.5", after="slow_cool")
    said = text_of(client.get(f"{PIN}/causes").text)
    assert "No forecast. Case depth by eye, 0.50 mm on a break:" in said
    assert "as foretold" not in said
    assert len(rows(app_store, Reading)) == 1


def test_sparks_and_soft_spots_are_kept_and_not_foretold(client: TestClient) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    add_reading(client, "soft_spots", seen="yes")
    said = text_of(client.get(f"{PIN}/causes").text)
    assert "Kept for you to read, and not foretold: soft spots." in said


def test_a_piece_that_is_not_there_is_not_found(client: TestClient) -> None:
    begin(client)
    assert client.get("/items/999/causes").status_code == 404


def test_a_reason_that_is_offered_may_not_be_endless(client: TestClient) -> None:
    begin(client)
    start(client)
    assert client.get(f"{PIN}/set-aside?why={'a' * 5000}").text.count("a" * 201) == 0


def test_every_cause_and_way_and_test_of_the_model_has_words() -> None:
    from model.cause_changes import ways
    from model.causes import TESTS as MADE

    assert {way.cause for way in ways()} == set(CAUSES)
    assert {way.name for way in ways()} == set(WAYS)
    assert set(MADE) == set(TESTS)
