"""Putting a piece right: what is offered, setting it going, its second life, and taking it all back."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient
from httpx import Response

from model.process import Carburize, Quench, Reheat, Temper
from tests.conftest import FixedClock
from tests.web.batch_steps import press, rows, start, walk
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.batch_rows import load_batch
from webapp.services.lives import Story, story_of_item
from webapp.services.observations import IN_TWO_FIRES, tell
from webapp.services.whole_book import by_id
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Batch, Bath, Item, Reading, Step

PART = "/items/2"
PAGE = f"{PART}/put-right"
WANTED = {
    "wanted_hardness_HRC": "60",
    "wanted_depth_low_m": "0.6",
    "wanted_depth_high_m": "0.9",
    "grind_m": "0",
}


@pytest.fixture(autouse=True)
def _hardened(client: TestClient, clock: FixedClock) -> None:
    """A pawl and the pin beside it, three hours at heat, cooled, reheated, quenched, tempered."""
    begin(client)
    part = {"name": "pawl", "bar_id": "1", "shape": "rod", "size_m": "10", **WANTED}
    assert send(client, "/parts/new", "/parts", **part).status_code == 303
    start(client)
    page = "/batches/1/items/new?kind=part"
    assert send(client, page, page, part_id="1").status_code == 303
    walk(client, "/batches/1", "box_in", "at_heat")
    clock.move(hours=3)
    walk(client, "/batches/1", "box_out")
    clock.move(hours=10)
    walk(client, "/batches/1", "reheat", "quench", "temper")
    clock.move(hours=2)


def read_off(client: TestClient, **typed: str) -> Response:
    page = f"{PART}/readings/new?kind=first"
    return send(client, page, page, **typed)


def ways(html: str) -> dict[str, str]:
    """Return the key of each way offered, by its title."""
    found = re.findall(r'<h2 id="way-\d+">(.*?) <strong.*?name="way" value="(.*?)"', html, re.DOTALL)
    return dict(reversed([(title, key) for title, key in found]))


def set_going(client: TestClient, title: str) -> Response:
    html = client.get(PAGE).text
    form = re.search(
        r'name="form_id" value="([^"]+)"><input type="hidden" name="version" value="(\d+)"', html
    )
    assert form is not None
    told = {"form_id": form[1], "version": form[2], "part": "1", "way": ways(html)[title]}
    return client.post(PAGE, data=told)


def story(store: Store, item_id: int, clock: FixedClock) -> Story:
    with read(store) as session:
        item = session.get(Item, item_id)
        assert item is not None
        rows_of_batch = load_batch(session, item.batch_id)
        bar = by_id(session, Bar)[item.bar_id]
        found = story_of_item(rows_of_batch, item, bar, by_id(session, Bath), clock.now())
    assert isinstance(found, Story)
    return found


def test_a_thin_soft_piece_is_told_what_is_wrong_and_what_can_be_done(client: TestClient) -> None:
    read_off(client, hardness="52", depth_m="0.4")
    html = client.get(PAGE).text
    words = text_of(html)
    assert "Reads 52 HRC, wanted 60 HRC; case about 0.40 mm, wanted 0.6 to 0.9 mm" in words
    assert next(iter(ways(html))) == "Back in the box"
    assert "in 10" in words
    assert "Its size: Hours at heat" in words
    assert "carbon monoxide" in words
    assert "It leaves the case too shallow" in words
    assert f"{PART}/scrap" in html


def test_a_piece_no_harder_than_wanted_is_not_offered_a_hotter_temper(
    client: TestClient,
) -> None:
    read_off(client, hardness="58", depth_m="0.75")
    assert "Temper it hotter" not in ways(client.get(PAGE).text)
    assert "a temper only softens" in text_of(client.get(PAGE).text)


def test_a_piece_goes_back_into_a_box_of_its_own_linked_both_ways(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    read_off(client, hardness="52", depth_m="0.4")
    answer = set_going(client, "Back in the box")
    assert answer.headers["location"] == "/batches/2"
    again = next(item for item in rows(app_store, Item) if item.from_item_id == 2)
    assert (again.batch_id, again.name, again.mark) == (2, "pawl", "B")
    assert "From batch 1 B" in text_of(client.get("/batches/2").text)
    assert "from batch 1 B" in text_of(client.get(f"/items/{again.id}").text)
    assert "It went back in batch 2" in text_of(client.get(PART).text)
    second = rows(app_store, Batch)[1]
    assert (second.state, second.plan_id) == ("planned", None)
    assert "Back in the box" in second.note
    walk(client, "/batches/2", "box_in", "at_heat")
    clock.move(hours=2)
    walk(client, "/batches/2", "box_out", "reheat", "quench")
    whole = story(app_store, again.id or 0, clock).whole()
    soaks = [step.history.duration_s for step in whole.steps if isinstance(step, Carburize)]
    assert soaks == [3 * 3600.0, 2 * 3600.0]
    assert [type(step) for step in whole.steps].count(Quench) == 2
    page = f"/items/{again.id}/readings/new?kind=first"
    send(client, page, page, hardness="60")
    told = tell_all(app_store, clock)
    last = rows(app_store, Reading)[-1]
    assert told[str(last.id)] == IN_TWO_FIRES


def tell_all(store: Store, clock: FixedClock) -> dict[str, str]:
    with read(store) as session:
        return tell(session, clock.now()).untold


def test_the_steps_of_a_second_box_are_offered_as_they_were_set_out(client: TestClient) -> None:
    read_off(client, hardness="52", depth_m="0.4")
    set_going(client, "Back in the box")
    walk(client, "/batches/2", "box_in", "at_heat", "box_out")
    offered = read_page_form(client.get("/batches/2/steps/reheat").text, "/batches/2/steps/reheat")
    assert float(offered["temperature_K"][0]) == pytest.approx(788.0, abs=1.0)


def test_a_piece_is_heated_and_quenched_again_without_losing_what_it_did_with_the_batch(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    read_off(client, hardness="30", depth_m="0.75", after="quench")
    title = "Reheat it and quench again"
    assert set_going(client, title).headers["location"] == PART
    assert "set out to be put right" in text_of(client.get(PART).text)
    offered = read_page_form(client.get(f"{PART}/steps/reheat").text, f"{PART}/steps/reheat")
    assert float(offered["temperature_K"][0]) > 700.0
    for action, typed in {
        "reheat": {"temperature_K": "790", "seconds": "15"},
        "quench": {},
        "temper": {"temperature_K": "200", "seconds": "1"},
    }.items():
        page = f"{PART}/steps/{action}"
        assert send(client, page, page, **typed).status_code == 303, action
        clock.move(hours=1)
    assert not rows(app_store, Item)[1].own_path
    own = [step for step in rows(app_store, Step) if step.item_id == 2]
    assert [(step.kind, step.life) for step in own] == [("reheat", 2), ("quench", 2), ("temper", 2)]
    whole = story(app_store, 2, clock).whole()
    kinds = [type(step) for step in whole.steps]
    assert (kinds.count(Carburize), kinds.count(Reheat), kinds.count(Quench), kinds.count(Temper)) == (
        1,
        2,
        2,
        2,
    )


def test_readings_before_and_after_are_foretold_from_their_own_life(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    read_off(client, hardness="30", depth_m="0.75", after="quench")
    set_going(client, "Reheat it and quench again")
    assert read_off(client, hardness="31", after="quench").status_code == 303
    for action, typed in {"reheat": {"temperature_K": "790", "seconds": "15"}, "quench": {}}.items():
        page = f"{PART}/steps/{action}"
        assert send(client, page, page, **typed).status_code == 303, action
    assert read_off(client, hardness="62", after="temper_1").status_code == 422
    assert read_off(client, hardness="62", after="quench").status_code == 303
    hardness = [row for row in rows(app_store, Reading) if row.kind == "hardness"]
    assert [(row.value, row.life) for row in hardness] == [(30.0, 1), (31.0, 1), (62.0, 2)]
    found = story(app_store, 2, clock)
    early, late = (found.at_reading("quench", life) for life in (1, 2))
    assert [type(step) for step in early.steps].count(Quench) == 1
    assert not any(isinstance(step, Temper) for step in early.steps)
    assert [type(step) for step in late.steps].count(Quench) == 2
    assert isinstance(late.steps[-1], Quench)
    assert "put right, after the quench" in text_of(client.get(PART).text)


def test_what_was_set_out_is_taken_back(client: TestClient, app_store: Store) -> None:
    read_off(client, hardness="30", depth_m="0.75", after="quench")
    set_going(client, "Reheat it and quench again")
    assert rows(app_store, Item)[1].life == 2
    press(client, PART, f"{PAGE}/take-back")
    item = rows(app_store, Item)[1]
    assert (item.life, item.remedy) == (1, {})


def test_what_was_begun_is_taken_back_step_by_step(client: TestClient, app_store: Store) -> None:
    read_off(client, hardness="30", depth_m="0.75", after="quench")
    set_going(client, "Reheat it and quench again")
    page = f"{PART}/steps/reheat"
    send(client, page, page, temperature_K="790", seconds="15")
    step = rows(app_store, Step)[-1]
    press(client, PART, f"/steps/{step.id}/undo")
    assert not [row for row in rows(app_store, Step) if row.item_id == 2]
    assert not rows(app_store, Item)[1].own_path
    press(client, PART, f"{PAGE}/take-back")
    assert rows(app_store, Item)[1].life == 1


def test_a_piece_is_scrapped_with_its_reason_and_kept_after_all(client: TestClient, app_store: Store) -> None:
    page = f"{PART}/scrap"
    assert send(client, page, page, why="").status_code == 422
    assert send(client, page, page, why="cracked at the hole").status_code == 303
    assert "cracked at the hole" in text_of(client.get(PART).text)
    assert "Scrapped: cracked at the hole" in text_of(client.get("/batches/1").text)
    assert PAGE not in client.get(PART).text.replace(f"{PAGE}/not-scrapped", "")
    press(client, PART, f"{PAGE}/not-scrapped")
    assert rows(app_store, Item)[1].scrapped_why == ""
    assert f'href="{PAGE}"' in client.get(PART).text


def test_a_coupon_stands_for_the_part_beside_it(client: TestClient) -> None:
    assert "judged as pawl" in text_of(client.get("/items/1/put-right").text)


def test_a_coupon_of_a_box_without_a_part_asks_which_one_it_stands_for(client: TestClient) -> None:
    start(client)
    walk(client, "/batches/2", "box_in", "at_heat", "box_out", "reheat", "quench")
    html = client.get("/items/3/put-right").text
    assert "Which part does it stand for?" in text_of(html)
    assert "/items/3/put-right?part=1" in html
    assert client.get("/items/3/put-right?part=99").status_code == 200
    assert client.get("/items/3/put-right?part=nonsense").status_code == 422


@pytest.mark.parametrize("done", [(), ("box_in",), ("box_in", "at_heat"), ("box_in", "at_heat", "box_out")])
def test_a_story_that_is_not_complete_says_what_is_missing(client: TestClient, done: tuple[str, ...]) -> None:
    start(client)
    walk(client, "/batches/2", *done)
    answer = client.get("/items/3/put-right?part=1")
    assert answer.status_code == 200
    assert "has not been quenched yet" in text_of(answer.text)
    assert "put-right" not in client.get("/items/3").text


def test_a_quench_out_of_a_cold_box_is_answered_in_words(client: TestClient, clock: FixedClock) -> None:
    start(client)
    walk(client, "/batches/2", "box_in", "at_heat")
    clock.move(hours=2)
    walk(client, "/batches/2", "box_out", "quench")
    answer = client.get("/items/3/put-right?part=1")
    assert answer.status_code == 200
    assert "the work has cooled in the box" in text_of(answer.text)


@pytest.mark.parametrize("way", ["", "box", "reheat-99-1061", "box-1-0", "x" * 500])
def test_a_way_that_is_not_offered_is_not_begun(client: TestClient, app_store: Store, way: str) -> None:
    answer = client.post(PAGE, data={"form_id": "f", "part": "x", "way": way})
    assert answer.status_code == 409
    assert len(rows(app_store, Batch)) == 1
    assert rows(app_store, Item)[1].life == 1


def test_a_double_tap_plans_one_batch(client: TestClient, app_store: Store) -> None:
    read_off(client, hardness="52", depth_m="0.4")
    html = client.get(PAGE).text
    told = {"form_id": "a-form-of-one-use-", "part": "1", "way": ways(html)["Back in the box"]}
    assert [client.post(PAGE, data=told).status_code for _ in range(2)] == [303, 303]
    assert len(rows(app_store, Batch)) == 2


def test_a_piece_whose_first_batch_was_removed_says_so(client: TestClient, clock: FixedClock) -> None:
    read_off(client, hardness="52", depth_m="0.4")
    set_going(client, "Back in the box")
    walk(client, "/batches/2", "box_in", "at_heat")
    clock.move(hours=2)
    walk(client, "/batches/2", "box_out", "reheat", "quench")
    press(client, "/batches/1", "/batches/1/remove")
    answer = client.get("/items/3/put-right")
    assert answer.status_code == 200
    assert "the batch that it came from was removed" in text_of(answer.text)
