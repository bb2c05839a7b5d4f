"""What a plan says of the quench: the baths side by side, the temper, the bend, and structure in words."""

from __future__ import annotations

import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from model.belief import handbook_belief
from model.process import Quench
from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.forms.plans import PlanForm
from webapp.services.plan_advice import risk_in_bath
from webapp.services.plan_figures import BlowFigures, PlanFigures, Shares, Spread, TemperFigures
from webapp.services.plan_hardening import BathAsked, compared_baths, named_baths
from webapp.services.plan_hardening_view import (
    blow_in_words,
    film_in_words,
    hardness_in_words,
    temper_in_words,
)
from webapp.services.plan_rows import baths_to_compare, first_values, goal_of, process_of, rows_for
from webapp.services.plan_structure import structure_in_short, structure_in_words
from webapp.services.plan_sums import Believed, Settled, settle
from webapp.services.plan_tenths import in_ten, tenths_of
from webapp.services.showing import Showing
from webapp.store.engine import Store, read
from webapp.store.tables import Bath, Part, Plan

NEW = "/plans/new?part=1"
HOURS_S = 4 * 3600.0
IN_MM, IN_F = (Showing(unit, "mm", ZoneInfo("UTC")) for unit in "CF")


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def pin(client: TestClient) -> None:
    """A pin of 12 mm that is struck and wants 60 HRC."""
    send(
        client, "/parts/new", "/parts", name="Pivot pin", size_m="12",
        duties=["wear", "impact"], wanted_hardness_HRC="60",
    )  # fmt: skip


@pytest.fixture
def settled(pin: None, app_store: Store) -> tuple[Settled, Believed, tuple[BathAsked, ...]]:
    """The pin's answer, what is believed, and the baths to compare."""
    believed = Believed.of(handbook_belief())
    with read(app_store) as session:
        rows = rows_for(session, form := PlanForm(**first_values(session, 1)))
        found = settle(goal_of(rows.part), process_of(rows, form), HOURS_S, believed)
        return found, believed, baths_to_compare(session, rows)


def preview(client: TestClient, **typed: str) -> str:
    sent = {**read_page_form(client.get(NEW).text, "/plans"), **typed}
    answer = client.post("/plans/preview", data=sent)
    assert answer.status_code == 200
    return text_of(f"<main{answer.text}</main>")


def plain(words: str) -> str:
    return words.replace("\N{NO-BREAK SPACE}", " ")


def shares(**given: float) -> Shares:
    rest = dict.fromkeys(Shares.__dataclass_fields__, 0.0) | given
    assert sum(rest.values()) == pytest.approx(1.0)
    return Shares(**rest)


@pytest.mark.parametrize(
    ("made_of", "words", "short"),
    [
        (shares(martensite=1.0), "martensite", "martensite"),
        (
            shares(martensite=0.88, retained_austenite=0.12),
            "martensite with 12 % retained austenite",
            "martensite",
        ),
        (
            shares(martensite=0.84, retained_austenite=0.12, carbide=0.04),
            "martensite with 12 % retained austenite and 4 % free carbide",
            "martensite",
        ),
        (shares(ferrite=0.7, pearlite=0.3), "ferrite and pearlite", "ferrite and pearlite"),
        (
            shares(ferrite=1.0),
            "ferrite and pearlite, never hot enough to harden",
            "ferrite and pearlite",
        ),
        (shares(ferrite=0.97, pearlite=0.03), "ferrite", "ferrite"),
        (
            shares(pearlite=0.2, ferrite=0.5, bainite=0.3),
            "ferrite, bainite and pearlite",
            "ferrite, bainite and pearlite",
        ),
        (
            shares(martensite=0.3, ferrite=0.6, pearlite=0.1),
            "partly hardened (ferrite and pearlite, 30 % martensite)",
            "partly hardened",
        ),
        (
            shares(martensite=0.7, retained_austenite=0.05, bainite=0.25),
            "partly hardened (martensite with 5 % retained austenite, the rest bainite)",
            "partly hardened",
        ),
    ],
)
def test_shares_turn_into_words(made_of: Shares, words: str, short: str) -> None:
    assert structure_in_words(made_of).replace("\N{NO-BREAK SPACE}", " ") == words
    assert structure_in_short(made_of) == short


