"""What a quench carries: the way in, the bath, the weight; bow by shape and bath; case left on a face."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

from model.process import Quench
from tests.conftest import FixedClock
from tests.web.batch_steps import rows, start, step, walk
from tests.web.page_forms import begin, send, text_of
from webapp.services.batch_rows import load_batch
from webapp.services.bow_history import Bows
from webapp.services.processes import NotYet, process_of_item
from webapp.services.whole_book import by_id
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Bath, Step

BEFORE_QUENCH = ("box_in", "at_heat", "box_out", "reheat")
PACK = "/batches/1/items/new?kind=part"
PIECE = "/items/2"
SIZE = f"{PIECE}/readings/new?kind=size"
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _started(client: TestClient) -> None:
    begin(client)
    start(client)


def to_the_bath(client: TestClient, clock: FixedClock, *more: str) -> None:
    """Take the batch as far as the reheat, an hour for every step, and on."""
    for action in (*BEFORE_QUENCH, *more):
        clock.move(hours=1)
        walk(client, "/batches/1", action)
    clock.move(hours=1)


def quench_of_model(store: Store) -> Quench:
    """Return the quench of the first piece as the forecast gets it."""
    with read(store) as session:
        book = load_batch(session, 1)
        item = book.items[0]
        bar = session.get(Bar, item.bar_id)
        assert bar is not None
        process = process_of_item(book, item, bar, by_id(session, Bath), NOW)
    assert not isinstance(process, NotYet), process.why
    return next(one for one in process.steps if isinstance(one, Quench))


def pack_a_part(client: TestClient) -> None:
    pin = {"name": "pin", "bar_id": "1", "shape": "rod", "size_m": "12"}
    assert send(client, "/parts/new", "/parts", **pin).status_code == 303
    assert send(client, PACK, PACK, part_id="1").status_code == 303


def note_size(client: TestClient, **typed: str) -> None:
    answer = send(client, SIZE, SIZE, **typed)
    assert answer.status_code == 303, text_of(answer.text)


def test_the_bath_as_it_was_goes_into_the_forecast(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    to_the_bath(client, clock)
    told = {"bath_before_K": "45", "bath_after_K": "62", "work_kg": "1.5", "seconds_to_bath": "4"}
    assert step(client, "/batches/1", "quench", **told, way_in="end", motion="up_and_down").status_code == 303
    quench = quench_of_model(app_store)
    assert quench.bath_K == pytest.approx(318.15)
    assert (quench.work_kg, quench.seconds_to_bath) == (1.5, 4.0)
    words = text_of(client.get("/batches/1").text)
    assert "4 s to the bath, end first, moved well, up and down, 1.50 kg in all" in words
    assert "bath 45 °C before, 62 °C after" in words


def test_a_bath_temperature_that_is_cleared_is_the_usual_one_again(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    to_the_bath(client, clock)
    step(client, "/batches/1", "quench", bath_before_K="45")
    quench = next(one for one in rows(app_store, Step) if one.kind == "quench")
    send(client, f"/steps/{quench.id}", f"/steps/{quench.id}", bath_before_K="")
    usual = rows(app_store, Bath)[0].temperature_K
    assert quench_of_model(app_store).bath_K == pytest.approx(usual)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"bath_before_K": "900"}, "250"),
        ({"bath_after_K": "hot"}, "number"),
        ({"work_kg": "0"}, "kilograms"),
        ({"way_in": "sideways"}, "not in the list"),
    ],
)
def test_a_quench_that_cannot_be_is_refused_and_keeps_what_was_typed(
    client: TestClient, clock: FixedClock, typed: dict[str, str], said: str
) -> None:
    to_the_bath(client, clock)
    answer = step(client, "/batches/1", "quench", note="the lid was late", **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert "the lid was late" in answer.text


def test_the_run_sheet_draws_the_way_in_until_the_quench(client: TestClient, clock: FixedClock) -> None:
    assert 'aria-label="Upright, end first"' in client.get("/batches/1/print").text
    to_the_bath(client, clock)
    assert "side to side" in text_of(client.get("/batches/1").text)
    walk(client, "/batches/1", "quench")
    assert "way-in" not in client.get("/batches/1/print").text


def test_bow_by_shape_and_bath_says_what_to_leave_for_grinding(client: TestClient, clock: FixedClock) -> None:
    pack_a_part(client)
    assert "bowed" not in text_of(client.get("/parts/1").text)
    to_the_bath(client, clock, "quench")
    for bow in ("0.08", "0.12", "0.21"):
        note_size(client, when="after_quench", bow_m=bow)
    note_size(client, when="before", bow_m="0.9")
    words = text_of(client.get("/parts/1").text)
    assert "bowed 0.08 to 0.21 mm (3 pieces)" in words
    assert "Leave 0.3 mm on each face" in words
    assert "About 1 piece in 4 would still need more" in words


@pytest.mark.parametrize(("largest_m", "stock_m"), [(0.1e-3, 0.15e-3), (0.101e-3, 0.20e-3), (0.0, 0.05e-3)])
def test_the_stock_clears_the_largest_bow_and_a_clean_up(largest_m: float, stock_m: float) -> None:
    assert Bows("rod", 1, (0.0, largest_m)).stock_m == pytest.approx(stock_m)


def test_an_uneven_grind_leaves_less_case_where_more_came_off(client: TestClient, clock: FixedClock) -> None:
    pack_a_part(client)
    to_the_bath(client, clock, "quench")
    assert "case-left" not in client.get(PIECE).text
    note_size(client, when="after_grinding", off_a_m="0.02", off_b_m="0.12")
    assert f"{PIECE}/case-left" in client.get(PIECE).text
    words = text_of(client.get(f"{PIECE}/case-left").text)
    first, second = words.index("One face, 0.02 mm off"), words.index("The other face, 0.12 mm off")
    left = [float(words[at:].split(" off ")[1].split(" mm")[0]) for at in (first, second)]
    assert left[0] - left[1] == pytest.approx(0.1, abs=0.015)


def test_a_piece_that_was_not_ground_is_asked_for_its_size(client: TestClient) -> None:
    assert "Note its size after grinding" in text_of(client.get("/items/1/case-left").text)
    assert client.get("/items/99/case-left").status_code == 404
