"""What a run takes, what of a part stays soft, and whether a case is worth it at all."""

from __future__ import annotations

import re
from dataclasses import replace
from math import ceil, pi
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from model.gas_jet import jet_flow
from model.pack_weights import pack_weights
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.gas_weighings import gas_belief
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import CarbonFigures, SoftFigures
from webapp.services.showing import Showing, say_duration
from webapp.services.soft_areas import machining_words, rounded_up, view_soft
from webapp.services.supplies_pack import weigh
from webapp.services.supplies_room import box_m3
from webapp.store.engine import Store, read
from webapp.store.tables import Box, Change, Forge, Mix, Part, Plan, PlanSupplies

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


SUPPLIES = ("/plans/1/supplies", "/plans/1/supplies")
BOTTLE = {
    "left_kg": "9",
    "full_kg": "11",
    "day_K": "10",
    "jet_m": "1.0",
    "gauge_Pa": "0.5 bar",
    "fire_s": "6",
}


def said(client: TestClient, page: str) -> str:
    return text_of(client.get(page).text)


def test_a_plan_says_charcoal_and_soda_by_weight_and_why_the_box_must_vent(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    words = said(client, "/plans/1/supplies")
    with read(app_store) as session:
        box, mix = session.get(Box, 1), session.get(Mix, session.get(Plan, 1).mix_id)  # type: ignore[union-attr]
    assert box is not None
    assert mix is not None
    free_m3 = box_m3(box) - pi / 4 * 0.014**2 * 0.06
    by_hand = pack_weights(free_m3, 5.0, "Na2CO3", mix.grain_m)
    assert f"Charcoal {weigh(by_hand.charcoal_kg, IN_MM)}" in words
    assert f"Soda ash {weigh(by_hand.carbonate_kg, IN_MM)}" in words
    assert "a welded lid bursts" in words
    assert "give or take 20 %" in words


def test_a_shop_that_measures_in_inches_weighs_in_ounces(client: TestClient, bolt: None) -> None:
    send(client, "/shop/settings", "/shop/settings", length_unit="in")
    assert re.search(r"Charcoal [0-9.]+ oz", said(client, "/plans/1/supplies"))
    assert weigh(0.4e-3, IN_MM) == "0.4 g"
    assert weigh(1.234, IN_MM) == "1.23 kg"


def test_a_weighed_litre_replaces_the_books_and_its_doubt(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    with read(app_store) as session:
        mix = f"/shop/mixes/{session.get(Plan, 1).mix_id}"  # type: ignore[union-attr]
    before = said(client, "/plans/1/supplies")
    send(client, mix, mix, litre_kg="420")
    with_litre = said(client, "/plans/1/supplies")
    assert "give or take 20 %" in before
    assert "give or take" not in with_litre
    assert "A litre weighs 420 g" in said(client, "/shop")


def test_a_damp_mix_is_told_with_what_it_costs_and_a_wet_one_is_refused(client: TestClient) -> None:
    mix = "/shop/mixes/1"
    assert send(client, mix, mix, water_percent="15").status_code == 303
    shown = said(client, "/shop")
    assert "Water 15 % by weight" in shown
    assert re.search(r"a box of 75 mm \(3.0 in\) takes about \d+ min longer to warm. Dry it first.", shown)
    assert read_page_form(client.get(mix).text, mix)["water_percent"] == ["15"]
    send(client, mix, mix, water_percent="6")
    assert "longer to warm" not in said(client, "/shop")
    answer = send(client, mix, mix, water_percent="80")
    assert answer.status_code == 422
    assert "rained on" in text_of(answer.text)


def test_old_pack_is_topped_up_and_more_than_the_box_holds_is_refused(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    assert send(client, *SUPPLIES, old_kg="0.1").status_code == 303
    assert "Fresh charcoal" in said(client, "/plans/1/supplies")
    answer = send(client, *SUPPLIES, old_kg="50")
    assert answer.status_code == 422
    assert "do not go into a box" in text_of(answer.text)
    with read(app_store) as session:
        assert session.get(PlanSupplies, 1).old_kg == pytest.approx(0.1)  # type: ignore[union-attr]


def test_the_bottle_is_held_against_the_hours(client: TestClient, bolt: None) -> None:
    send(client, *SUPPLIES, **BOTTLE)
    words = said(client, "/plans/1/supplies")
    flow = jet_flow(1e-3, 0.5e5).kg_per_s * 3600
    assert f"Gas {flow:.2f} kg an hour, give or take" in words
    assert "not weighed at this setting yet: by its jet" in words
    assert f"This run {6 * flow:.1f} kg in 6 h; " in words
    assert "at worst; wanted 6 h" in words
    assert "It can boil off" in words
    send(client, *SUPPLIES, **{**BOTTLE, "left_kg": "1"})
    assert "runs empty in mid-soak" in said(client, "/plans/1/supplies")
    send(client, *SUPPLIES, **{**BOTTLE, "gauge_Pa": "0.1 bar"})
    assert "burn back" in said(client, "/plans/1/supplies")
    send(client, *SUPPLIES, **{**BOTTLE, "jet_m": "1.5", "gauge_Pa": "2 bar", "day_K": "-15", "left_kg": "4"})
    assert "freezes up" in said(client, "/plans/1/supplies")


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({**BOTTLE, "jet_m": "10"}, "jet_m", "read the number on the jet"),
        ({**BOTTLE, "gauge_Pa": "300 bar"}, "gauge_Pa", "0.02 to 4 bar"),
        ({**BOTTLE, "left_kg": "20"}, "left_kg", "More than a full bottle holds"),
        ({"left_kg": "5"}, "full_kg", "Give both"),
        ({"part_length_m": "900"}, "part_length_m", "does not go into"),
        ({"parts": "500"}, "parts", "leave no room for pack"),
        ({"parts": "1.5"}, "parts", "whole number"),
        ({"day_K": "900"}, "day_K", "too much"),
    ],
)
def test_supplies_that_cannot_be_are_refused_with_all_that_was_typed(
    client: TestClient, bolt: None, typed: dict[str, str], field: str, words: str
) -> None:
    answer = send(client, *SUPPLIES, **{**typed, "old_kg": "0,05"})
    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text
    assert words in text_of(answer.text)
    form = read_page_form(answer.text, "/plans/1/supplies")
    assert form["old_kg"] == ["0,05"]
    assert all(form[name] == [text] for name, text in typed.items())


def weigh_a_fire(client: TestClient, number: int, **told: str) -> None:
    """Start a batch of the plan and tell what its fire burned."""
    client.post("/batches", params={"plan": "1"}, data={"form_id": f"start-{number:08d}"})
    page = f"/batches/{number}/gas"
    assert send(client, page, page, before_kg=told["before_kg"]).status_code == 303
    assert send(client, page, page, **told).headers["location"] == f"/batches/{number}"


WEIGHED = (
    {"before_kg": "21.4", "after_kg": "18.4", "lit_s": "3 h", "gauge_Pa": "0.8 bar"},
    {"before_kg": "18.4", "after_kg": "15.4", "lit_s": "3 h", "gauge_Pa": "0.8 bar"},
    {"before_kg": "15.4", "after_kg": "12.4", "lit_s": "1 h", "gauge_Pa": "0.8 bar", "second_lit_s": "4 h",
        "second_gauge_Pa": "0.3 bar", "second_valve": "half"},
)  # fmt: skip


def test_weighed_bottles_teach_each_setting_of_the_burner(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    for number, told in enumerate(WEIGHED, 1):
        weigh_a_fire(client, number, **told)
    with read(app_store) as session:
        belief = gas_belief(session, session.get(Forge, 1))
    assert [(one.gauge_Pa, one.valve) for one in belief.settings] == [
        (pytest.approx(0.8e5), ""),
        (pytest.approx(0.3e5), "half"),
    ]
    assert belief.fires == (3, 1)
    high, low = (belief.rate(setting).kg_per_s * 3600 for setting in belief.settings)
    assert (high, low) == (pytest.approx(1.0, rel=0.05), pytest.approx(0.5, rel=0.1))
    # a plan that does not say how the burner stands takes the setting that was weighed most often
    send(client, *SUPPLIES, **{**BOTTLE, "gauge_Pa": "", "jet_m": ""})
    words = said(client, "/plans/1/supplies")
    assert "Burner at 0.8 bar" in words
    assert f"Gas {high:.2f} kg an hour, give or take" in words
    assert "by 3 weighed fires" in words
    assert f"At 0.3 bar, valve at half {low:.2f} kg an hour" in words
    send(client, *SUPPLIES, **{**BOTTLE, "gauge_Pa": "0.3 bar", "valve": "half", "jet_m": ""})
    assert "by 1 weighed fire" in said(client, "/plans/1/supplies")


def test_a_weighing_is_corrected_removed_and_put_back(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    page = "/batches/1/gas"
    weigh_a_fire(client, 1, **WEIGHED[0])
    assert "Gas 3.0 kg in 3 h, by the bottle's weight" in said(client, "/batches/1")
    send(client, page, page, after_kg="19.9")
    assert "At 0.8 bar: 0.5" in said(client, page)  # 1.5 kg in 3 h
    assert "Gas 1.5 kg in 3 h" in said(client, "/batches/1")
    form = read_page_form(client.get(page).text, f"{page}/remove")
    assert client.post(f"{page}/remove", data=form).headers["location"] == "/batches/1"
    assert "No fire was weighed yet" in said(client, page)
    assert read_page_form(client.get(page).text, page).get("before_kg", [""]) == [""]
    assert client.post(f"{page}/remove", data={}).status_code == 422  # nothing is left to remove
    assert client.post(f"{page}/1/put-back", data={}).headers["location"] == page
    assert "At 0.8 bar: 0.5" in said(client, page)
    assert client.post(f"{page}/9/put-back", data={}).status_code == 404
    with read(app_store) as session:
        actions = [
            row.action for row in session.exec(select(Change).where(Change.table_name == "gasweighing"))
        ]
    assert actions == ["added", "changed", "changed", "removed", "put back"]


def test_weights_are_not_put_back_beside_new_ones_of_the_same_fire(client: TestClient, bolt: None) -> None:
    page = "/batches/1/gas"
    weigh_a_fire(client, 1, **WEIGHED[0])
    client.post(f"{page}/remove", data=read_page_form(client.get(page).text, f"{page}/remove"))
    send(client, page, page, **WEIGHED[1])
    answer = client.post(f"{page}/1/put-back", data={})
    assert answer.status_code == 422
    assert "weighed anew meanwhile" in text_of(answer.text)


def test_a_low_pressure_is_cautioned_where_it_was_told(client: TestClient, bolt: None) -> None:
    client.post("/batches", params={"plan": "1"}, data={"form_id": "start-00000001"})
    page = "/batches/1/gas"
    told = {"before_kg": "20", "after_kg": "19", "lit_s": "4 h", "gauge_Pa": "0.1 bar"}
    assert send(client, page, page, **told).headers["location"] == page
    assert "may burn back into the burner" in said(client, page)


def test_the_hours_offered_hold_the_relight_for_the_reheat(
    client: TestClient, app_store: Store, bolt: None
) -> None:
    figures = figures_of(app_store)
    assert figures.reheat_K is not None
    assert figures.clock_from != "box_in"
    again_s = 15 * 60 + (figures.reheat_s or 0.0)
    whole_s = figures.warm_up_s.middle + figures.soak_s + again_s
    assert f"Burner lit {say_duration(whole_s)}" in said(client, "/plans/1/supplies")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"before_kg": "10", "after_kg": "11", "lit_s": "2"}, "after_kg"),
        ({"before_kg": "10", "after_kg": "9"}, "lit_s"),
        ({"before_kg": "100", "after_kg": "1", "lit_s": "1"}, "after_kg"),
        ({"before_kg": ""}, "before_kg"),
        ({"before_kg": "10", "after_kg": "9", "lit_s": "2", "gauge_Pa": "300 bar"}, "gauge_Pa"),
        ({"before_kg": "10", "after_kg": "9", "lit_s": "2", "second_valve": "3"}, "second_lit_s"),
        ({"before_kg": "10", "after_kg": "9", "lit_s": "2", "second_lit_s": "3"}, "second_gauge_Pa"),
    ],
)
def test_weights_that_cannot_be_are_refused(
    client: TestClient, bolt: None, typed: dict[str, str], field: str
) -> None:
    client.post("/batches", params={"plan": "1"}, data={"form_id": "start-00000001"})
    answer = send(client, "/batches/1/gas", "/batches/1/gas", **typed)
    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text


