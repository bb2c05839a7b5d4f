"""What a run takes, what of a part stays soft, and whether a case is worth it at all."""

from __future__ import annotations

import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from tests.web.page_forms import begin, send, text_of
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import CarbonFigures, SoftFigures
from webapp.services.showing import Showing
from webapp.services.soft_areas import machining_words, rounded_up, view_soft
from webapp.store.engine import Store, read
from webapp.store.tables import Part, Plan

IN_MM = Showing("C", "mm", ZoneInfo("UTC"))
BOLT = {"name": "Bolt", "size_m": "14", "length_m": "60", "soft_area": "thread", "soft_kept": "machined"}


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def bolt(client: TestClient) -> None:
    """A bolt whose thread is machined after the slow cool, and its saved plan."""
    send(client, "/parts/new", "/parts", **BOLT)
    assert send(client, "/plans/new?part=1", "/plans").headers["location"] == "/plans/1"


def figures_of(store: Store) -> PlanFigures:
    with read(store) as session:
        plan = session.get(Plan, 1)
        assert plan is not None
        return PlanFigures.from_dict(plan.result)


def test_the_stock_on_a_thread_is_the_reach_of_the_carbon_with_its_doubt(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    figures = figures_of(app_store)
    carbon = figures.more.carbon
    assert carbon is not None
    assert figures.total_case_m * 0.8 < carbon.reach_m < carbon.reach_high_m < 0.007
    stock = re.search(r"Leave ([0-9.]+) mm on the thread's diameter", text_of(client.get("/plans/1").text))
    assert stock is not None
    assert 2e3 * carbon.reach_high_m <= float(stock.group(1)) < 2e3 * carbon.reach_high_m + 0.1001
    assert "after the slow cool, before the reheat" in machining_words(figures, IN_MM)


def test_a_plan_straight_into_the_bath_cannot_have_it_machined(client: TestClient, bolt: None) -> None:
    send(client, "/plans/new?part=1", "/plans", reheat_K="", reheat_s="")
    said = text_of(client.get("/plans/2").text)
    assert "The thread would be left hard. This plan goes from the box straight into the bath" in said
    assert "Leave" not in said.partition("What must stay soft")[2].partition("A slice")[0]


def test_too_little_stock_is_said_with_its_odds(app_store: Store, bolt: None) -> None:
    figures = figures_of(app_store)
    soft = SoftFigures("thread", "machined", 0.3e-3, 0.8, is_straight=False)
    more = replace(figures.more, soft=soft, carbon=CarbonFigures(0.9e-3, 1.4e-3, False, 0.03, 0.05))
    view = view_soft(replace(figures, more=more), IN_MM)
    assert view is not None
    assert view.warning == (
        "8 in 10 that the thread is left hard: 0.3 mm a side comes off, and carbon goes in up to 1.4 mm."
    )
    assert "Leave 2.8 mm on the thread's diameter (1.4 mm a side)" in view.words
    enough = replace(more, soft=replace(soft, stock_m=1.5e-3, odds_hard=0.02))
    view = view_soft(replace(figures, more=enough), IN_MM)
    assert view is not None
    assert view.warning == ""


def test_carbon_right_through_is_not_cured_by_stock(app_store: Store, bolt: None) -> None:
    figures = figures_of(app_store)
    more = replace(figures.more, carbon=CarbonFigures(1e-3, 1e-3, True, 0.03, 0.05))
    through = replace(figures, more=more)
    view = view_soft(through, IN_MM)
    assert view is not None
    assert "right through" in view.warning
    assert view.words == machining_words(through, IN_MM) == ""


@pytest.mark.parametrize(("kept", "said"), [("clay", "expect hard spots under it"), ("plating", "scratch")])
def test_a_mask_is_said_for_what_it_is_worth(client: TestClient, kept: str, said: str) -> None:
    send(client, "/parts/new", "/parts", **{**BOLT, "soft_kept": kept})
    send(client, "/plans/new?part=1", "/plans")
    assert said in text_of(client.get("/plans/1").text)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"soft_kept": ""}, "soft_kept"),
        ({"soft_kept": "clay", "soft_stock_m": "1"}, "soft_stock_m"),
        ({"soft_area": "", "soft_stock_m": "1"}, "soft_stock_m"),
        ({"soft_stock_m": "8"}, "soft_stock_m"),
        ({"soft_area": "head"}, "soft_area"),
    ],
)
def test_a_soft_area_that_cannot_be_is_refused_beside_its_field(
    client: TestClient, typed: dict[str, str], field: str
) -> None:
    answer = send(client, "/parts/new", "/parts", **{**BOLT, **typed})
    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text


def test_a_part_without_a_soft_area_forgets_how_it_was_kept(client: TestClient, app_store: Store) -> None:
    send(client, "/parts/new", "/parts", **BOLT)
    send(client, "/parts/1/edit", "/parts/1", soft_area="")
    with read(app_store) as session:
        part = session.get(Part, 1)
    assert part is not None
    assert (part.soft_area, part.soft_kept) == ("", "")


def test_stock_is_rounded_up_to_what_a_lathe_is_set_by() -> None:
    assert rounded_up(1.41e-3, IN_MM) == "1.5 mm"
    assert rounded_up(1.4e-3, IN_MM) == "1.4 mm"
    assert rounded_up(0.0254 * 0.051, replace(IN_MM, length_unit="in")) == "0.055 in"
