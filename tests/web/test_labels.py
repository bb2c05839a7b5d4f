"""Tags: true places on the paper, one code a piece, none blank, and the sheet remembered."""

from __future__ import annotations

import re

import pytest
import segno
from fastapi.testclient import TestClient

from tests.web.batch_steps import rows, start
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.label_layout import PAPER_MM, LabelSheet, broken
from webapp.services.run_sheet import QUIET_ZONE
from webapp.store.engine import Store
from webapp.store.tables import Item, Shop

FORM = "/labels?batch=1"
COUPON = "/batches/1/items/new?kind=coupon"
TAG = re.compile(r'<svg class="label" x="([\d.]+)" y="([\d.]+)"')
CODE = re.compile(r'data-address="([^"]+)"><rect [^>]+><path d="([^"]+)"')


@pytest.fixture
def shop(client: TestClient) -> TestClient:
    begin(client)
    start(client)
    for _ in range(4):
        send(client, COUPON, COUPON, size_m="10")
    return client


def tags(client: TestClient, **typed: str) -> str:
    answer = send(client, FORM, "/labels", **typed)
    assert answer.status_code == 303, text_of(answer.text)
    return client.get(answer.headers["location"]).text


@pytest.mark.parametrize(
    ("sheet", "columns", "down"),
    [
        (LabelSheet(), 3, 7),
        (LabelSheet("A4", 48.5, 25.4, 0.0, 0.0, 8.0, 21.5), 4, 10),
        (LabelSheet("Letter", 66.7, 25.4, 3.0, 0.0, 4.8, 12.7), 3, 10),
        (LabelSheet("Letter", 101.6, 50.8, 4.8, 0.0, 4.0, 12.7), 2, 5),
        (LabelSheet("A4", 200.0, 280.0, 0.0, 0.0, 5.0, 8.0), 1, 1),
    ],
)
def test_a_sheet_holds_as_many_labels_as_its_packet_says(sheet: LabelSheet, columns: int, down: int) -> None:
    assert (sheet.columns, sheet.rows) == (columns, down)
    wide, high = PAPER_MM[sheet.paper]
    corners = [sheet.corner(place) for place in range(sheet.on_a_page)]
    assert len(set(corners)) == sheet.on_a_page
    assert all(page == 0 and x + sheet.width <= wide and y + sheet.height <= high for page, x, y in corners)
    assert sheet.corner(sheet.on_a_page) == (1, sheet.left, sheet.top)


def test_words_are_broken_to_the_width_and_a_long_one_is_cut() -> None:
    assert broken("a bright rod of mild steel", 15.0, 2.5) == ["a bright", "rod of", "mild steel"]
    assert broken("x" * 50, 14.0, 2.5) == ["x" * 9]


def test_every_piece_gets_one_tag_with_its_own_code_and_no_tag_is_blank(
    shop: TestClient, app_store: Store
) -> None:
    page = tags(shop, skip="2")
    found = CODE.findall(page)
    items = rows(app_store, Item)
    assert [address.rpartition("/items/")[2] for address, _ in found] == [str(item.id) for item in items]
    assert len({path for _, path in found}) == len(items) == len(TAG.findall(page))
    for address, path in found:
        matrix = segno.make(address, error="m", micro=False).matrix
        dark = {(x, y) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}
        drawn = re.findall(r"M(\d+) (\d+)h1v1h-1z", path)
        assert {(int(x) - QUIET_ZONE, int(y) - QUIET_ZONE) for x, y in drawn} == dark
    for item in items:
        assert f">1 {item.mark}<" in page
        assert f"(p{item.id})" in page


def test_skipped_labels_are_left_and_a_full_sheet_goes_on_to_the_next(shop: TestClient) -> None:
    page = tags(shop, skip="19")
    assert page.count('class="label-page a4"') == 2
    first, second = (TAG.findall(part) for part in page.split('class="label-page a4"')[1:])
    assert [(float(x), float(y)) for x, y in first] == [(73.2, 243.7), (139.2, 243.7)]
    assert [(float(x), float(y)) for x, y in second[:1]] == [(7.2, 15.1)]
    assert len(second) == 3


def test_sizes_are_typed_with_a_comma_and_remembered(shop: TestClient, app_store: Store) -> None:
    sizes = {"width_m": "66,7", "height_m": "1 in", "gap_across_m": "3,0", "left_m": "4.8"}
    page = tags(shop, paper="Letter", skip="1", with_code="no", **sizes)
    assert 'class="label-page letter" width="215.9mm" height="279.4mm"' in page
    assert CODE.findall(page) == []
    assert TAG.findall(page)[0] == ("74.5", "15.1")
    offered = read_page_form(shop.get(FORM).text, "/labels")
    assert (offered["width_m"], offered["height_m"], offered["paper"]) == (["66.7"], ["25.4"], ["Letter"])
    assert (offered["skip"], offered["with_code"]) == (["0"], ["no"])
    assert rows(app_store, Shop)[0].label_sheet["height"] == pytest.approx(25.4)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"skip": "21"}, "One such sheet has 21 labels"),
        ({"width_m": "200", "left_m": "40"}, "wider than 210 mm"),
        ({"height_m": "250", "top_m": "60"}, "higher than 297 mm"),
        ({"width_m": "nan"}, "not a number"),
        ({"height_m": "3"}, "too little"),
        ({"gap_down_m": "-1"}, "less than nothing"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    shop: TestClient, app_store: Store, typed: dict[str, str], said: str
) -> None:
    answer = send(shop, FORM, "/labels", gap_across_m="2,75", **typed)
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert read_page_form(answer.text, "/labels")["gap_across_m"] == ["2,75"]
    assert rows(app_store, Shop)[0].label_sheet == {}


def test_a_code_too_small_to_be_read_and_an_address_no_tablet_reaches_are_told(shop: TestClient) -> None:
    said = text_of(tags(shop, width_m="20", height_m="12", skip="0"))
    assert "too small to be read" in said
    send(shop, "/shop/settings", "/shop/settings", address="http://localhost:8350")
    assert "Only this computer opens this code" in text_of(tags(shop))


def test_all_that_is_not_finished_is_tagged_at_once_and_nothing_is_said_plainly(shop: TestClient) -> None:
    start(shop)
    assert len(TAG.findall(tags(shop, which="open"))) == 6
    for number in (1, 2):
        send(shop, f"/batches/{number}/give-up", f"/batches/{number}/give-up", why="rained in")
    assert "There is nothing to tag" in text_of(shop.get("/labels/sheet").text)
    assert shop.get("/labels/sheet?which=99").status_code == 404
    assert shop.get("/labels/sheet?which=x").status_code in (404, 422)
