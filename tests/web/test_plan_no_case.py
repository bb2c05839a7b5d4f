"""Plans for steel that needs no case: said first, worked out from one heat, kept, shown, and never packed."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.plan_no_case import NoCaseFigures
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Batch, Bath, Plan

NEW = "/plans/new?part=1"


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def spring(client: TestClient, save: Save) -> None:
    """A flat spring of 5160, 6 mm, that bends and wants 58 HRC."""
    send(
        client, "/parts/new", "/parts", name="Spring", shape="plate", size_m="6",
        duties=["bending"], wanted_hardness_HRC="58",
    )  # fmt: skip
    with save() as work:
        work.change(work.get(Bar, 1), grade="5160", carbon_low_wt=0.56, carbon_high_wt=0.64)


def fields(client: TestClient) -> dict[str, list[str]]:
    return read_page_form(client.get(NEW).text, "/plans")


def preview(client: TestClient, **typed: str) -> str:
    answer = client.post("/plans/preview", data={**fields(client), **typed})
    assert answer.status_code == 200
    return text_of(f"<main{answer.text}</main>")


def test_the_page_says_first_that_no_case_is_needed_and_asks_for_no_soak(
    client: TestClient, spring: None
) -> None:
    page = client.get(NEW).text
    words = text_of(page)
    assert "This steel needs no case: 0.56 to 0.64 % carbon hardens it right through" in words
    assert "Do not pack it" in words
    assert "brittle skin" in words
    assert "Soak" not in words
    assert "Mix" not in words
    found = read_page_form(page, "/plans")
    assert found["soak_s"] == [""]
    # SAE typical treatments: 1475 to 1550 F, 802 to 843 C
    assert 802.0 <= float(found["temperature_K"][0]) <= 843.0
    assert "The books heat it to 802 °C to 843 °C for the quench (SAE typical treatments" in words


def test_oil_is_offered_and_water_is_said_to_crack_it(client: TestClient, spring: None) -> None:
    words = text_of(client.get(NEW).text)
    assert "oil this plan" in words
    assert "Water cracks such steel easily" not in words
    assert "Cracks steel of so much carbon easily" in words
    assert "Water cracks such steel easily" in preview(client, bath_id="1")


def test_skin_core_temper_and_bend_are_forecast_from_one_heat(client: TestClient, spring: None) -> None:
    words = text_of(client.get(NEW).text)
    skin = int(re.search(r"Hardness of the skin (\d\d) HRC", words)[1])
    core = int(re.search(r"Core (\d\d) HRC", words)[1])
    assert 55 <= skin <= 65
    assert core > 45
    assert "To reach 58 HRC at the skin" in words
    assert re.search(r"(in 10|almost sure) to be 58 HRC or harder at the skin", words, re.IGNORECASE)
    assert "Bent by 30°" in words
    assert "Carbon at the skin" not in words


def test_a_hotter_temper_is_softer_and_a_cold_heat_does_not_harden(client: TestClient, spring: None) -> None:
    def skin(**typed: str) -> int:
        return int(re.search(r"Hardness of the skin (\d+) H", preview(client, **typed))[1])

    assert skin(temper_K="150") > skin(temper_K="250")
    cold = preview(client, temperature_K="650")
    assert "never hot enough to harden" in cold
    assert "This plan is cooler: some of it may stay soft" in cold
    assert "This plan is hotter" in preview(client, temperature_K="950")


def test_it_is_saved_shown_and_listed_and_starts_no_batch(
    client: TestClient, spring: None, app_store: Store
) -> None:
    answer = client.post("/plans", data=fields(client))
    assert answer.headers["location"] == "/plans/1"
    words = text_of(client.get("/plans/1").text)
    assert "Pack none: this steel needs no case" in words
    assert "This steel needs no case: 0.56" in words
    assert "Nothing is packed, so there is no batch to start" in words
    assert "Print this sheet" in words
    assert "Start this batch" not in words
    assert "no case: quench from" in text_of(client.get("/plans").text)
    assert "no case: quench from" in text_of(client.get("/parts/1").text)
    assert "Spring" not in text_of(client.get("/").text).partition("Plans")[2]
    with read(app_store) as session:
        plan = session.get(Plan, 1)
    assert plan.soak_s == 0.0
    figures = NoCaseFigures.from_dict(plan.result)
    assert NoCaseFigures.from_dict(figures.to_dict()) == figures
    refused = client.post("/batches?plan=1", data={"form_id": "one-use-1"})
    assert refused.status_code == 422
    assert "starts no batch" in refused.text
    with read(app_store) as session:
        assert session.exec(select(Batch)).all() == []


def test_planning_it_again_offers_the_same_and_a_case_plan_after_it_soaks_again(
    client: TestClient, spring: None, save: Save
) -> None:
    client.post("/plans", data={**fields(client), "temperature_K": "835", "temper_K": "210"})
    again = read_page_form(client.get("/plans/new?part=1&again=1").text, "/plans")
    assert (again["temperature_K"], again["temper_K"]) == (["835"], ["210"])
    with save() as work:
        work.change(work.get(Bar, 1), grade="1018", carbon_low_wt=0.15, carbon_high_wt=0.2)
    soaked = read_page_form(client.get("/plans/new?part=1&again=1").text, "/plans")
    assert float(soaked["temperature_K"][0]) == 925.0
    assert float(soaked["soak_s"][0]) > 0.25


def test_a_screened_bar_with_much_carbon_takes_the_same_way(
    client: TestClient, spring: None, save: Save
) -> None:
    with save() as work:
        work.change(work.get(Bar, 1), grade=None, carbon_low_wt=0.3, carbon_high_wt=0.6)
    assert "This steel needs no case: 0.30 to 0.60 % carbon" in text_of(client.get(NEW).text)
    with save() as work:
        work.change(work.get(Bar, 1), grade=None, carbon_low_wt=0.1, carbon_high_wt=0.3)
    assert "needs no case" not in text_of(client.get(NEW).text)


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("temperature_K", "", "is needed"),
        ("temperature_K", "3000", "hotter than"),
        ("temperature_K", "nan", "not a number"),
        ("temper_K", "750", "too much here"),
        ("bath_id", "99", "no longer in the shop"),
        ("reheat_s", "-3", "less than nothing"),
    ],
)
def test_bad_input_is_said_beside_its_field(
    client: TestClient, spring: None, app_store: Store, field: str, typed: str, said: str
) -> None:
    answer = client.post("/plans", data={**fields(client), field: typed})
    assert answer.status_code == 422
    assert said in text_of(answer.text)
    assert said in preview(client, **{field: typed})
    with read(app_store) as session:
        assert session.exec(select(Plan)).all() == []


def test_a_shop_without_oil_is_offered_its_first_bath(client: TestClient, spring: None, save: Save) -> None:
    with save() as work:
        for bath in list(work.session.exec(select(Bath).where(Bath.medium == "oil"))):
            work.remove(bath)
    assert "Water cracks such steel easily" in text_of(client.get(NEW).text)