PRICED = {"money": "kr", "gas_per_kg": "30", "charcoal_per_kg": "20", "luting": "5", "hour": "100"}


def test_a_batch_and_a_part_cost_what_the_sums_say(client: TestClient, bolt: None) -> None:
    assert "Tell once what you pay" in said(client, "/plans/1/supplies")
    send(client, "/shop/prices", "/shop/prices", **PRICED)
    answer = send(
        client, "/parts/1/case-or-not", "/parts/1/case-or-not",
        parts="10", plain_bar="4", hardenable_bar="20", hardening="10",
    )  # fmt: skip
    assert answer.headers["location"] == "/parts/1/case-or-not"
    send(client, *SUPPLIES, **{**BOTTLE, "parts": "10", "work_s": "2"})
    words = said(client, "/plans/1/supplies")
    gas = 6 * 3600 * jet_flow(1e-3, 0.5e5).kg_per_s * 30
    assert f"Gas {gas:.2f} kr" in words
    assert "Your time 200.00 kr" in words
    assert "Not counted, as they have no price: what is stirred in." in words
    whole = float(re.search(r"The batch ([0-9.]+) kr", words).group(1))  # type: ignore[union-attr]
    assert f"Each part {whole / 10:.2f} kr" in words
    assert f"comes to {4 + whole / 10:.2f} kr, one of hardenable bar to 30.00 kr" in words
    assert f"From {ceil(whole / 26)} parts to a box on" in words