@pytest.mark.parametrize(
    ("in_HRC", "in_HV", "said"),
    [
        (Spread(58.0, 61.0, 63.4), None, ("61 HRC", "58 to 63")),
        (Spread(10.0, 24.0, 31.0), None, ("24 HRC", "31 or less")),
        (Spread(-5.0, 2.0, 9.0), Spread(140.0, 150.4, 162.0), ("150 HV", "140 to 162")),
        (Spread(-5.0, 2.0, 9.0), None, ("off the scale", "too soft for Rockwell C")),
    ],
)
def test_a_hardness_off_the_rockwell_scale_is_said_in_vickers(
    in_HRC: Spread, in_HV: Spread | None, said: tuple[str, str]
) -> None:
    assert hardness_in_words(in_HRC, in_HV) == said


def test_a_film_is_named_only_where_it_holds_the_bath_off() -> None:
    assert film_in_words(0.4) == ""
    assert "about 1.4 s on this part" in film_in_words(1.4)
    assert "about 8 s on this part" in film_in_words(8.2)


def test_thin_work_bows_and_thick_work_cracks_more() -> None:
    assert "bows easily" in risk_in_bath("water", 2e-3)
    assert "more cracks" in risk_in_bath("brine", 40e-3)
    assert "bows easily" not in risk_in_bath("water", 12e-3)
    assert risk_in_bath("air", 2e-3) == risk_in_bath("air", 40e-3)
    words = {risk_in_bath(medium, 12e-3) for medium in ("air", "oil", "water", "brine")}
    assert len(words) == 4


def test_a_temper_is_said_in_the_shops_own_degrees() -> None:
    temper = TemperFigures(60.0, 3600.0, 463.15, 438.15, 488.15, 0.42)
    assert temper_in_words(temper, IN_MM) == (
        "To reach 60 HRC at the skin temper at 190 °C (somewhere from 165 °C to 215 °C) for 1 h: "
        "4 in 10 to land within 1 HRC."
    )
    assert "374 °F" in temper_in_words(temper, IN_F)
    cool = replace(temper, oven="Bench oven", runs_K=-8.0, runs_give_or_take_K=12.0)
    assert plain(temper_in_words(cool, IN_MM)) == (
        "To reach 60 HRC at the skin set Bench oven to 190 °C (somewhere from 165 °C to 215 °C) for 1 h: "
        "4 in 10 to land within 1 HRC. As far as is known it runs about 8 °C cool, give or take 12 °C."
    )
    assert "runs about 14 °F cool, give or take 22 °F" in plain(temper_in_words(cool, IN_F))
    assert "it runs true" in temper_in_words(replace(cool, runs_K=0.0), IN_MM)
    brittle = TemperFigures(56.0, 3600.0, 563.15, 563.15, 563.15, 0.3, embrittles=True)
    assert "costs toughness" in temper_in_words(brittle, IN_MM)
    refused = temper_in_words(TemperFigures(66.0, 3600.0, refusal="A temper only softens."), IN_MM)
    assert refused == "66 HRC is not to be had from this quench. A temper only softens."


def test_tenths_sum_to_ten_and_go_where_most_is_left_over() -> None:
    assert tenths_of(0.005, 0.55, 0.445) == (0, 6, 4)
    assert tenths_of(1 / 3, 1 / 3, 1 / 3) in {(4, 3, 3), (3, 4, 3), (3, 3, 4)}
    assert (in_ten(0), in_ten(4), in_ten(10)) == ("hardly a chance", "4 in 10", "almost sure")


def test_still_air_stands_beside_the_baths_unless_the_shop_has_it() -> None:
    water = BathAsked("Water", Quench("water"), "1", is_chosen=True, is_in_shop=True)
    both = named_baths([water])
    assert [bath.quench.medium for bath in both] == ["water", "air"]
    assert not both[1].is_in_shop
    air = BathAsked("Bench", Quench("air"), "2", is_chosen=False, is_in_shop=True)
    assert named_baths([water, air]) == (water, air)


def test_a_livelier_bath_hardens_more_and_water_more_than_air(
    settled: tuple[Settled, Believed, tuple[BathAsked, ...]],
) -> None:
    found, believed, baths = settled
    rows = {row.medium: row for row in compared_baths(found, believed, baths)}
    assert set(rows) == {"water", "brine", "oil", "air"}
    assert [row.is_chosen for row in rows.values()].count(True) == 1
    for place in ("skin_HV", "core_HV"):
        air, oil, water = (getattr(rows[medium], place).middle for medium in ("air", "oil", "water"))
        assert air < oil < water
    assert rows["air"].skin.martensite < 0.1 < 0.5 < rows["water"].skin.martensite
    for row in rows.values():
        assert sum(vars(row.skin).values()) == pytest.approx(1.0, abs=1e-6)
        assert sum(vars(row.core).values()) == pytest.approx(1.0, abs=1e-6)
        assert row.skin_HV.low <= row.skin_HV.middle <= row.skin_HV.high


