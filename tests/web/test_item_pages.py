"""Parts and coupons in the box: packed with a mark and a place, and free to go their own way."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.web.batch_steps import press, rows, start, step, utc, walk
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Item, Step

COUPON = "/batches/1/items/new?kind=coupon"
PART = "/batches/1/items/new?kind=part"
PIN = "/items/1"


@pytest.fixture(autouse=True)
def _started(client: TestClient) -> None:
    begin(client)
    start(client)


def drawn(client: TestClient, **typed: str) -> int:
    """Note that the pin left the box; return the status."""
    return send(client, f"{PIN}/steps/drawn", f"{PIN}/steps/drawn", **typed).status_code


def test_a_coupon_is_packed_with_the_next_letter(client: TestClient, app_store: Store) -> None:
    answer = send(client, COUPON, COUPON, size_m="1/2 in", place="end")
    assert answer.headers["location"] == "/batches/1"
    coupon = rows(app_store, Item)[1]
    assert (coupon.mark, coupon.place, coupon.kind) == ("B", "end", "coupon")
    assert coupon.size_m == pytest.approx(0.0127)
    assert coupon.typed["size_m"] == "1/2 in"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"size_m": "-5"}, "less than nothing"),
        ({"size_m": ""}, "needed"),
        ({"size_m": "nan"}, "not a number"),
        ({"size_m": "20", "shape": "tube"}, "A tube has a bore"),
        ({"size_m": "20", "shape": "tube", "bore_m": "20"}, "smaller than the outside"),
        ({"size_m": "20", "shape": "rod", "bore_m": "5"}, "Only a tube has a bore"),
        ({"size_m": "20", "mark": "A"}, "marked A already"),
        ({"size_m": "20", "count": "1.5"}, "whole number"),
        ({"size_m": "20", "count": "0"}, "too little"),
        ({"size_m": "20", "bar_id": "99"}, "no bar number 99"),
    ],
)
def test_a_coupon_that_cannot_be_is_refused(
    client: TestClient, app_store: Store, typed: dict[str, str], said: str
) -> None:
    answer = send(client, COUPON, COUPON, **typed)
    assert answer.status_code in (404, 422)
    assert said in text_of(answer.text)
    assert len(rows(app_store, Item)) == 1


def test_parts_are_packed_as_the_shop_knows_them(client: TestClient, app_store: Store) -> None:
    part = {"name": "pawl", "bar_id": "1", "shape": "plate", "size_m": "8"}
    assert send(client, "/parts/new", "/parts", **part).status_code == 303
    assert send(client, PART, PART, part_id="1", count="4", layer="top").status_code == 303
    packed = rows(app_store, Item)[1]
    assert (packed.name, packed.count, packed.kind, packed.part_id) == ("pawl", 4, "part", 1)
    assert packed.size_m == pytest.approx(0.008)
    assert "pawl × 4" in text_of(client.get("/batches/1").text)


def test_a_coupon_follows_the_batch_until_it_goes_its_own_way(client: TestClient) -> None:
    assert "It goes with the batch" in text_of(client.get(PIN).text)
    assert f"{PIN}/steps/drawn" not in client.get(PIN).text
    walk(client, "/batches/1", "box_in", "at_heat")
    assert f"{PIN}/steps/drawn" in client.get(PIN).text


def test_a_coupon_drawn_hot_in_mid_soak_is_quenched_by_the_same_tap(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    clock.move(hours=2)
    assert drawn(client, then="quench", bath_id="2") == 303
    out, quench = (row for row in rows(app_store, Step) if row.item_id == 1)
    assert (out.kind, out.settings) == ("drawn", {"then": "quench"})
    assert (quench.kind, quench.bath_id) == ("quench", 2)
    assert utc(out.started_at) == utc(quench.started_at) == clock.now()
    assert rows(app_store, Item)[0].own_path


def test_taking_the_draw_back_lets_the_coupon_follow_again(client: TestClient, app_store: Store) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    drawn(client, then="quench", bath_id="1")
    press(client, PIN, "/steps/4/undo")
    assert not rows(app_store, Item)[0].own_path
    assert [row.kind for row in rows(app_store, Step)] == ["box_in", "soak"]


def test_a_draw_told_by_hours_into_the_soak_has_no_time_of_day(client: TestClient, app_store: Store) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    assert drawn(client, then="air", seconds="1.5") == 303
    out = rows(app_store, Step)[-1]
    assert (out.seconds, out.started_at, out.settings) == (5400.0, None, {"then": "air"})


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"at": "2026-04-03T11:00"}, "before the soak clock was started"),
        ({"then": "with_box"}, "still in the fire"),
        ({"seconds": "-1"}, "less than nothing"),
    ],
)
def test_a_draw_that_cannot_be_is_refused(client: TestClient, typed: dict[str, str], said: str) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    answer = send(client, f"{PIN}/steps/drawn", f"{PIN}/steps/drawn", **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)


def test_a_coupon_that_lay_with_the_box_is_treated_apart_afterwards(
    client: TestClient, app_store: Store
) -> None:
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    drawn(client, then="with_box")
    answers: dict[str, dict[str, str]] = {
        "reheat": {"temperature_K": "790", "seconds": "10"},
        "quench": {"bath_id": "1"},
        "temper": {"temperature_K": "160", "seconds": "1"},
    }
    for action, typed in answers.items():
        page = f"{PIN}/steps/{action}"
        assert send(client, page, page, **typed).status_code == 303, action
    own = [row for row in rows(app_store, Step) if row.item_id == 1]
    assert [row.kind for row in own] == ["drawn", "reheat", "quench", "temper"]
    assert own[1].temperature_K == pytest.approx(1063.15)
    press(client, PIN, f"{PIN}/follow")
    assert [row.kind for row in rows(app_store, Step)] == ["box_in", "soak", "box_out"]


def test_a_double_tap_draws_a_coupon_once(client: TestClient, app_store: Store) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    page = f"{PIN}/steps/drawn"
    told = read_page_form(client.get(page).text, page) | {"then": ["air"]}
    assert [client.post(page, data=told).status_code for _ in range(2)] == [303, 303]
    assert [row.kind for row in rows(app_store, Step)].count("drawn") == 1


def test_a_piece_struck_off_can_be_put_back(client: TestClient, app_store: Store) -> None:
    answer = press(client, PIN, f"{PIN}/remove")
    assert rows(app_store, Item) == []
    undo = client.get(answer.headers["location"]).text
    client.post(f"{PIN}/put-back", data=read_page_form(undo, f"{PIN}/put-back"))
    assert len(rows(app_store, Item)) == 1


def test_a_piece_put_right_on_two_tablets_shows_both_versions(client: TestClient, app_store: Store) -> None:
    page = f"{PIN}/edit"
    stale = read_page_form(client.get(page).text, page)
    send(client, page, page, size_m="11")
    answer = client.post(page, data={**stale, "size_m": "12"})
    assert answer.status_code == 409
    assert rows(app_store, Item)[0].size_m == pytest.approx(0.011)
    assert "Changed meanwhile" in text_of(answer.text)


def test_a_piece_is_set_aside_with_its_reason(client: TestClient, app_store: Store) -> None:
    page = f"{PIN}/set-aside"
    assert send(client, page, page, why="").status_code == 422
    send(client, page, page, why="fell on the floor")
    assert rows(app_store, Item)[0].left_out_why == "fell on the floor"
    assert "Set aside because fell on the floor" in text_of(client.get("/batches/1").text)
    press(client, PIN, f"{PIN}/take-in")
    assert rows(app_store, Item)[0].left_out_why == ""


@pytest.mark.parametrize(
    ("noted", "words"),
    [
        ({"wrapping": "bare", "flame": "lean"}, "counts on 0.05 to 0.4 % left at the skin"),
        ({"wrapping": "bare"}, "the flame was not noted"),
        ({"wrapping": "bare", "flame": "rich"}, ""),
        ({"wrapping": "wrapped", "flame": "lean"}, ""),
        ({"wrapping": "repacked"}, ""),
    ],
)
def test_a_bare_reheat_is_warned_of_on_the_page_of_its_piece_and_of_its_batch(
    client: TestClient, noted: dict[str, str], words: str
) -> None:
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    page = "/batches/1/steps/reheat"
    told = {"temperature_K": "790", "seconds": "12", "instrument_id": "1", **noted}
    assert send(client, page, page, **told).status_code == 303
    for shown in (text_of(client.get(PIN).text), text_of(client.get("/batches/1").text)):
        assert ("Reheated bare" in shown) is bool(words)
        assert words in shown
    line = text_of(client.get("/batches/1").text)
    assert "judged by: By eye, in dim light" in line
    assert ("bare, lean flame" in line) is (noted == {"wrapping": "bare", "flame": "lean"})


def test_a_reheat_is_offered_wrapped_as_the_last_one_was(client: TestClient, clock: FixedClock) -> None:
    walk(client, "/batches/1", "box_in", "at_heat", "box_out")
    clock.move(hours=4)
    step(client, "/batches/1", "reheat", wrapping="repacked", flame="rich")
    second = start(client)
    walk(client, second, "box_in", "at_heat", "box_out")
    offered = read_page_form(client.get(f"{second}/steps/reheat").text, f"{second}/steps/reheat")
    assert (offered["wrapping"], offered["flame"]) == (["repacked"], ["rich"])


def test_a_reheat_of_a_piece_that_went_its_own_way_is_its_own(client: TestClient) -> None:
    walk(client, "/batches/1", "box_in", "at_heat")
    assert drawn(client, then="air") == 303
    for action, typed in (("reheat", {"temperature_K": "790", "seconds": "10", "flame": "lean"}),):
        page = f"{PIN}/steps/{action}"
        assert send(client, page, page, **typed).status_code == 303
    assert "Reheated bare in a lean flame" in text_of(client.get(PIN).text)


def test_a_piece_that_is_larger_than_its_box_is_refused_with_both_sizes(
    client: TestClient, app_store: Store
) -> None:
    answer = send(client, COUPON, COUPON, size_m="90")
    assert answer.status_code == 422
    said = text_of(answer.text)
    assert "This piece is 90 × 90 mm, and “Square tube box” 200 × 74 × 74 mm inside" in said
    assert read_page_form(answer.text, COUPON)["size_m"] == ["90"]
    send(client, "/parts/new", "/parts", name="Long bar", size_m="20", length_m="260")
    refused = send(client, PART, PART, part_id="1")
    assert refused.status_code == 422
    assert "260 × 20 × 20 mm" in text_of(refused.text)
    assert len(rows(app_store, Item)) == 1


def test_no_plan_is_made_for_a_part_that_its_box_cannot_hold(client: TestClient) -> None:
    send(client, "/parts/new", "/parts", name="Drum", size_m="100")
    answer = send(client, "/plans/new?part=1", "/plans")
    assert answer.status_code == 422
    assert 'href="#box_id"' in answer.text
    assert "take a larger box, or correct the sizes" in text_of(answer.text)
