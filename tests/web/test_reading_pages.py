"""Readings: kept as typed, held against what can be, set aside with a reason, never lost."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from sqlalchemy import event

from tests.web.batch_steps import press, rows, start, walk
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.engine import Store
from webapp.store.tables import Instrument, Reading

PIN = "/items/1"
FIRST = f"{PIN}/readings/new?kind=first"


@pytest.fixture(autouse=True)
def _quenched(client: TestClient) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out", "reheat", "quench")


def read_off(client: TestClient, kind: str, **typed: str) -> Response:
    page = f"{PIN}/readings/new?kind={kind}"
    return send(client, page, page, **typed)


def only(store: Store) -> Reading:
    (reading,) = rows(store, Reading)
    return reading


def test_the_first_view_asks_for_one_hardness_one_file_and_one_depth(client: TestClient) -> None:
    page = client.get(f"{PIN}/readings/new").text
    shown = page.partition('<details class="more"')[0]
    for label in ("Hardness", "Scale", "One old file", "Case seen on a break", "Measured after"):
        assert label in shown, label
    assert "Surface" not in shown
    assert "throws shards" in shown
    assert read_page_form(page, FIRST)["after"] == ["quench"]


def test_the_form_asks_the_book_for_nothing_twice(client: TestClient, app_store: Store) -> None:
    asked: list[tuple[str, str]] = []

    def note(*told: Any) -> None:
        asked.append((told[2], str(told[3])))

    event.listen(app_store.reader, "before_cursor_execute", note)
    client.get(f"{PIN}/readings/new?kind=hardness")
    event.remove(app_store.reader, "before_cursor_execute", note)
    assert len(asked) > 5
    assert [one for one in set(asked) if asked.count(one) > 1] == []


def test_the_first_view_keeps_each_of_its_readings(client: TestClient, app_store: Store) -> None:
    answer = send(client, FIRST, FIRST, hardness="60,5", file_result="skates", depth_m="0.6 mm")
    assert answer.headers["location"] == PIN
    hardness, file, depth = rows(app_store, Reading)
    assert (hardness.kind, hardness.value, hardness.unit) == ("hardness", 60.5, "HRC")
    assert hardness.typed["value"].startswith("60,5")
    assert (file.kind, file.details, file.instrument_id is not None) == (
        "one_file",
        {"result": "skates"},
        True,
    )
    assert (depth.kind, depth.value, depth.details) == ("depth", pytest.approx(0.0006), {"how": "break"})
    assert {row.after for row in (hardness, file, depth)} == {"quench"}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "Nothing was read yet"),
        ({"hardness": "95"}, "95 HRC cannot be. Allowed: 20 to 70"),
        ({"hardness": "-3"}, "-3 HRC cannot be"),
        ({"hardness": "nan"}, "not a number"),
        ({"hardness": "inf"}, "not a number"),
        ({"depth_m": "-0.1"}, "less than nothing"),
        ({"depth_m": "12"}, "too much here"),
        ({"depth_m": "6"}, "deeper than the middle"),
        ({"hardness": "60", "after": "temper_1"}, "does not hold the temper"),
        ({"hardness": "60", "surface": "ground"}, "how much was ground off"),
        ({"hardness": "60", "removed_m": "0.1"}, "not as it came"),
        ({"hardness": "60", "at": "2026-04-02T08:00"}, "before the box went into the fire"),
        ({"hardness": "60", "at": "2026-04-09T08:00"}, "has not come yet"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_and_the_rest_kept(
    client: TestClient, app_store: Store, typed: dict[str, str], said: str
) -> None:
    answer = send(client, FIRST, FIRST, note="by the window", **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert read_page_form(answer.text, FIRST)["note"] == ["by the window"]
    assert rows(app_store, Reading) == []


@pytest.mark.parametrize(
    ("unit", "value", "status"),
    [
        ("HRC", "58", 303),
        ("HRA", "82", 303),
        ("HR15N", "90.2", 303),
        ("HR15N", "58", 422),
        ("HV", "720", 303),
        ("HRA", "58", 422),
        ("HV", "58", 422),
        ("HRC", "720", 422),
    ],
)
def test_a_hardness_belongs_on_its_scale(client: TestClient, unit: str, value: str, status: int) -> None:
    assert read_off(client, "hardness", unit=unit, value=value).status_code == status


@pytest.mark.parametrize("kind", ["first", "hardness"])
def test_a_scale_typed_behind_the_number_is_the_scale(
    client: TestClient, app_store: Store, kind: str
) -> None:
    name = "hardness" if kind == "first" else "value"
    assert read_off(client, kind, **{name: "90,2 hr15n", "unit": "HRC"}).status_code == 303
    assert (only(app_store).value, only(app_store).unit) == (90.2, "HR15N")


def test_the_last_scale_and_tester_are_offered_again(client: TestClient, app_store: Store) -> None:
    send(client, "/shop/testers/new", "/shop/testers", name="Small Vickers", method="vickers")
    vickers = str(rows(app_store, Instrument)[-1].id)
    assert read_off(client, "hardness", unit="HV", value="720", instrument_id=vickers).status_code == 303
    for kind in ("first", "hardness"):
        page = f"{PIN}/readings/new?kind={kind}"
        offered = read_page_form(client.get(page).text, page)
        assert (offered["unit"], offered["instrument_id"]) == (["HV"], [vickers])


def test_a_machine_reads_its_own_scales_only(client: TestClient, app_store: Store) -> None:
    send(client, "/shop/testers/new", "/shop/testers", name="Small Vickers", method="vickers")
    vickers = str(rows(app_store, Instrument)[-1].id)
    answer = read_off(client, "hardness", unit="HRC", value="60", instrument_id=vickers)
    assert answer.status_code == 422
    assert "Small Vickers does not read HRC" in text_of(answer.text)
    assert rows(app_store, Reading) == []


def test_saving_leads_on_to_the_next_piece_that_nothing_was_read_from(client: TestClient) -> None:
    assert "then measure" not in client.get(FIRST).text
    for _ in range(2):
        send(client, "/batches/1/items/new?kind=coupon", "/batches/1/items/new?kind=coupon")
    assert "Save, then measure B " in text_of(client.get(FIRST).text)
    second, third = (f"/items/{number}/readings/new?kind=first" for number in (2, 3))
    assert send(client, FIRST, FIRST, hardness="60", then="next").headers["location"] == second
    assert send(client, second, second, hardness="60", then="next").headers["location"] == third
    assert send(client, third, third, hardness="60", then="next").headers["location"] == "/items/3"


KINDS: list[tuple[str, dict[str, str], dict[str, object], str]] = [
    ("files", {"low": "55", "high": "60"}, {}, "55 to 60 HRC"),
    ("hardness", {"unit": "HRC", "value": "20"}, {}, "20 HRC or less"),
    ("hardness", {"unit": "HR15N", "value": "94"}, {}, "94 HR15N or more"),
    ("one_file", {"result": "marks"}, {"result": "marks"}, "file just marks"),
    ("depth", {"how": "etch", "value": "0.8"}, {"how": "etch"}, "0.80 mm on an etched cut"),
    ("spark", {"high_carbon": "yes"}, {"high_carbon": True}, "high-carbon sprigs"),
    ("soft_spots", {"seen": "no"}, {"seen": False}, "looked for, none"),
    ("chips", {"seen": "yes"}, {"seen": True}, "found"),
    ("cracks", {"seen": "no"}, {"seen": False}, "looked for, none"),
    (
        "bend",
        {"result": "snapped", "angle_deg": "30"},
        {"result": "snapped", "angle_deg": 30.0},
        "snapped at 30°",
    ),
]


@pytest.mark.parametrize(("kind", "typed", "details", "said"), KINDS, ids=[case[0] for case in KINDS])
def test_every_kind_of_reading_is_kept_and_shown(
    client: TestClient,
    app_store: Store,
    kind: str,
    typed: dict[str, str],
    details: dict[str, object],
    said: str,
) -> None:
    assert read_off(client, kind, **typed).status_code == 303
    assert only(app_store).kind == kind
    assert only(app_store).details == details
    assert said in text_of(client.get(PIN).text)
    again = send(client, "/readings/1", "/readings/1", note="checked")
    assert again.status_code == 303
    assert (only(app_store).details, only(app_store).note) == (details, "checked")


def test_a_traverse_is_kept_point_by_point(client: TestClient, app_store: Store) -> None:
    assert read_off(client, "traverse", points="0.1 760\n0,3 700 HV\n0.02 in; 500").status_code == 303
    points = only(app_store).details["points"]
    assert points == [
        [pytest.approx(1e-4), 760.0],
        [pytest.approx(3e-4), 700.0],
        [pytest.approx(5.08e-4), 500.0],
    ]
    assert "3 points" in text_of(client.get(PIN).text)
    assert "0,3 700 HV" in client.get("/readings/1").text


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ("0.1 760", "two points or more"),
        ("0.1 760\n0.1 700", "must grow"),
        ("0.1 760\n0.2", "Line 2"),
        ("0.1 760\n0.2 soft", "Line 2"),
        ("0.1 760\n0.2 5000", "80 and 1200"),
        ("0.1 760\n40 300", "between 0 and 10 mm"),
        ("nan 760\n0.2 700", "Line 1"),
    ],
)
def test_a_traverse_that_cannot_be_read_names_its_line(client: TestClient, points: str, said: str) -> None:
    answer = read_off(client, "traverse", points=points)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert points in answer.text


def test_swapped_files_are_asked_about(client: TestClient) -> None:
    answer = read_off(client, "files", low="60", high="55")
    assert answer.status_code == 422
    assert "swapped" in text_of(answer.text)


def test_size_and_bow_are_kept_for_parts_only(client: TestClient, app_store: Store) -> None:
    assert read_off(client, "size", when="before", size_m="10").status_code == 422
    part = {"name": "pawl", "bar_id": "1", "shape": "plate", "size_m": "8"}
    send(client, "/parts/new", "/parts", **part)
    pack = "/batches/1/items/new?kind=part"
    send(client, pack, pack, part_id="1")
    page = "/items/2/readings/new?kind=size"
    assert send(client, page, page, when="after_grinding").status_code == 422
    answer = send(client, page, page, when="after_grinding", size_m="7.9", bow_m="0.05", off_a_m="0.1")
    assert answer.status_code == 303
    assert only(app_store).details["off_a_m"] == pytest.approx(1e-4)
    assert "size 7.90 mm, bow 0.05 mm, off one face 0.10 mm" in text_of(client.get("/items/2").text)


def test_a_double_tap_keeps_one_reading(client: TestClient, app_store: Store) -> None:
    told = read_page_form(client.get(FIRST).text, FIRST) | {"hardness": ["60"]}
    assert [client.post(FIRST, data=told).status_code for _ in range(2)] == [303, 303]
    assert only(app_store).value == 60.0


def test_a_reading_changed_on_two_tablets_shows_both_versions(client: TestClient, app_store: Store) -> None:
    send(client, FIRST, FIRST, hardness="60")
    stale = read_page_form(client.get("/readings/1").text, "/readings/1")
    send(client, "/readings/1", "/readings/1", value="61")
    answer = client.post("/readings/1", data={**stale, "value": "59"})
    assert answer.status_code == 409
    text = text_of(answer.text)
    assert "59" in text
    assert "61" in text
    assert only(app_store).value == 61.0


def test_a_reading_is_set_aside_because_of_something_and_counted_again(
    client: TestClient, app_store: Store
) -> None:
    send(client, FIRST, FIRST, hardness="60")
    page = "/readings/1/set-aside"
    send(client, page, page, why="anvil was loose")
    assert only(app_store).left_out_why == "anvil was loose"
    assert "Set aside because anvil was loose" in text_of(client.get(PIN).text)
    press(client, PIN, "/readings/1/take-in")
    assert only(app_store).left_out_why == ""


def test_a_removed_reading_can_be_had_back(client: TestClient, app_store: Store) -> None:
    send(client, FIRST, FIRST, hardness="60")
    answer = press(client, PIN, "/readings/1/remove")
    assert rows(app_store, Reading) == []
    undo = client.get(answer.headers["location"]).text
    client.post("/readings/1/put-back", data=read_page_form(undo, "/readings/1/put-back"))
    assert only(app_store).value == 60.0


def test_a_shop_in_inches_reads_depth_in_inches(client: TestClient, app_store: Store) -> None:
    send(client, "/shop/settings", "/shop/settings", length_unit="in")
    send(client, FIRST, FIRST, depth_m="0.024")
    assert only(app_store).value == pytest.approx(0.0006096)
    assert "0.024 in" in text_of(client.get(PIN).text)


def test_an_unknown_kind_of_reading_is_no_page(client: TestClient) -> None:
    assert client.get(f"{PIN}/readings/new?kind=taste").status_code in (404, 422)
