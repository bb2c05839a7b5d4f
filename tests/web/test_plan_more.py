"""What a plan says beside its depth: wants that conflict, ways to harden, corners; and what a tap takes."""

from __future__ import annotations

import re
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from model.units import celsius_to_kelvin
from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.forms.ask import Units
from webapp.services.plan_edges import view_edges
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import MoreFigures
from webapp.services.plan_taken import take_of, with_taken
from webapp.services.plan_view import view_plan
from webapp.services.showing import Showing
from webapp.store.engine import Store, read
from webapp.store.tables import Part, Plan

NEW = "/plans/new?part=1"
IN_MM = Showing("C", "mm", ZoneInfo("UTC"))


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


@pytest.fixture
def pawl(client: TestClient) -> None:
    """A pawl of 6 mm that takes knocks and wants 60 HRC and far too deep a case for that."""
    send(
        client, "/parts/new", "/parts", name="Pawl", shape="plate", size_m="6", duties=["wear", "impact"],
        wanted_hardness_HRC="60", wanted_depth_low_m="0.7", wanted_depth_high_m="0.9",
    )  # fmt: skip


@pytest.fixture
def pin(client: TestClient) -> None:
    """A round pin of 20 mm that takes knocks and wants 60 HRC on a thin case."""
    send(
        client, "/parts/new", "/parts", name="Pin", size_m="20", duties=["wear", "impact"],
        wanted_hardness_HRC="60", wanted_depth_low_m="0.25", wanted_depth_high_m="0.6",
    )  # fmt: skip


def section_of_page(page: str, title: str) -> str:
    """Return the words of one section of a page."""
    start = page.index(f"<h2>{title}</h2>")
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page[start : page.index("</section>", start)])).split())


def asked_for_by_itself(page: str) -> list[str]:
    return re.findall(r'hx-vals=\'{"settled": "(\w+)"}\'', page)


def taps(page: str) -> list[str]:
    return [unescape(value) for value in re.findall(r'name="take" value="([^"]*)"', page)]


def test_wants_that_conflict_are_said_with_what_gives_way_and_what_is_near(
    client: TestClient, pawl: None
) -> None:
    words = section_of_page(client.get(NEW).text, "Does it go together?")
    found = re.search(
        r"60 HRC and 0.7 to 0.9 mm of case on 6 mm that must take a blow "
        r"do not go together here: (\d) in 10 snap",
        words,
    )
    assert "In this plan the blow gives way" in words
    near = re.search(r"The depth gives way Soak .* Gives ([\d.]+) mm of case .*?(\d) in 10 snap", words)
    assert float(near[1]) < 0.6
    assert int(near[2]) < int(found[1])
    assert "bend a spare piece before you trust it" in words


def test_wants_that_go_together_are_said_to(client: TestClient, pin: None) -> None:
    words = section_of_page(client.get(NEW).text, "Does it go together?")
    assert "60 HRC and 0.25 to 0.6 mm of case on 20 mm that must take a blow go together" in words
    assert "and this plan meets them" in words
    assert "Nearest plans" not in words


def test_a_depth_alone_conflicts_with_nothing(client: TestClient, pin: None, save: Save) -> None:
    with save() as work:
        work.change(work.get(Part, 1), wanted_hardness_HRC=None, duties=["wear"])
    assert "Does it go together?" not in client.get(NEW).text


def test_a_bath_too_slow_for_the_hardness_is_exchanged(client: TestClient, pin: None) -> None:
    sent = {**read_page_form(client.get(NEW).text, "/plans"), "bath_id": "3"}
    words = section_of_page(client.post("/plans/new", data=sent).text, "Does it go together?")
    assert "go together, but not in this plan" in words
    assert "In this plan the hardness gives way" in words
    assert re.search(r"Nothing gives way Quench in (Water|Brine)", words, re.IGNORECASE)


def test_a_tap_takes_the_nearest_plan_into_the_steppers(client: TestClient, pawl: None) -> None:
    page = client.get(NEW).text
    sent, take = read_page_form(page, "/plans"), taps(page)[0]
    answer = client.post("/plans/new", data={**sent, "note": "keep me", "take": take})
    taken = read_page_form(answer.text, "/plans")
    assert answer.status_code == 200
    assert float(taken["soak_s"][0]) < float(sent["soak_s"][0])
    assert taken["note"] == ["keep me"]
    words = section_of_page(answer.text, "Does it go together?")
    assert "do not go together here" in words  # a case thinner than wanted is not what was wanted
    # the pack feeds on the way up and while the box cools too, so the shorter soak still snaps in half
    assert "In this plan the depth and blow give way" in words


