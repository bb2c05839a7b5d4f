"""Points on a photo become a reading of the piece, are kept, put right, and never overwrite another's."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx import Response

from model.depth_readings import DEPTH_SD_M
from model.readings import DepthReading
from tests.conftest import FixedClock
from tests.web.batch_steps import press, rows, start, walk
from tests.web.drawn_photos import disc, plain
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.batch_rows import load_batch
from webapp.services.observations import told_of_batch
from webapp.store.engine import Store, read
from webapp.store.tables import Photo, Reading

PIN, MEASURE = "/items/1", "/photos/1/measure"
MIDDLE, RADIUS, RIM = (450.0, 300.0), 200.0, 40.0
PIN_M = 0.010
TRUE_M = PIN_M * RIM / (2.0 * RADIUS)


@pytest.fixture(autouse=True)
def _photographed(client: TestClient, clock: FixedClock) -> None:
    begin(client)
    start(client)
    for action in ("box_in", "at_heat", "box_out", "reheat", "quench"):
        clock.move(hours=2)
        walk(client, "/batches/1", action)
    give(client, PIN)


def give(client: TestClient, owner: str) -> None:
    drawn = plain(disc((900, 600), RADIUS, RIM))
    answer = client.post(f"{owner}/photos", files={"camera": ("a.png", drawn)})
    assert answer.status_code == 303


def at(angle: float, depth_px: float = 0.0) -> list[float]:
    radius = RADIUS - depth_px
    return [MIDDLE[0] + radius * math.cos(angle), MIDDLE[1] + radius * math.sin(angle)]


def points(*depths_px: float) -> str:
    places = [
        point
        for k, depth in enumerate(depths_px)
        for point in (at(2.0 * math.pi * k / len(depths_px)), at(2.0 * math.pi * k / len(depths_px), depth))
    ]
    return json.dumps([at(0.0), at(math.pi), *places])


EVEN = points(RIM, RIM, RIM, RIM)


def save(client: TestClient, **typed: str) -> Response:
    return send(client, MEASURE, MEASURE, **{"taps": EVEN, **typed})


def sum_up(client: TestClient, **typed: str) -> str:
    fields = {**read_page_form(client.get(MEASURE).text, MEASURE), **typed}
    answer = client.post(f"{MEASURE}/sum", data=fields)
    assert answer.status_code == 200
    return answer.text


def only(store: Store) -> Reading:
    (reading,) = rows(store, Reading)
    return reading


def test_points_are_summed_up_and_nothing_is_saved_yet(client: TestClient, app_store: Store) -> None:
    found = sum_up(client, taps=points(36.0, 40.0, 44.0))
    assert "1.00 mm" in found
    assert "0.90 to 1.10 mm" in found
    assert found.count("data-again") == 3
    assert "slant" not in found
    assert rows(app_store, Reading) == []
    assert rows(app_store, Photo)[0].measured == {}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"taps": "[]"}, "Set the two ends"),
        ({"taps": json.dumps([at(0.0), at(math.pi), at(1.0)])}, "0 of at least 3 places"),
        ({"taps": points(RIM, RIM)}, "2 of at least 3 places"),
        ({"taps": json.dumps([[10, 10], [20, 20], *json.loads(EVEN)[2:]])}, "pixels apart"),
        ({"taps": EVEN, "scale_of": "other"}, "Type the length between the two points"),
        ({"taps": EVEN, "scale_of": "other", "length_m": "0.1"}, "0.1 mm is too little"),
        ({"taps": EVEN, "scale_of": "other", "length_m": "nan"}, "not a number"),
        ({"taps": EVEN, "scale_of": "a thumb"}, "not in the list"),
        ({"taps": "{}"}, "not understood"),
        ({"taps": "hello"}, "not understood"),
        ({"taps": "[" * 3000}, "not understood"),
        ({"taps": "[[NaN, 1], [2, 3]]"}, "not understood"),
        ({"taps": "[[Infinity, 1], [2, 3]]"}, "not understood"),
        ({"taps": f"[[{'9' * 400}, 1], [2, 3]]"}, "not understood"),
        ({"taps": "[[-1, 1], [2, 3]]"}, "not understood"),
        ({"taps": "[[901, 1], [2, 3]]"}, "not understood"),
        ({"taps": "[[true, 1], [2, 3]]"}, "not understood"),
        ({"taps": '[["1", 1], [2, 3]]'}, "not understood"),
        ({"taps": "[[1], [2, 3]]"}, "not understood"),
        ({"taps": json.dumps([at(0.0)] * 200)}, "not understood"),
        ({"taps": "[" + "1," * 4000}, "characters long"),
        ({"taps": EVEN, "after": "temper_1"}, "does not hold the temper"),
        ({"taps": EVEN, "reading_version": "x"}, "whole number"),
        ({"taps": EVEN, "at": "2026-04-02T08:00"}, "before the box went into the fire"),
        ({"taps": EVEN, "scale_of": "other", "length_m": "100"}, "deeper than the middle"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_the_points_are_kept(
    client: TestClient, app_store: Store, typed: dict[str, str], said: str
) -> None:
    answer = save(client, **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert rows(app_store, Reading) == []
    if len(typed["taps"]) < 4000:
        assert read_page_form(answer.text, MEASURE)["taps"] == [typed["taps"]]
    sum_up(client, **typed)


def test_a_measured_depth_is_a_reading_that_knows_its_photo(client: TestClient, app_store: Store) -> None:
    answer = save(client, how="etch", note="nital, ten seconds")
    assert answer.headers["location"] == PIN
    reading = only(app_store)
    assert (reading.kind, reading.after, reading.unit, reading.note) == (
        "depth",
        "quench",
        "m",
        "nital, ten seconds",
    )
    assert reading.value == pytest.approx(TRUE_M, rel=1e-9)
    assert (reading.details["how"], reading.details["photo_id"], reading.details["places"]) == ("etch", 1, 4)
    (photo,) = rows(app_store, Photo)
    assert photo.reading_id == reading.id
    assert photo.measured["points"] == json.loads(EVEN)
    page = client.get(PIN).text
    assert "1.00 mm on an etched cut, 4 places on a photo" in text_of(page)
    assert f'href="{MEASURE}"' in page
    (coupon,) = client.get("/api/coupons").json()["coupons"]
    assert coupon["readings"][0]["details"]["photo_id"] == 1


def test_something_else_of_known_length_is_a_scale_as_typed(client: TestClient, app_store: Store) -> None:
    assert save(client, scale_of="other", length_m="1/4 in").status_code == 303
    assert only(app_store).value == pytest.approx(0.00635 * RIM / (2.0 * RADIUS))
    form = read_page_form(client.get(MEASURE).text, MEASURE)
    assert (form["scale_of"], form["length_m"]) == (["other"], ["1/4 in"])


def test_points_are_put_right_and_the_same_reading_follows(client: TestClient, app_store: Store) -> None:
    save(client)
    form = read_page_form(client.get(MEASURE).text, MEASURE)
    assert json.loads(form["taps"][0]) == json.loads(EVEN)
    assert save(client, taps=points(20.0, 20.0, 20.0)).status_code == 303
    reading = only(app_store)
    assert reading.value == pytest.approx(TRUE_M / 2.0)
    assert (reading.version, reading.details["places"]) == (2, 3)


@pytest.mark.parametrize("saved_before", [False, True])
def test_a_second_tablet_overwrites_nothing_and_may_insist(
    client: TestClient, app_store: Store, saved_before: bool
) -> None:
    if saved_before:
        save(client)
    stale = {**read_page_form(client.get(MEASURE).text, MEASURE), "taps": [points(10.0, 10.0, 10.0)]}
    save(client, taps=points(20.0, 20.0, 20.0))
    refused = client.post(MEASURE, data=stale)
    assert refused.status_code == 409
    assert "Nothing was overwritten" in text_of(refused.text)
    assert only(app_store).value == pytest.approx(TRUE_M / 2.0)
    again = read_page_form(refused.text, MEASURE)
    assert again["taps"] == stale["taps"]
    assert client.post(MEASURE, data=again).status_code == 303
    assert only(app_store).value == pytest.approx(TRUE_M / 4.0)


def test_a_reading_put_right_by_hand_is_not_overwritten_by_a_page_opened_before(
    client: TestClient, app_store: Store
) -> None:
    save(client)
    stale = read_page_form(client.get(MEASURE).text, MEASURE)
    assert send(client, "/readings/1", "/readings/1", value="0.7").status_code == 303
    assert client.post(MEASURE, data=stale).status_code == 409
    assert only(app_store).value == pytest.approx(0.0007)
    assert "put right by hand since: 0.70 mm" in text_of(client.get(MEASURE).text)


def test_a_removed_reading_leaves_the_points_to_make_another(client: TestClient, app_store: Store) -> None:
    save(client)
    press(client, PIN, "/readings/1/remove")
    assert json.loads(read_page_form(client.get(MEASURE).text, MEASURE)["taps"][0]) == json.loads(EVEN)
    assert save(client).status_code == 303
    assert only(app_store).id == 2


def test_a_scale_that_contradicts_the_round_piece_is_warned_of(client: TestClient) -> None:
    found = sum_up(client, taps=EVEN, scale_of="other", length_m="12")
    assert "make a circle of 12 mm, and the piece is 10 mm across" in found
    assert "only a few dots" in sum_up(client, taps=points(10.0, 10.0, 10.0))


def test_only_a_photo_of_a_piece_is_measured(client: TestClient) -> None:
    give(client, "/batches/1")
    for answer in (
        client.get("/photos/2/measure"),
        client.post("/photos/2/measure", data={"taps": EVEN}),
        client.post("/photos/2/measure/sum", data={"taps": EVEN, "after": "quench"}),
        client.get("/photos/99/measure"),
    ):
        assert answer.status_code == 404
    assert "/measure" not in client.get("/photos/2").text


@pytest.mark.parametrize(
    ("depths_px", "is_wider"), [((40.0, 40.0, 40.0, 40.0), False), ((10.0, 40.0, 70.0), True)]
)
def test_the_fit_takes_the_photos_doubt_where_it_is_more_than_an_eyes(
    client: TestClient, app_store: Store, clock: FixedClock, depths_px: tuple[float, ...], is_wider: bool
) -> None:
    save(client, taps=points(*depths_px))
    with read(app_store) as session:
        (told,) = told_of_batch(session, load_batch(session, 1), clock.now()).values()
    seen: Any = told.reading  # type: ignore[union-attr]
    assert isinstance(seen, DepthReading)
    claimed = only(app_store).details["sd_m"]
    assert (claimed > DEPTH_SD_M["break"]) is is_wider
    assert seen.sd_m == (claimed if is_wider else None)