def test_a_negative_price_is_refused(client: TestClient) -> None:
    answer = send(client, "/shop/prices", "/shop/prices", **{**PRICED, "hour": "-3"})
    assert answer.status_code == 422
    assert 'href="#hour"' in answer.text


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({"duties": ["wear", "impact"], "size_m": "20"}, "Yes: case harden it."),
        ({"shape": "plate", "size_m": "0.8", "duties": ["wear", "impact"]}, "it is too thin"),
        ({"duties": ["bending"], "size_m": "20"}, "tempered as a spring"),
        ({"size_m": "30", "wanted_depth_low_m": "1.5", "wanted_depth_high_m": "2.5"}, "takes days"),
        ({"size_m": "20", "grind_m": "0.3"}, "ground too much"),
    ],
)
def test_a_part_is_told_plainly_whether_to_case_harden_it(
    client: TestClient, part: dict[str, str | list[str]], words: str
) -> None:
    send(client, "/parts/new", "/parts", **{"name": "Piece", **part})
    shown = said(client, "/parts/1/case-or-not")
    assert words in shown
    assert "Regrinding: a case is ground away once" in shown
    assert 'href="/parts/1/case-or-not"' in client.get("/parts/1").text


def test_a_cheaper_way_is_said_unless_the_part_takes_knocks(client: TestClient, bolt: None) -> None:
    send(client, "/shop/prices", "/shop/prices", **PRICED)
    send(client, *SUPPLIES, **{**BOTTLE, "work_s": "2"})
    page = "/parts/1/case-or-not"
    send(client, page, page, plain_bar="4", hardenable_bar="20", sent_out="9", sent_out_s="120")
    words = said(client, page)
    assert "Sending it out is the cheaper way." in words
    assert "It comes to 13.00 kr a part" in words
    assert "5 days" in words
    send(client, "/parts/1/edit", "/parts/1", duties=["wear", "impact"])
    assert "Yes: case harden it." in said(client, page)
