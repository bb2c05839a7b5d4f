"""The page of a schedule: its address says all, a line moves by it, the shop's hours are remembered."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient

from model.box_cold import cold_after
from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.services.box_rows import packed, work_of_part
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Box, Mix, Part, Plan

NEW_PLAN = "/plans/new?part=1"
SCHEDULE = "/plans/1/schedule"
HOURS = f"{SCHEDULE}/hours"
SETTINGS = "/shop/settings"


@pytest.fixture
def planned(client: TestClient) -> TestClient:
    """A saved plan of a pin that is ground, with the usual reheat, quench and temper."""
    begin(client)
    send(client, "/parts/new", "/parts", name="Pivot pin", size_m="12", grind_m="0.1")
    send(client, NEW_PLAN, "/plans")
    return client


def shown(client: TestClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return text_of(answer.text)


def test_a_plan_leads_to_its_schedule_with_checks_and_cautions_at_their_lines(planned: TestClient) -> None:
    assert f'href="{SCHEDULE}"' in planned.get("/plans/1").text
    page = shown(planned, f"{SCHEDULE}?start=2026-06-10T08:00")
    for words in (
        "Tuesday, 9 Jun 2026",
        "Wednesday, 10 Jun 2026",
        "Light up",
        "Luting keeps air out",
        "between",
    ):
        assert words in page, words
    out = page[page.index("Box out, or fire off") :]
    assert "No water on a hot box" in out[: out.index("Open the cold box")]
    assert "Local codes and licensed practice come first" in page


def test_a_moved_line_stands_in_the_address_and_in_every_other_lines_form(planned: TestClient) -> None:
    page = planned.get(f"{SCHEDULE}?start=2026-06-10T08:00&light=2026-06-10T09:30").text
    assert "<b>09:30</b>" in page
    assert page.count('<input type="hidden" name="light" value="2026-06-10T09:30">') >= 8
    assert "start=2026-06-10T08%3A00&amp;light=2026-06-10T09%3A30" in page  # the link that keeps it


def test_a_time_that_cannot_be_read_is_told_and_changes_nothing(planned: TestClient) -> None:
    page = shown(planned, f"{SCHEDULE}?start=2026-06-10T08:00&light=9999-01-01T00:00&open=soon")
    assert "“9999-01-01T00:00” is not a day and time near today" in page
    assert "“soon” is not a day and time near today" in page
    assert "08:05" in page


def tell_hours(client: TestClient, **told: str) -> None:
    assert send(client, SETTINGS, SETTINGS, **told).status_code == 303


def test_the_shops_hours_are_asked_until_they_are_said_and_then_stand_in_the_settings(
    planned: TestClient,
) -> None:
    first = f"{SCHEDULE}?start=2026-06-10T08:00"
    form = read_page_form(planned.get(first).text, HOURS)
    told = {"opens_at": "07:30", "leaves_at": "19:00", "starts_at": "09:15"}
    answer = planned.post(HOURS, data={**form, **told})
    assert answer.status_code == 303
    page = planned.get(answer.headers["location"]).text
    assert HOURS not in page
    assert "07:30 to 19:00" in text_of(page)
    settings = read_page_form(planned.get(SETTINGS).text, SETTINGS)
    assert {name: settings[name] for name in told} == {name: [text] for name, text in told.items()}
    # the day of a fire begins as the shop usually does
    assert re.search(r'name="start" type="datetime-local" value="[0-9-]+T09:15"', planned.get(SCHEDULE).text)


def test_a_short_day_says_what_would_do_and_each_way_does_for_this_run_alone(planned: TestClient) -> None:
    tell_hours(planned, opens_at="09:00", leaves_at="11:00")
    raw = planned.get(f"{SCHEDULE}?start=2026-06-10T09:00").text
    page = text_of(raw)
    assert "It does not fit between 09:00 and 11:00" in page
    assert "Box in the fire" not in page
    ways = re.findall(r'(Start earlier|Stay longer)[^<]*<br><a class="button" href="([^"]+)"', raw)
    assert [words for words, _ in ways] == ["Start earlier", "Stay longer"]
    for _, href in ways:
        way = shown(planned, unescape(href))
        assert "Box in the fire" in way
        assert "for this run" in way
    settings = read_page_form(planned.get(SETTINGS).text, SETTINGS)
    assert (settings["opens_at"], settings["leaves_at"]) == (["09:00"], ["11:00"])


def test_hours_of_one_run_are_carried_by_every_link_of_its_page(planned: TestClient) -> None:
    tell_hours(planned, opens_at="08:00", leaves_at="18:00")
    raw = planned.get(f"{SCHEDULE}?start=2026-06-10T08:00&leaves=20:00").text
    assert "08:00 to 20:00" in text_of(raw)
    assert raw.count('<input type="hidden" name="leaves" value="20:00">') >= 8  # one in the form of each line
    assert "start=2026-06-10T08%3A00" in raw
    assert "leaves=20%3A00" in raw
    told = shown(planned, f"{SCHEDULE}?opens=soon&leaves=07:00")
    assert "“soon” is not a time of day. The shop's own hours stay." in told
    assert "You leave before the shop opens" in told
    assert "08:00 to 18:00" in told


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"opens_at": "18:00", "leaves_at": "08:00"}, "before the shop opens"),
        ({"opens_at": "soon", "leaves_at": "18:00"}, "not a time of day"),
        ({"opens_at": "08:00", "leaves_at": "18:00", "starts_at": "19:00"}, "while somebody is there"),
    ],
)
def test_hours_that_cannot_be_are_refused_on_both_pages(
    planned: TestClient, typed: dict[str, str], words: str
) -> None:
    form = read_page_form(planned.get(SCHEDULE).text, HOURS)
    for answer in (planned.post(HOURS, data={**form, **typed}), send(planned, SETTINGS, SETTINGS, **typed)):
        assert answer.status_code == 422
        assert words in text_of(answer.text)
    settings = read_page_form(planned.get(SETTINGS).text, SETTINGS)
    assert settings.get("opens_at", [""]) == [""]


def test_half_of_the_hours_is_not_taken(planned: TestClient) -> None:
    answer = send(planned, SETTINGS, SETTINGS, opens_at="08:00")
    assert answer.status_code == 422
    assert "Give both" in text_of(answer.text)


def test_a_line_sent_back_as_it_stands_moves_nothing_and_has_no_complaint(planned: TestClient) -> None:
    first = planned.get(f"{SCHEDULE}?start=2026-06-10T08:00").text
    at_heat = re.search(r'name="at_heat" type="datetime-local" value="([^"]+)"', first)
    assert at_heat is not None
    again = shown(planned, f"{SCHEDULE}?start=2026-06-10T08:00&at_heat={at_heat[1]}")
    assert "Not sooner than" not in again


def test_a_plan_without_a_case_has_a_schedule_with_no_box(client: TestClient, save: Save) -> None:
    begin(client)
    send(client, "/parts/new", "/parts", name="Spring", shape="plate", size_m="6", wanted_hardness_HRC="58")
    with save() as work:
        work.change(work.get(Bar, 1), grade="5160", carbon_low_wt=0.56, carbon_high_wt=0.64)
    send(client, NEW_PLAN, "/plans")
    page = shown(client, f"{SCHEDULE}?start=2026-06-10T08:00")
    assert "Light up and reheat" in page
    assert "Luting" not in page
    assert "Box" not in page


def test_a_schedule_of_no_plan_is_not_there(planned: TestClient) -> None:
    assert planned.get("/plans/9/schedule").status_code == 404


def test_the_cool_is_that_of_the_plans_own_box_with_its_span_and_the_heat_it_ends_at(
    planned: TestClient, app_store: Store
) -> None:
    page = shown(planned, f"{SCHEDULE}?start=2026-06-10T08:00")
    told = re.search(
        r"cold to the hand about (\d\d):(\d\d) \((\d\d:\d\d) to (\d\d:\d\d) the next day\)", page
    )
    assert told is not None
    with read(app_store) as session:
        plan = session.get(Plan, 1)
        assert plan is not None
        box, mix, part = session.get(Box, plan.box_id), session.get(Mix, plan.mix_id), session.get(Part, 1)
        assert box is not None
        assert part is not None
        described = packed(box, mix, (work_of_part(part),))
        assert described is not None
        cold = cold_after(described, plan.temperature_K)
    began = re.search(r"(\d\d):(\d\d) [0-9 hmin]+ The box cools shut", page)
    assert began is not None
    hours, minutes = (int(told[k]) - int(began[k]) for k in (1, 2))
    assert 3600 * hours + 60 * minutes == pytest.approx(cold.seconds, abs=61)
    assert "50 °C (120 °F) in the middle, before the lid comes off" in page
    assert "A box opened hot can flash" in page[page.index("Open the cold box") :]


@pytest.mark.parametrize(("low", "high", "is_thin"), [("0.2", "0.4", True), ("0.8", "1.2", False)])
def test_a_thin_case_is_to_be_wrapped_or_packed_again_for_its_reheat(
    planned: TestClient, low: str, high: str, is_thin: bool
) -> None:
    send(planned, "/parts/1/edit", "/parts/1", wanted_depth_low_m=low, wanted_depth_high_m=high)
    send(planned, NEW_PLAN, "/plans")
    page = shown(planned, "/plans/2/schedule")
    assert ("Wrapped in foil or packed again: thin case" in page) is is_thin
