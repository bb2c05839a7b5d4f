"""The run sheet: the box with its pieces to scale, what to weigh out, the times, a code."""

from __future__ import annotations

from itertools import combinations
from zoneinfo import ZoneInfo

import pytest
import segno
from fastapi.testclient import TestClient

from tests.web.page_forms import begin, send, text_of
from webapp.services.box_drawing import draw_box
from webapp.services.box_fill import fill_box
from webapp.services.run_sheet import code_of
from webapp.services.shop_address import only_here
from webapp.services.showing import Showing
from webapp.store.tables import Box, Item, Mix, Part

IN_MM = Showing("C", "mm", ZoneInfo("UTC"))


@pytest.fixture
def planned(client: TestClient) -> TestClient:
    """A saved plan of a pin that is ground, with the usual reheat, quench and temper."""
    begin(client)
    send(client, "/parts/new", "/parts", name="Pivot pin", size_m="12", grind_m="0.1")
    send(client, "/plans/new?part=1", "/plans")
    return client


def test_the_run_sheet_of_a_batch_carries_its_box_weights_times_and_code(planned: TestClient) -> None:
    batch = planned.post("/batches?plan=1", data={"form_id": "a-one-use-form-id"}).headers["location"]
    assert f"{batch}/run-sheet" in planned.get(batch).text
    raw = planned.get(f"{batch}/run-sheet?start=2026-06-10T08:00&light=2026-06-10T09:30").text
    page = text_of(raw)
    for words in ("Charcoal, dry", "give or take 20 %", "L of hot gas", "09:30"):
        assert words in page, words
    assert "Never weld or screw the box shut" in page
    assert f"{planned.base_url}{batch}" in page
    assert 'class="code"' in raw
    assert 'class="luting"' in raw
    assert raw.count('class="tick"') > 20


def test_a_code_that_only_this_computer_opens_says_so_and_an_address_cures_it(planned: TestClient) -> None:
    batch = planned.post("/batches?plan=1", data={"form_id": "a-one-use-form-id"}).headers["location"]
    assert "Only this computer opens this code" in text_of(planned.get(f"{batch}/run-sheet").text)
    send(planned, "/shop/settings", "/shop/settings", address="192.168.1.20:8350/")
    page = text_of(planned.get(f"{batch}/run-sheet").text)
    assert f"http://192.168.1.20:8350{batch}" in page
    assert "Only this computer" not in page


@pytest.mark.parametrize(
    "typed", ["over there", "http://", "ftp://shop", "http://a:99999", "http://shop/page"]
)
def test_what_is_no_address_is_refused_beside_its_field(planned: TestClient, typed: str) -> None:
    answer = send(planned, "/shop/settings", "/shop/settings", address=typed)
    assert answer.status_code == 422
    assert "is no address. Type it as http://192.168.1.20:8350." in text_of(answer.text)


@pytest.mark.parametrize(
    ("address", "is_only_here"),
    [
        ("http://127.0.0.1:8350", True), ("http://localhost:8350", True), ("http://[::1]:8350", True),
        ("http://0.0.0.0:8350", True), ("http://10.0.0.4:8350", False), ("https://shop.example", False),
    ],
)  # fmt: skip
def test_only_a_loopback_address_is_of_this_computer_alone(address: str, is_only_here: bool) -> None:
    assert bool(only_here(address)) is is_only_here


def test_a_code_reads_as_the_address_it_was_made_of() -> None:
    address = "http://192.168.1.20:8350/batches/17"
    code = code_of(address)
    modules = segno.make(address, error="m", micro=False).matrix
    dark = sum(sum(1 for module in row if module) for row in modules)
    assert code.size == len(modules) + 8
    assert code.path.count("M") == dark
    assert code.path.startswith("M4 4h1v1h-1z")  # the corner of the first finder, inside the white edge


def test_weights_fill_the_free_space_and_a_crowded_box_is_told() -> None:
    box = Box(
        name="tin", inner_length_m=0.2, inner_width_m=0.1, inner_height_m=0.1, wall_m=0.003, seal="fireclay"
    )
    mix = Mix(
        name="lively",
        charcoal="lump",
        grain_m=0.005,
        substance="soda ash",
        substance_percent=10.0,
        litre_kg=0.3,
    )
    lines, vent = fill_box(box, mix, [], {}, 1198.15, IN_MM)
    said = {line.label: line.text for line in lines}
    assert said["Charcoal, dry"].startswith("540 g")  # 2 L at 300 g a litre, less a tenth
    assert said["Soda ash"].startswith("60 g")
    # 60 g of Na2CO3 of 105.99 g/mol gives 2 mol of CO a mole: 1.132 mol at 925 C are 111 L
    assert "111 L of hot gas" in vent
    part = Part(
        id=1, name="block", bar_id=1, shape="rod", size_m=0.1, length_m=0.3,
        wanted_depth_low_m=0, wanted_depth_high_m=0,
    )  # fmt: skip
    item = Item(batch_id=1, kind="part", name="block", part_id=1, bar_id=1, shape="rod", size_m=0.1)
    (line,), _ = fill_box(box, mix, [item], {1: part}, 1198.15, IN_MM)
    assert "leaves no room for pack" in line.text


@pytest.mark.parametrize("shape", ["rectangular", "round"])
def test_every_piece_is_drawn_inside_its_box_under_its_mark(shape: str) -> None:
    box = Box(
        name="b", shape=shape, inner_length_m=0.25, inner_width_m=0.06, inner_height_m=0.06, wall_m=0.002,
        seal="clay",
    )  # fmt: skip
    lying = (
        ("A", "part", 0.012, "middle", ""),
        ("B", "coupon", 0.01, "end", "top"),
        ("C", "part", 0.05, "edge", "bottom"),
        ("D", "part", 0.2, "middle", ""),
    )
    items = [
        Item(batch_id=1, kind=kind, name="n", mark=mark, bar_id=1, shape="rod", size_m=size, place=place,
             layer=layer)
        for mark, kind, size, place, layer in lying
    ]  # fmt: skip
    drawing = draw_box(box, items, {})
    assert [(piece.mark, piece.is_coupon) for piece in drawing.pieces] == [
        ("A", False), ("B", True), ("C", False), ("D", False)
    ]  # fmt: skip
    inner = drawing.inner
    for piece in drawing.pieces:
        place = piece.place
        assert inner.x <= place.x
        assert place.x + place.wide <= inner.x + inner.wide
        assert inner.y <= place.y
        assert place.y + place.high <= inner.y + inner.high
    for one, other in combinations([piece.place for piece in drawing.pieces], 2):
        across = one.x + one.wide <= other.x or other.x + other.wide <= one.x
        assert across or one.y + one.high <= other.y or other.y + other.high <= one.y
    assert inner.wide / inner.high == pytest.approx(0.25 / 0.06)


def test_a_soak_split_over_fires_points_back_to_the_cautions_of_the_first(planned: TestClient) -> None:
    batch = planned.post("/batches?plan=1", data={"form_id": "a-one-use-form-id"}).headers["location"]
    raw = planned.get(f"{batch}/run-sheet?start=2026-06-10T08:00&fires=3").text
    page = text_of(raw)
    assert page.count("Box in the fire") == 3
    assert page.count("The glowing box is heavier than it looks") == 2  # box in and box out of the first
    assert page.count("Carbon monoxide alarm tested") == 3  # a tick at every light-up
    assert page.count("As at the first fire") == 12
    assert 'class="run-sheet densest"' in raw
    assert 'class="run-sheet dense"' in planned.get(f"{batch}/run-sheet?start=2026-06-10T08:00").text
