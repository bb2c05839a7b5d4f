"""Do it again: a part, a piece, a batch once more, with every setting and no result."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.batch_steps import press, rows, start
from tests.web.page_forms import begin, send
from tests.web.proved_book import add_job
from webapp.services.again import KEPT_BY_THE_BOOK
from webapp.store.engine import Store
from webapp.store.tables import Batch, Item, Part, PartPrice, Reading, Step


@pytest.fixture
def shop(client: TestClient, app_store: Store) -> TestClient:
    begin(client)
    add_job(app_store, {}, grind_m=0.0001, typed={"size_m": "12"}, note="with the groove")
    return client


def settings(row: Any, *but: str) -> dict[str, Any]:
    return {name: value for name, value in row.model_dump().items() if name not in (*KEPT_BY_THE_BOOK, *but)}


def test_a_part_is_written_down_again_under_its_own_name(shop: TestClient, app_store: Store) -> None:
    send(shop, "/parts/1/case-or-not", "/parts/1/case-or-not", plain_bar="2,5")
    answer = press(shop, "/parts/1", "/parts/1/again")
    assert answer.headers["location"] == "/parts/2/edit"
    press(shop, "/parts/1", "/parts/1/again")
    first, second, third = rows(app_store, Part)
    assert (second.name, third.name) == ("lever pin (2)", "lever pin (3)")
    assert settings(first, "name") == settings(second, "name") == settings(third, "name")
    old, new, *_ = rows(app_store, PartPrice)
    assert settings(old, "part_id") == settings(new, "part_id")
    assert (old.part_id, new.part_id) == (1, 2)


def test_a_coupon_is_packed_again_into_a_batch_made_as_its_own(shop: TestClient, app_store: Store) -> None:
    answer = press(shop, "/items/2", "/items/2/again")
    assert answer.headers["location"] == "/items/3"
    old, new = rows(app_store, Item)[1:]
    batch = rows(app_store, Batch)[-1]
    assert settings(old, "batch_id", "steel_mark", "steel_sign") == settings(
        new, "batch_id", "steel_mark", "steel_sign"
    )
    assert (batch.state, batch.as_batch_id, batch.box_id, new.batch_id) == ("planned", 1, 1, batch.id)
    assert (new.steel_mark, new.steel_sign) == ("dots", "1")
    assert {reading.item_id for reading in rows(app_store, Reading)} == {1, 2}
    assert {step.batch_id for step in rows(app_store, Step)} == {1}


def test_a_second_piece_joins_the_batch_that_waits_with_a_letter_and_a_mark_of_its_own(
    shop: TestClient, app_store: Store
) -> None:
    for piece in ("/items/2", "/items/2", "/items/1", "/items/3"):
        press(shop, piece, f"{piece}/again")
    new = rows(app_store, Item)[2:]
    assert {item.batch_id for item in new} == {2}
    assert [item.mark for item in new] == ["B", "A", "C", "D"]
    assert len({(item.steel_mark, item.steel_sign) for item in new}) == 4
    assert [item.count for item in new] == [1, 1, 4, 1]


def test_a_batch_made_again_before_it_was_lit_is_made_as_the_one_that_was(
    shop: TestClient, app_store: Store
) -> None:
    press(shop, "/batches/1", "/batches/1/again")
    press(shop, "/batches/2", "/batches/2/again")
    assert [batch.as_batch_id for batch in rows(app_store, Batch)] == [None, 1, 1]


def test_a_batch_of_another_box_is_left_alone(shop: TestClient, app_store: Store) -> None:
    waiting = start(shop)
    send(shop, f"{waiting}/edit", f"{waiting}/edit", mix_id="2")
    press(shop, "/items/2", "/items/2/again")
    assert [batch.number for batch in rows(app_store, Batch)] == [1, 2, 3]
    assert rows(app_store, Item)[-1].batch_id == 3


def test_a_double_tap_does_it_again_once(shop: TestClient, app_store: Store) -> None:
    told = {"form_id": "one-tap-only"}
    assert [shop.post("/items/2/again", data=told).status_code for _ in range(2)] == [303, 303]
    assert len(rows(app_store, Item)) == 3
