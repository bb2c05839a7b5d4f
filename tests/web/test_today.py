"""Today: what runs, what waits, what to do next; an empty logbook teaches."""

from __future__ import annotations

from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.web.batch_steps import rows, start, step, walk
from tests.web.page_forms import begin, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Batch, Box


def test_an_empty_logbook_is_welcomed_first(client: TestClient) -> None:
    answer = client.get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/welcome")


def test_a_new_logbook_teaches_the_three_ways_to_begin(client: TestClient) -> None:
    begin(client)
    text = text_of(client.get("/").text)
    for words in ("Plan a part", "Write up an old batch", "Start a batch now"):
        assert words in text


def test_a_running_batch_shows_its_clock_and_the_next_thing_to_do(
    client: TestClient, clock: FixedClock
) -> None:
    begin(client)
    batch = start(client)
    walk(client, batch, "box_in")
    clock.move(minutes=40)
    text = text_of(client.get("/").text)
    assert "in the fire, warming up 0:40" in text
    assert "At heat: start the soak clock" in text


def test_a_hardened_batch_waits_to_be_measured_until_it_is(client: TestClient) -> None:
    begin(client)
    batch = start(client)
    walk(client, batch, "box_in", "at_heat", "box_out", "reheat", "quench")
    text = text_of(client.get("/").text)
    assert "Waits to be measured" in text
    assert "Measure a coupon" in text
    page = "/items/1/readings/new?kind=first"
    send(client, page, page, hardness_HRC="60")
    assert "Measure a coupon" not in text_of(client.get("/").text)
    step(client, batch, "temper")
    walk(client, batch, "measured")
    assert "nothing waits to be measured" in text_of(client.get("/").text)


def test_a_batch_starts_with_what_the_last_one_used(client: TestClient, app_store: Store) -> None:
    begin(client)
    box = {"name": "Small box", "inner_length_m": "100", "inner_width_m": "60", "wall_m": "3"}
    send(client, "/shop/boxes/new", "/shop/boxes", **box)
    send(client, "/batches/new", "/batches/new", box_id="2", mix_id="2")
    assert "Small box, Charcoal with soda ash" in text_of(client.get("/").text)
    start(client)
    assert [(row.box_id, row.mix_id) for row in rows(app_store, Batch)] == [(2, 2), (2, 2)]


def test_a_shop_without_a_box_says_what_is_missing(client: TestClient, app_store: Store) -> None:
    begin(client)
    form = "/shop/boxes/1"
    client.post(f"{form}/remove", data={"form_id": "remove-the-box"})
    assert rows(app_store, Box) == []
    assert "The shop has no box yet" in text_of(client.get("/").text)
    answer = client.post("/batches", data={"form_id": "start-without"})
    assert answer.status_code == 422
    assert "no box yet" in text_of(answer.text)
