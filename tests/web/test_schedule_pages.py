"""The page of a schedule: its address says all, a line moves by it, the shop's hours are remembered."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from tests.web.conftest import Save
from tests.web.page_forms import begin, read_page_form, send, text_of
from webapp.store.tables import Bar

NEW_PLAN = "/plans/new?part=1"
SCHEDULE = "/plans/1/schedule"


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


def test_the_shops_hours_are_remembered_and_a_short_day_says_what_would_do(planned: TestClient) -> None:
    form = read_page_form(planned.get(f"{SCHEDULE}?start=2026-06-10T08:00").text, f"{SCHEDULE}/hours")
    answer = planned.post(f"{SCHEDULE}/hours", data={**form, "opens_at": "09:00", "leaves_at": "11:00"})
    assert answer.status_code == 303
    page = shown(planned, answer.headers["location"])
    assert "It does not fit between 09:00 and 11:00" in page
    assert "Start earlier: open at" in page
    assert "Stay longer: leave at" in page
    assert "Box in the fire" not in page
    enough = re.search(r"leave at (\d\d:\d\d)", page)
    assert enough is not None
    again = read_page_form(planned.get(SCHEDULE).text, f"{SCHEDULE}/hours") | {"leaves_at": enough[1]}
    location = planned.post(f"{SCHEDULE}/hours", data=again).headers["location"]
    assert "Box in the fire" in shown(planned, location)  # what is said to do does


def test_hours_that_cannot_be_are_refused_and_the_old_ones_stay(planned: TestClient) -> None:
    for opens, leaves, words in (
        ("18:00", "08:00", "before the shop opens"),
        ("soon", "18:00", "not a time of day"),
    ):
        form = read_page_form(planned.get(SCHEDULE).text, f"{SCHEDULE}/hours")
        answer = planned.post(f"{SCHEDULE}/hours", data={**form, "opens_at": opens, "leaves_at": leaves})
        assert answer.status_code == 422
        assert words in answer.text
    assert 'name="opens_at" type="time" value="08:00"' in planned.get(SCHEDULE).text


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
