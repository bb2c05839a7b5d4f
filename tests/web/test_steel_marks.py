"""Marks that survive the fire: which a piece is offered, how it is typed, said, searched for and found."""

from __future__ import annotations

from itertools import islice

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.web.batch_steps import press, rows, start, walk
from tests.web.page_forms import begin, send, text_of
from webapp.services.mark_drawing import draw_mark
from webapp.services.marking import mark_of_item, open_pieces
from webapp.services.steel_marks import (
    BadSign,
    Mark,
    Steel,
    find_marks,
    first_free,
    marks_for,
    read_sign,
    say_mark,
    usual_kind,
    where_to_put,
)
from webapp.store.engine import Store
from webapp.store.tables import Item

THIN_PIN = Steel("rod", 0.006)
STOUT_ROD = Steel("rod", 0.020)
PLATE = Steel("plate", 0.008)
SHEET = Steel("plate", 0.002)
TUBE = Steel("tube", 0.022, 0.012)
COUPON = "/batches/1/items/new?kind=coupon"


@pytest.mark.parametrize(
    ("steel", "kind"),
    [(THIN_PIN, "notches"), (STOUT_ROD, "dots"), (PLATE, "dots"), (SHEET, "notches"), (TUBE, "notches")],
)
def test_a_thin_pin_takes_notches_and_a_plate_dots(steel: Steel, kind: str) -> None:
    assert usual_kind(steel) == kind
    assert next(marks_for(steel, "")) == Mark(kind, "1")


@pytest.mark.parametrize("steel", [THIN_PIN, STOUT_ROD, PLATE, SHEET, TUBE])
@pytest.mark.parametrize("habit", ["", "notches", "dots", "stamp"])
def test_however_many_pieces_are_open_each_mark_is_its_own_and_has_a_place_and_a_picture(
    steel: Steel, habit: str
) -> None:
    taken: set[Mark] = set()
    for _ in range(80):
        mark = first_free(steel, habit, taken, "B")
        assert mark not in taken
        assert where_to_put(mark, steel.shape)
        picture = draw_mark(mark, steel.shape)
        cut = sum(len(face.notches) + len(face.dots) for face in picture.faces)
        counted = sum(int(part) for part in mark.sign.split("+")) if mark.kind != "stamp" else 0
        assert cut == counted
        points = [point for face in picture.faces for point in (*face.notches, *face.dots)]
        assert all(0 <= x <= picture.wide and 0 <= y <= 24 for x, y, *_ in points)
        taken.add(mark)


def test_a_punch_is_not_offered_where_it_finds_no_room() -> None:
    for steel in (THIN_PIN, SHEET, TUBE):
        assert all(mark.kind != "dots" for mark in islice(marks_for(steel, ""), 60))
    assert first_free(THIN_PIN, "dots", ()) == Mark("notches", "1")


@pytest.mark.parametrize(
    ("kind", "typed", "sign", "said"),
    [
        ("notches", " 3 ", "3", "3 notches"),
        ("notches", "1 + 2", "2+1", "2 notches on one end, 1 on the other"),
        ("dots", "1", "1", "1 dot"),
        ("stamp", "a7", "A7", "stamped A7"),
    ],
)
def test_a_count_is_typed_as_it_is_thought_of(kind: str, typed: str, sign: str, said: str) -> None:
    assert read_sign(kind, typed) == sign
    assert say_mark(Mark(kind, sign)) == said


@pytest.mark.parametrize(
    ("kind", "typed"), [("dots", "2+1"), ("notches", "0"), ("notches", "12"), ("dots", "x"), ("stamp", "A-7")]
)
def test_a_count_that_no_mark_has_is_refused(kind: str, typed: str) -> None:
    with pytest.raises(BadSign):
        read_sign(kind, typed)


@pytest.mark.parametrize(
    ("asked", "mark"),
    [
        ("3 notches", Mark("notches", "3")),
        ("pin with Two Dots", Mark("dots", "2")),
        ("notches 4", Mark("notches", "4")),
        ("1+2 notches", Mark("notches", "2+1")),
        ("stamped a7", Mark("stamp", "A7")),
        ("one notch", Mark("notches", "1")),
    ],
)
def test_a_search_is_understood_as_a_mark(asked: str, mark: Mark) -> None:
    ((found, words),) = find_marks(asked)
    assert found == mark
    assert words in asked


def test_words_that_only_look_so_are_no_mark() -> None:
    for words in ("dots", "a notched lever", "batch 3", "stamp", "three dotted lines", ""):
        assert find_marks(words) == ()


@pytest.fixture
def shop(client: TestClient) -> TestClient:
    begin(client)
    start(client)
    return client


def marks(store: Store) -> list[str]:
    return [f"{item.steel_sign} {item.steel_mark}".strip() for item in rows(store, Item)]


def test_each_piece_gets_a_mark_by_itself_and_another_box_goes_on_from_there(
    shop: TestClient, app_store: Store
) -> None:
    send(shop, COUPON, COUPON, size_m="10")
    send(shop, COUPON, COUPON, size_m="20")
    start(shop)
    assert marks(app_store) == ["1 notches", "2 notches", "1 dots", "3 notches"]