def test_baths_are_not_compared_after_a_temper_that_is_not_worked_out(client: TestClient, pin: None) -> None:
    words = preview(client, temper_K="400", settled="yes")
    assert "The baths are not compared: what a temper does is worked out from 100 to 320 °C" in words
    assert "Still air" not in words


@pytest.mark.parametrize(
    ("reason", "more_deg", "snaps_more", "said"),
    [
        (
            "less_compression",
            -1.5,
            0.05,
            "cracks a little sooner, as there is less core to press the skin together; "
            "once cracked it snaps more often.",
        ),
        ("bend_spreads_further", 0.02, -0.05, "cracks a hair later, as a stiffer skin spreads"),
        ("no_change", 0.0, 0.0, "cracks at the same bend"),
    ],
)
def test_why_a_deeper_case_cracks_sooner_or_later_is_said(
    reason: str, more_deg: float, snaps_more: float, said: str
) -> None:
    blow = BlowFigures(30.0, 0.1, True, 0.0, 0.6, 0.4, 0.2, reason, more_deg, snaps_more)
    words = blow_in_words(blow, "plate", IN_MM)
    assert said in words.why[1]
    assert "stretched further than it can give" in words.why[0]
    assert words.odds[0] == "hardly ever bends and holds"
    unknown = blow_in_words(replace(blow, span_is_known=False), "plate", IN_MM)
    assert unknown.asked == "Bent by 30° over 100 mm (ten times its thickness, as no usable length is noted):"


def test_the_page_compares_the_baths_and_marks_the_plans_own(client: TestClient, pin: None) -> None:
    page = client.get(NEW).text
    words = text_of(page)
    assert "Which bath?" in words
    baths = page[page.index("Which bath?") : page.index("Ways to harden it")]
    assert baths.count("this plan</strong>") == 1
    assert re.search(r"Water this plan \d\d HRC", words)
    assert "Still air not written down in the shop" in words
    assert "Skin: martensite" in words
    assert "Cracks most easily" in words
    assert "after the temper of this plan" in words
    assert "as quenched. Nine in ten" in preview(client, temper_K="", settled="baths")


def test_hot_still_water_is_said_to_hold_a_film(client: TestClient, pin: None, save: Save) -> None:
    assert (
        "vapour film" not in text_of(client.get(NEW).text).partition("Which bath?")[2].partition("Temper")[0]
    )
    with save() as work:
        work.change(work.get(Bath, 1), temperature_K=343.15, agitation="still")
    assert re.search(r"The vapour film lasts about [\d.]+ s on this part", text_of(client.get(NEW).text))


def test_another_bath_is_marked_when_it_is_chosen(client: TestClient, pin: None) -> None:
    words = preview(client, bath_id="3", settled="baths")
    assert re.search(r"oil this plan \d\d HRC", words)
    assert "Water this plan" not in words


def test_the_temper_for_the_wanted_hardness_is_said_or_why_there_is_none(
    client: TestClient, pin: None, save: Save
) -> None:
    assert re.search(r"To reach 60 HRC at the skin set Small oven to \d{3} °C", text_of(client.get(NEW).text))
    assert "60 HRC is not to be had from this quench" in preview(client, bath_id="3", settled="yes")
    with save() as work:
        work.change(work.get(Part, 1), wanted_hardness_HRC=None)
    assert "To reach" not in text_of(client.get(NEW).text)


def test_a_part_that_is_struck_is_told_whether_it_bends_or_snaps(
    client: TestClient, pin: None, save: Save
) -> None:
    words = text_of(client.get(NEW).text)
    assert "Bent by 30° over 120 mm (ten times its diameter" in words
    assert "the doubt is wide" in words
    assert "A case a tenth deeper" in words
    tenths = [int(count) for count in re.findall(r"(\d+) in 10 (?:bends|cracks|snaps)", words)]
    assert sum(tenths) == 10
    with save() as work:
        work.change(work.get(Part, 1), length_m=0.08)
    assert "over 80 mm (its length)" in text_of(client.get(NEW).text)
    with save() as work:
        work.change(work.get(Part, 1), duties=["wear"])
    assert "bend or snap" not in text_of(client.get(NEW).text)


