"""A part that came right twice gets a card, and only then; the card says what speaks against it since."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.web.batch_steps import press, rows, step
from tests.web.page_forms import begin, read_page_form, text_of
from tests.web.proved_book import LIT, add_job
from webapp.services.proved_jobs import proved_job, runs_of_part
from webapp.store.engine import Store
from webapp.store.tables import Batch, Item, Part, Reading, ShopChange
from webapp.store.unit_of_work import Actor, write

RIGHT: dict[str, Any] = {}
CARD = "/parts/1/card"


@pytest.fixture
def shop(client: TestClient) -> TestClient:
    begin(client)
    return client


def proved_by(store: Store) -> list[int]:
    with Session(store.reader) as session:
        part = session.get(Part, 1)
        assert part is not None
        job = proved_job(session, part)
        return [run.rows.batch.number for run in job.right] if job else []


@pytest.mark.parametrize(
    ("runs", "by"),
    [
        ([RIGHT, RIGHT], [2, 1]),
        ([RIGHT, {"celsius": 931.0, "hours": 4.4}], [2, 1]),
        ([RIGHT, RIGHT, {"celsius": 880.0, "hours": 9.0}], [2, 1]),
        ([RIGHT], []),
        ([RIGHT, {"celsius": 950.0}], []),
        ([RIGHT, {"hours": 6.0}], []),
        ([RIGHT, {"temper_C": 220.0}], []),
        ([RIGHT, {"depth_mm": 0.5}], []),
        ([RIGHT, {"depth_mm": 1.1}], []),
        ([RIGHT, {"HRC": 57.0}], []),
        ([RIGHT, {"HRC": 63.0}], []),
        ([RIGHT, {"depth_mm": None}], []),
        ([RIGHT, {"HRC": None}], []),
        ([RIGHT, {"after": "quench"}], []),
        ([RIGHT, {"state": "hardened"}], []),
    ],
)
def test_only_two_batches_alike_and_both_right_prove_a_job(
    shop: TestClient, app_store: Store, runs: list[dict[str, Any]], by: list[int]
) -> None:
    add_job(app_store, *runs)
    assert proved_by(app_store) == by
    assert ("It came right, and again" in text_of(shop.get("/parts/1").text)) is bool(by)
    assert shop.get(CARD).status_code == (200 if by else 404)


THROUGH_800 = {"points": [(0.1, 720), (0.7, 590), (0.9, 510), (1.4, 320)]}  # 550 HV at 0.80 mm, 513 at 0.89
TOO_SHALLOW = {"points": [(0.1, 720), (0.3, 560), (0.5, 400)]}
NOT_DEEP_ENOUGH_READ = {"points": [(0.1, 720), (0.7, 590), (0.9, 560)]}
SOFT = {"points": [(0.1, 400), (0.9, 300)]}


@pytest.mark.parametrize(
    ("counted", "runs", "by"),
    [
        ("HV550", [THROUGH_800, THROUGH_800], [2, 1]),
        ("HRC50", [THROUGH_800, THROUGH_800], [2, 1]),
        ("HV550", [THROUGH_800, RIGHT], []),  # a break does not tell where 550 HV lies
        ("HV550", [THROUGH_800, TOO_SHALLOW], []),
        ("HV550", [THROUGH_800, NOT_DEEP_ENOUGH_READ], []),
        ("HV550", [THROUGH_800, SOFT], []),
        ("HV550", [THROUGH_800, {**THROUGH_800, "after": "quench"}], []),
        ("total", [{"how": "etch"}, {"how": "etch"}], [2, 1]),
        ("total", [{"how": "etch"}, RIGHT], []),
        ("rim", [{"how": "etch"}, RIGHT], []),
    ],
)
def test_a_case_is_proved_by_the_reading_that_counts_it(
    shop: TestClient, app_store: Store, counted: str, runs: list[dict[str, Any]], by: list[int]
) -> None:
    add_job(app_store, *runs, depth_definition=counted)
    assert proved_by(app_store) == by


def test_the_card_of_a_case_counted_by_hardness_says_so(shop: TestClient, app_store: Store) -> None:
    add_job(app_store, THROUGH_800, THROUGH_800, depth_definition="HV550")
    card = text_of(shop.get(CARD).text)
    assert "case 0.6 to 1 mm down to 550 hv, skin 60 HRC" in card
    assert "0.80 mm down to 550 hv on B pin" in card
    assert "The next one is foretold a case of" in card


def test_what_is_still_to_be_ground_off_is_taken_from_the_case(shop: TestClient, app_store: Store) -> None:
    add_job(app_store, RIGHT, RIGHT, grind_m=0.0003)
    assert proved_by(app_store) == []
    with write(app_store, Actor("test bench"), LIT) as work:
        for row in rows(app_store, Reading):
            if row.kind == "depth":
                work.change(work.get(Reading, row.id or 0), removed_m=0.0003)
    assert proved_by(app_store) == [2, 1]


@pytest.mark.parametrize("change", [{"scrapped_why": "bent"}, {"left_out_why": "not ours"}, {"life": 2}])
def test_a_piece_that_was_scrapped_set_aside_or_put_right_proves_nothing(
    shop: TestClient, app_store: Store, change: dict[str, Any]
) -> None:
    add_job(app_store, RIGHT, RIGHT)
    with write(app_store, Actor("test bench"), LIT) as work:
        work.change(work.get(Item, 1), **change)
    assert proved_by(app_store) == []


def test_the_card_says_all_that_is_needed_to_make_it(shop: TestClient, app_store: Store) -> None:
    add_job(app_store, RIGHT, RIGHT)
    card = text_of(shop.get(CARD).text)
    for words in (
        "920 °C, about", "4 h, the clock started when the box is evenly red; 4 h 30 min in the fire",
        "790 °C, about", "15 min", "upright, end first", "180 °C, 1 h", "Charcoal, dry",
        "1 dot on one end", "Batch 2", "0.80 mm on a break on B pin", "60 HRC on A lever pin",
        "carbon monoxide",
    ):  # fmt: skip
        assert words in card, words
    foretold = re.search(r"The next one is foretold a case of ([\d.]+) to ([\d.]+) mm", card)
    assert foretold is not None
    assert 0.05 < float(foretold[1]) < float(foretold[2]) < 2.0


def test_a_change_since_and_a_miss_at_the_same_settings_stand_on_the_card(
    shop: TestClient, app_store: Store
) -> None:
    add_job(app_store, RIGHT, RIGHT, {"depth_mm": 0.4})
    with write(app_store, Actor("test bench"), LIT) as work:
        work.add(ShopChange(kind="bath_fresh", changed_on=date(2026, 3, 10), bath_id=1))
        work.add(ShopChange(kind="bath_fresh", changed_on=date(2026, 3, 2), bath_id=1))
        work.add(ShopChange(kind="mix_renewed", changed_on=date(2026, 3, 10), mix_id=2))
    card = text_of(shop.get(CARD).text)
    assert card.count("Changed since") == 1
    assert "emptied and filled fresh" in card
    assert "did not come right every time" in card
    assert "such batches came right" not in card
    assert "Batch 3" in card.split("The same settings, and not right")[1]


def test_making_it_again_starts_a_batch_with_the_settings_and_no_results(
    shop: TestClient, app_store: Store
) -> None:
    add_job(app_store, RIGHT, RIGHT, {"celsius": 870.0, "hours": 9.0, "temper_C": 200.0})
    answer = press(shop, CARD, "/batches/2/again")
    new = answer.headers["location"]
    batch = rows(app_store, Batch)[-1]
    assert (batch.as_batch_id, batch.state, batch.number) == (2, "planned", 4)
    assert len(rows(app_store, Reading)) == 6
    assert "Made as batch 2: 4 h at 920 °C; reheat to 790 °C, 15 min" in text_of(shop.get(new).text)
    step(shop, new, "box_in")
    offered = read_page_form(shop.get(new).text, f"{new}/steps/at_heat")
    assert offered["temperature_K"] == ["920"]
    step(shop, new, "at_heat")
    assert "after 4 h" in text_of(shop.get(new).text)
    step(shop, new, "box_out")
    for action, numbers in (("reheat", ("790", "15")), ("temper", ("180", "1"))):
        offered = read_page_form(shop.get(f"{new}/steps/{action}").text, f"{new}/steps/{action}")
        assert (offered["temperature_K"], offered["seconds"]) == ([numbers[0]], [numbers[1]])


def test_a_job_is_looked_for_in_a_bounded_number_of_batches(shop: TestClient, app_store: Store) -> None:
    add_job(app_store, *([{"HRC": 50.0}] * 3))
    with Session(app_store.reader) as session:
        part = session.get(Part, 1)
        assert part is not None
        assert [run.is_right for run in runs_of_part(session, part)] == [False] * 3