def test_the_shop_may_have_one_kind_for_all(shop: TestClient, app_store: Store) -> None:
    send(shop, "/shop/settings", "/shop/settings", mark_habit="stamp")
    send(shop, COUPON, COUPON, size_m="10")
    assert rows(app_store, Item)[1].steel_mark == "stamp"
    assert rows(app_store, Item)[1].steel_sign == "B"


def test_a_mark_is_typed_changed_and_taken_away(shop: TestClient, app_store: Store) -> None:
    send(shop, COUPON, COUPON, size_m="10", steel_mark="dots", steel_sign="5", steel_place="under the head")
    assert marks(app_store)[1] == "5 dots"
    assert "5 dots under the head" in text_of(shop.get("/items/2").text)
    send(shop, "/items/2/edit", "/items/2/edit", steel_sign="4")
    assert marks(app_store)[1] == "4 dots"
    send(shop, "/items/2/edit", "/items/2/edit", steel_mark="none")
    assert marks(app_store)[1] == ""
    assert "None is noted" in text_of(shop.get("/items/2").text)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"steel_mark": "notches", "steel_sign": "1"}, "Another piece in this box bears 1 notch"),
        ({"steel_mark": "notches", "steel_sign": "many"}, "Type 1 to 9, or 2+1"),
        ({"steel_mark": "usual", "steel_sign": "3"}, "Say which kind of mark"),
        ({"steel_mark": "dots"}, "no room for dots"),
    ],
)
def test_a_mark_that_cannot_be_is_refused_beside_its_field(
    shop: TestClient, app_store: Store, typed: dict[str, str], said: str
) -> None:
    answer = send(shop, COUPON, COUPON, size_m="10", **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert len(rows(app_store, Item)) == 1


def test_a_piece_that_is_finished_frees_its_mark_and_two_open_ones_of_one_mark_are_told(
    shop: TestClient, app_store: Store
) -> None:
    second = start(shop)
    send(shop, "/items/2/edit", "/items/2/edit", steel_sign="1")
    for piece in ("/items/1", "/items/2"):
        assert "bears 1 notch too and is not finished" in text_of(shop.get(piece).text)
    walk(shop, second, "box_in", "at_heat", "box_out")
    with Session(app_store.reader) as session:
        assert [item.id for item in open_pieces(session)] == [1, 2]
    send(shop, "/batches/1/give-up", "/batches/1/give-up", why="rained in")
    with Session(app_store.reader) as session:
        assert [item.id for item in open_pieces(session)] == [2]
    assert "bears 1 notch too" not in text_of(shop.get("/items/2").text)


def test_a_batch_done_again_cuts_marks_of_the_same_kinds_that_are_free(
    shop: TestClient, app_store: Store
) -> None:
    send(shop, COUPON, COUPON, size_m="20", steel_mark="dots", steel_sign="5")
    press(shop, "/batches/1", "/batches/1/again")
    send(shop, "/batches/1/give-up", "/batches/1/give-up", why="rained in")
    press(shop, "/batches/2", "/batches/2/again")
    assert marks(app_store)[4:] == ["1 notches", "2 dots"]
    assert marks(app_store)[:4] == ["1 notches", "5 dots", "2 notches", "1 dots"]


def test_a_piece_is_found_again_by_its_mark(shop: TestClient, app_store: Store) -> None:
    send(shop, COUPON, COUPON, size_m="10", name="slip", steel_mark="dots", steel_sign="2")
    start(shop)
    mark = mark_of_item(rows(app_store, Item)[2])
    assert mark == Mark("notches", "2")
    shown = text_of(shop.get("/which-piece?kind=dots&sign=2").text)
    assert "Batch 1 B slip" in shown
    assert "Batch 2" not in shown
    both = text_of(shop.get("/which-piece").text)
    assert "Batch 1 B slip" in both
    assert "Batch 2 A" in both
    for address in ("/which-piece?kind=x&sign=9", "/which-piece?kind=dots&sign=%00", "/which-piece?sign=2"):
        assert shop.get(address).status_code == 200
    shop.post("/items/2/remove")
    assert "Batch 1 B slip" not in text_of(shop.get("/which-piece?kind=dots&sign=2").text)


@pytest.mark.parametrize(
    ("asked", "found"), [("two dots", [1]), ("2 notches", [2]), ("6 dots", []), ("slip two dots", [1])]
)
def test_the_logbook_is_searched_by_marks(shop: TestClient, asked: str, found: list[int]) -> None:
    send(shop, COUPON, COUPON, size_m="10", name="slip", steel_mark="dots", steel_sign="2")
    start(shop)
    answer = shop.get("/api/batches", params={"q": asked}).json()
    assert sorted(batch["number"] for batch in answer["batches"]) == found


def test_the_run_sheet_says_which_mark_to_cut_and_where(shop: TestClient) -> None:
    sheet = text_of(shop.get("/batches/1/run-sheet").text)
    assert "1 notch across the edge of one end" in sheet
    assert "Paper tags burn" in sheet
    assert sheet.count("Round file") + sheet.count("round file") == 1