def test_the_quick_answer_keeps_the_hardness_and_leaves_the_baths_for_later(
    client: TestClient, pin: None
) -> None:
    full, quick = text_of(client.get(NEW).text), preview(client, soak_s="9")
    core = re.compile(r"Core (\d+ HRC|\d+ HV)")
    assert core.search(full)[1] == core.search(quick)[1]
    assert "as last worked out" in quick
    assert "compared as soon as your hand rests" in quick
    assert "Still air" not in quick
    assert "To reach 60 HRC" not in quick


@pytest.mark.parametrize("definition", ["HV550", "HRC50", "rim", "total"])
def test_the_quick_answer_moves_the_case_by_any_count_of_its_depth(
    client: TestClient, pin: None, save: Save, definition: str
) -> None:
    with save() as work:
        work.change(work.get(Part, 1), depth_definition=definition)

    def case(**typed: str) -> float:
        return float(re.search(r"Case depth ([\d.]+)", preview(client, **typed))[1])

    settled_mm = case(soak_s="8", settled="yes")
    quick_mm = case(soak_s="8.1")
    assert quick_mm == pytest.approx(settled_mm, rel=0.1)
    assert case(soak_s="16") > 1.2 * settled_mm


def test_the_slice_names_what_skin_and_core_are_made_of(client: TestClient, pin: None) -> None:
    page = client.get(NEW).text
    assert re.search(r"hard skin: martensite, [\d.]+ mm", page)
    assert re.search(r"core: (partly hardened|ferrite)", page)
    in_oil = client.post(
        "/plans/preview", data={**read_page_form(page, "/plans"), "bath_id": "3", "settled": "yes"}
    ).text
    assert re.search(r"skin, not fully hard: (partly hardened|bainite)", in_oil)


def test_a_plan_keeps_its_comparison_and_one_from_before_it_still_opens(
    client: TestClient, pin: None, save: Save, app_store: Store
) -> None:
    client.post("/plans", data=read_page_form(client.get(NEW).text, "/plans"))
    assert "Which bath?" in text_of(client.get("/plans/1").text)
    with read(app_store) as session:
        stored = session.get(Plan, 1).result
    figures = PlanFigures.from_dict(stored)
    assert PlanFigures.from_dict(figures.to_dict()) == figures
    assert len(figures.hardening.baths) >= 3
    older = {name: value for name, value in stored.items() if name != "hardening"}
    with save() as work:
        work.change(work.get(Plan, 1), result=older)
    page = client.get("/plans/1")
    assert page.status_code == 200
    assert "Which bath?" not in page.text


def test_a_part_ground_to_its_middle_still_gets_an_answer(client: TestClient) -> None:
    send(
        client, "/parts/new", "/parts", name="Strip", shape="plate", size_m="3", grind_m="1.6",
        duties=["bending"], wanted_depth_low_m="0.2", wanted_depth_high_m="0.4",
    )  # fmt: skip
    full, quick = preview(client, soak_s="4", settled="yes"), preview(client, soak_s="3")
    assert "Which bath?" in full
    assert "bend or snap" not in full
    assert "to land between" in quick


def test_a_part_quenched_too_cold_hardens_in_no_bath(client: TestClient, pin: None) -> None:
    words = preview(client, reheat_K="600", settled="baths")
    assert words.count("Skin: ferrite and pearlite, never hot enough to harden") == 4
    assert "60 HRC is not to be had from this quench" in words
    assert "bend or snap" not in words  # what is known of breaking is of a hard skin on a tough core


def test_a_bath_named_with_marks_is_shown_as_it_was_written(
    client: TestClient, pin: None, save: Save
) -> None:
    with save() as work:
        work.change(work.get(Bath, 2), name="<b>Bucket</b>")
    page = client.get(NEW).text
    assert "&lt;b&gt;Bucket&lt;/b&gt;" in page
    assert "<b>Bucket</b>" not in page


def test_bad_input_brings_no_comparison(client: TestClient, pin: None) -> None:
    for field, typed in (("temper_K", "750"), ("soak_s", "nan"), ("bath_id", "99"), ("reheat_K", "2000")):
        words = preview(client, **{field: typed, "settled": "yes"})
        assert "Which bath?" not in words
        assert "something is to be put right" in words