def test_ways_to_harden_are_folded_with_this_plan_and_the_advised_one_marked(
    client: TestClient, pawl: None
) -> None:
    page = client.get(NEW).text
    words = section_of_page(page, "Ways to harden it")
    assert "Advised: one reheat, for the core. It must bend or take a blow" in words
    assert "One reheat, for the skin 788 °C this plan" in words
    assert "One reheat, for the core 880 °C to 920 °C advised" in words
    assert "Two reheats: core first, then skin 880 °C to 920 °C, then 788 °C" in words
    assert "A plan holds one reheat" in words
    assert "Why the slow cool first?" in words
    assert "Heat by: SAE typical treatments of carbon steels, 1450 F for 1018" in words
    assert "_" not in words


def test_the_advice_follows_what_the_part_must_do(client: TestClient, pin: None, save: Save) -> None:
    def advice(duty: str) -> str:
        with save() as work:
            work.change(work.get(Part, 1), duties=[duty])
        return section_of_page(client.get(NEW).text, "Ways to harden it")

    assert "Advised: one reheat, for the skin" in advice("wear")
    assert "This plan takes it" in advice("wear")
    assert "hardens the core under the skin" in advice("bearing")


def test_a_tap_takes_the_heat_of_a_way_or_none(client: TestClient, pawl: None) -> None:
    page = client.get(NEW).text
    sent = read_page_form(page, "/plans")
    heats = {take for take in taps(page) if take.startswith("reheat_K")}
    assert "reheat_K=" in heats
    core = next(take for take in heats if take != "reheat_K=")
    taken = client.post("/plans/new", data={**sent, "take": core}).text
    assert read_page_form(taken, "/plans")["reheat_K"] == ["900"]
    assert "This plan takes it" in section_of_page(taken, "Ways to harden it")
    direct = client.post("/plans/new", data={**sent, "take": "reheat_K="}).text
    assert read_page_form(direct, "/plans")["reheat_K"] == [""]
    assert "Straight from the box no reheat this plan" in section_of_page(direct, "Ways to harden it")


def test_a_reheat_that_no_book_gives_is_none_of_the_ways(client: TestClient, pawl: None) -> None:
    sent = {**read_page_form(client.get(NEW).text, "/plans"), "reheat_K": "720"}
    words = section_of_page(client.post("/plans/new", data=sent).text, "Ways to harden it")
    assert "The reheat of this plan, 720 °C, is none of these heats" in words


@pytest.mark.parametrize(
    "take",
    [
        "nonsense",
        "part_id=9;note=x",
        "soak_s=nan",
        "soak_s=inf;temper_K=",
        "soak_s=1e999",
        "=",
        ";;;",
        "x" * 5000,
    ],
)
def test_a_tap_that_says_nothing_sensible_takes_nothing_or_is_put_right(
    client: TestClient, pin: None, take: str
) -> None:
    sent = read_page_form(client.get(NEW).text, "/plans")
    answer = client.post("/plans/new", data={**sent, "take": take})
    assert answer.status_code == 200
    taken = read_page_form(answer.text, "/plans")
    assert taken["soak_s"] == sent["soak_s"]
    assert taken["part_id"] == sent["part_id"]


def test_a_tap_out_of_range_is_refused_beside_its_field(client: TestClient, pin: None) -> None:
    sent = read_page_form(client.get(NEW).text, "/plans")
    answer = client.post("/plans/new", data={**sent, "take": "soak_s=9000000;bath_id=99"})
    assert answer.status_code == 422
    assert "too much here" in text_of(answer.text)


def test_what_is_taken_is_written_in_the_shops_own_units() -> None:
    take = take_of({"reheat_K": celsius_to_kelvin(900.0), "soak_s": 5400.0, "bath_id": 2})
    raw = with_taken({"take": take, "note": "n"}, Units("F", "in", "UTC"))
    assert (raw["reheat_K"], raw["soak_s"], raw["bath_id"], raw["note"]) == ("1652", "1.5", "2", "n")


