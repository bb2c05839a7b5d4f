"""Today: what runs, what waits, what to do next; an empty logbook teaches."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.web.batch_steps import rows, start, step, walk
from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Batch, Box, Item, Plan


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
    send(client, page, page, hardness="60")
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


@pytest.fixture
def plan_id(client: TestClient, save: Save) -> int:
    """A plan for a pawl: four hours at 900 °C in the second mix, then water."""
    begin(client)
    part = {"name": "pawl", "bar_id": "1", "shape": "plate", "size_m": "8"}
    send(client, "/parts/new", "/parts", **part)
    with save() as work:
        plan = work.add(
            Plan(
                part_id=1,
                box_id=1,
                mix_id=2,
                bath_id=1,
                heat_instrument_id=1,
                temperature_K=1173.15,
                soak_s=14400.0,
                reheat_K=1063.15,
                temper_K=453.15,
                temper_s=3600.0,
            )
        )
    return plan.id or 0


def test_a_plan_starts_a_batch_with_one_tap_and_its_part_in_the_box(
    client: TestClient, app_store: Store, plan_id: int
) -> None:
    batch = send(client, "/", f"/batches?plan={plan_id}").headers["location"]
    row = rows(app_store, Batch)[0]
    assert (row.plan_id, row.mix_id) == (plan_id, 2)
    assert [item.name for item in rows(app_store, Item)] == ["pawl", "standard pin"]
    assert "4 h at 900 °C" in text_of(client.get(batch).text)
    assert f"/batches?plan={plan_id}" not in client.get("/").text


def test_the_run_clock_counts_down_what_the_plan_asks_for(
    client: TestClient, clock: FixedClock, plan_id: int
) -> None:
    batch = send(client, "/", f"/batches?plan={plan_id}").headers["location"]
    walk(client, batch, "box_in")
    assert read_page_form(client.get(batch).text, f"{batch}/steps/at_heat")["temperature_K"] == ["900"]
    walk(client, batch, "at_heat")
    clock.move(hours=1, minutes=30)
    assert "left in this soak 2:30" in text_of(client.get("/").text)
    clock.move(hours=3)
    assert "0:30 over" in text_of(client.get(batch).text)


def test_the_next_steps_offer_what_the_plan_says(client: TestClient, plan_id: int) -> None:
    batch = send(client, "/", f"/batches?plan={plan_id}").headers["location"]
    walk(client, batch, "box_in", "at_heat", "box_out")
    assert read_page_form(client.get(batch).text, f"{batch}/steps/reheat")["temperature_K"] == ["790"]
    walk(client, batch, "reheat", "quench")
    temper = read_page_form(client.get(batch).text, f"{batch}/steps/temper")
    assert (temper["temperature_K"], temper["seconds"]) == (["180"], ["1"])


def test_a_plan_that_is_not_there_starts_nothing(client: TestClient, app_store: Store) -> None:
    begin(client)
    assert client.post("/batches?plan=7", data={"form_id": "no-such-plan"}).status_code == 404
    assert rows(app_store, Batch) == []
