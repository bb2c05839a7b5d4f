"""Readings from a program: held to the same as on the page, kept alike and once, refused with what to do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from sqlmodel import select

from tests.web.batch_steps import press, rows, start, walk
from tests.web.page_forms import begin, send
from webapp.store.engine import Store, read
from webapp.store.tables import Change, Reading

COUPON = "/api/coupons/1/readings"
KEY = "tester-0001"
HARDNESS = {"kind": "hardness", "value": 60.5, "unit": "HRC", "note": "by the tester"}
LEFT_OUT = {"id", "version", "created_at", "updated_at", "typed"}


@pytest.fixture(autouse=True)
def _quenched(client: TestClient) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in", "at_heat", "box_out", "reheat", "quench")


def post(client: TestClient, body: Any, key: str = KEY, to: str = COUPON) -> Response:
    return client.post(to, json=body, headers={"Idempotency-Key": key})


def test_a_reading_from_a_program_is_kept_as_one_from_the_page(client: TestClient, app_store: Store) -> None:
    answer = post(client, HARDNESS)
    assert (answer.status_code, answer.json()) == (
        201,
        {"schema": 1, "coupon_id": 1, "reading_id": 1, "page": "/items/1#reading-1"},
    )
    page = "/items/1/readings/new?kind=hardness"
    typed = {"value": "60.5", "unit": "HRC", "note": "by the tester", "surface": "as it came"}
    assert send(client, page, page, **typed).status_code == 303
    ours, by_hand = rows(app_store, Reading)
    assert ours.model_dump(exclude=LEFT_OUT) == by_hand.model_dump(exclude=LEFT_OUT)
    assert (ours.after, ours.typed) == ("quench", {"value": "60.5"})
    with read(app_store) as session:
        changes = list(session.exec(select(Change).where(Change.table_name == "reading")))
    assert [(row.record_id, row.action) for row in changes] == [(1, "added"), (2, "added")]
    assert 'id="reading-1"' in client.get("/items/1").text
    listed = client.get("/api/coupons").json()["coupons"][0]["readings"]
    assert [(one["id"], one["value"]) for one in listed] == [(1, 60.5), (2, 60.5)]


def test_depth_and_traverse_come_in_millimetres(client: TestClient, app_store: Store) -> None:
    points = [{"depth_mm": 0.1, "HV": 760}, {"depth_mm": 0.5, "HV": 610.5}]
    bodies = ({"kind": "depth", "value_mm": 0.6, "how": "etch"}, {"kind": "traverse", "points": points})
    for number, body in enumerate(bodies):
        assert post(client, body, f"tester-000{number}").status_code == 201
    depth, traverse = rows(app_store, Reading)
    assert (depth.value, depth.unit, depth.details) == (pytest.approx(0.0006), "m", {"how": "etch"})
    assert traverse.details["points"] == [[pytest.approx(0.0001), 760], [pytest.approx(0.0005), 610.5]]


def test_the_same_key_again_is_answered_as_the_first_time_and_kept_once(
    client: TestClient, app_store: Store
) -> None:
    first, again = post(client, HARDNESS), post(client, HARDNESS)
    assert (again.status_code, again.json()) == (201, first.json())
    assert len(rows(app_store, Reading)) == 1
    client.post("/batches", data={"form_id": "of-a-page-0001"})
    answer = post(client, HARDNESS, "of-a-page-0001")
    assert (answer.status_code, answer.json()["errors"][0]["path"]) == (422, "Idempotency-Key")


def refused_bodies() -> Iterator[tuple[Any, str, str]]:
    """Give what is refused: a body, the path that is named and words of what is wrong."""
    yield HARDNESS | {"value": 90}, "value", "90 HRC cannot be"
    yield HARDNESS | {"value": 5000}, "value", "5000 is out of range"
    yield HARDNESS | {"value": "60"}, "value", "valid number"
    yield HARDNESS | {"colour": "blue"}, "colour", "unknown key"
    yield HARDNESS | {"after": "temper_1"}, "after", "does not hold the temper yet"
    yield HARDNESS | {"surface": "ground"}, "removed_mm", "how much was ground off"
    yield HARDNESS | {"note": "a\x00b"}, "note", "hidden character"
    yield HARDNESS | {"tester_id": 99}, "tester_id", "99 is no tester"
    yield HARDNESS | {"tester_id": 1}, "tester_id", "1 is no tester"
    yield {"kind": "depth", "value_mm": 9.9}, "value_mm", "deeper than the middle"
    yield {"kind": "traverse", "points": [{"depth_mm": 0.1, "HV": 700}]}, "points", "at least 2"
    yield {"kind": "colour"}, "", "colour"
    yield [HARDNESS], "", "object"


@pytest.mark.parametrize(("body", "path", "words"), list(refused_bodies()), ids=str)
def test_what_cannot_be_is_refused_with_where_and_what_to_do(
    client: TestClient, app_store: Store, body: Any, path: str, words: str
) -> None:
    answer = post(client, body)
    (error,) = answer.json()["errors"]
    assert (answer.status_code, error["path"]) == (422, path), error
    assert words in error["what"]
    assert error["advice"]
    assert rows(app_store, Reading) == []


@pytest.mark.parametrize(
    "content", ['{"kind": "hardness", "value": NaN, "unit": "HRC"}', '{"kind": 1, "kind": 2}', "{", "\ud800"]
)
def test_what_is_no_json_that_can_be_used_is_refused(client: TestClient, content: str) -> None:
    sent = content.encode("utf-8", "surrogatepass")
    headers = {"Idempotency-Key": KEY, "content-type": "application/json"}
    answer = client.post(COUPON, content=sent, headers=headers)
    assert (answer.status_code, len(answer.json()["errors"])) == (422, 1)


def test_a_key_is_asked_for_and_a_coupon_must_be_there(client: TestClient) -> None:
    for headers in ({}, {"Idempotency-Key": "short"}):
        answer = client.post(COUPON, json=HARDNESS, headers=headers)
        assert (answer.status_code, answer.json()["errors"][0]["path"]) == (422, "Idempotency-Key")
    assert post(client, HARDNESS, to="/api/coupons/99/readings").json()["errors"][0]["path"] == "coupon_id"
    press(client, "/items/1", "/items/1/remove")
    assert post(client, HARDNESS).status_code == 404


def test_another_sites_page_sends_no_reading(client: TestClient, app_store: Store) -> None:
    headers = {"Idempotency-Key": KEY, "Origin": "http://evil.example"}
    assert client.post(COUPON, json=HARDNESS, headers=headers).status_code == 403
    assert rows(app_store, Reading) == []