def test_corners_go_deeper_than_a_face_and_thin_edges_right_through(client: TestClient, pawl: None) -> None:
    words = section_of_page(client.get(NEW).text, "A slice through the skin")
    found = re.search(
        r"At a square corner the case runs up to about ([\d.]+) mm in from the tip, "
        r"([\d.]+) mm on a flat face. "
        r"A lug, tooth or edge thinner than about ([\d.]+) mm goes hard right through and will chip",
        words,
    )
    corner, face, through = (float(found[place]) for place in (1, 2, 3))
    assert corner > 1.4 * face  # less, and the diagonal of a corner would be no deeper than its faces
    assert through >= 2.0 * face
    assert "copper plate or clay" in words


def test_a_thin_section_is_said_to_go_through_and_an_open_bore_is_not(client: TestClient) -> None:
    send(
        client, "/parts/new", "/parts", name="Shim", shape="plate", size_m="1.2", duties=["wear"],
        wanted_depth_low_m="0.3", wanted_depth_high_m="0.55",
    )  # fmt: skip
    send(client, "/parts/new", "/parts", name="Bush", shape="tube", size_m="30", bore_m="24", duties=["wear"])
    shim, bush = (client.get(f"/plans/new?part={part}").text for part in (1, 2))
    assert "This section goes hard right through" in text_of(shim)
    assert "The bore is not packed" in text_of(bush)
    assert "This section goes hard right through" not in text_of(bush)


def test_a_saved_plan_keeps_these_and_offers_no_tap_and_an_older_one_still_opens(
    client: TestClient, pawl: None, save: Save, app_store: Store
) -> None:
    client.post("/plans", data=read_page_form(client.get(NEW).text, "/plans"))
    page = client.get("/plans/1").text
    for title in ("Does it go together?", "Ways to harden it"):
        assert f"<h2>{title}</h2>" in page
    assert 'name="take"' not in page
    with read(app_store) as session:
        stored = session.get(Plan, 1).result
    figures = PlanFigures.from_dict(stored)
    assert PlanFigures.from_dict(figures.to_dict()) == figures
    assert figures.more.wants.missed == ("blow",)
    older = {name: value for name, value in stored.items() if name != "more"}
    assert PlanFigures.from_dict(older).more == MoreFigures()
    assert view_plan(PlanFigures.from_dict(older), IN_MM).wants is None
    assert view_edges(PlanFigures.from_dict(older), IN_MM) is None
    with save() as work:
        work.change(work.get(Plan, 1), result=older)
    again = client.get("/plans/1")
    assert again.status_code == 200
    assert "Ways to harden it" not in again.text


def test_the_quick_answer_leaves_them_for_later(client: TestClient, pawl: None) -> None:
    sent = read_page_form(client.get(NEW).text, "/plans")
    quick = client.post("/plans/preview", data={**sent, "soak_s": "4"}).text
    assert "Ways to harden it" not in quick
    full = client.post("/plans/preview", data={**sent, "soak_s": "4", "settled": "yes"}).text
    assert "Ways to harden it" in full
    assert not any("soak_s" in tap for tap in taps(full))
    assert "In this plan the blow gives way. Other soaks" in section_of_page(full, "Does it go together?")
    assert asked_for_by_itself(full) == ["choices", "baths"]
    for what, title, said in (
        ("choices", "Does it go together?", "do not go together here"),
        ("baths", "Which bath?", "Still air"),
    ):
        rest = client.post("/plans/preview", data={**sent, "soak_s": "4", "settled": what}).text
        assert said not in section_of_page(full, title)
        assert said in section_of_page(rest, title)
        assert what not in asked_for_by_itself(rest)
        assert any("soak_s" in tap for tap in taps(rest)) == (what == "choices")


def test_a_plan_that_meets_all_waits_for_no_other_choices(client: TestClient, pin: None) -> None:
    sent = read_page_form(client.get(NEW).text, "/plans")
    full = client.post("/plans/preview", data={**sent, "settled": "yes"}).text
    assert "and this plan meets them" in section_of_page(full, "Does it go together?")
    assert asked_for_by_itself(full) == ["baths"]
