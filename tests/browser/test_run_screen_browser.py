"""The run screen on a tablet: a fire that goes out, a pin in two taps, a long sleep, a lost server."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import SIZES, THEMES, Served, faint_words, faults_of_look

pytestmark = pytest.mark.browser
BATCH = "/batches/1"
SOME_LEFT = re.compile("^2:(30|2[5-9])$")  # of two and a half hours, on a busy machine
AN_HOUR_LESS = re.compile("^1:(30|2[4-9])$")
WAKE = "document.dispatchEvent(new Event('visibilitychange'))"


def soaking(served: Served, tablet: OpenTablet) -> None:
    """A batch with the shop's own pin, an hour and a half into its soak, with 4 h planned at the fire."""
    page = tablet(served.url, script=False)
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    page.goto("/")
    page.get_by_role("button", name="Start a batch now").click()
    page.goto(f"{BATCH}/items/new?kind=coupon")
    page.get_by_label("Diameter or thickness").fill("12")
    page.get_by_role("button", name="Pack it").click()
    page.goto(BATCH)
    page.get_by_role("button", name="Box in the fire").click()
    served.move_clock(minutes=40)
    page.get_by_label("Heat of the soak").first.fill("910")
    page.get_by_role("button", name="At heat: start the soak clock").click()
    expect(page.get_by_role("button", name="Box out, fire off")).to_be_visible()
    served.move_clock(minutes=90)
    form = {"form_id": "four-hours", "soak": "4 h"}
    page.request.post(f"{BATCH}/plan-again", form=form, headers={"Origin": served.url}, max_redirects=0)


def test_burner_events_and_the_pin_are_single_taps_that_lie_well_everywhere(
    own_book: Served, tablet: OpenTablet
) -> None:
    soaking(own_book, tablet)
    page = tablet(own_book.url)
    page.goto(BATCH)
    expect(page.locator("#case-so-far")).to_contain_text(re.compile(r"about 0\.\d\d mm"))
    look_everywhere(own_book, tablet)
    page.get_by_role("button", name="Burner out").click()
    expect(page.get_by_text("clock stopped")).to_be_visible()
    expect(page.locator("#case-so-far")).to_contain_text("The fire is out")
    look_everywhere(own_book, tablet)
    own_book.move_clock(minutes=10)
    page.get_by_role("button", name="Lit again").click()
    expect(page.get_by_text("10 min without fire not counted")).to_be_visible()
    page.get_by_role("button", name="Pin drawn now").click()
    expect(page.get_by_role("button", name="0.4", exact=True)).to_be_visible()
    look_everywhere(own_book, tablet)
    page.get_by_role("button", name="0.4", exact=True).click()
    expect(page.locator("#case-so-far")).to_contain_text("1 reading of a drawn piece")


def test_a_tablet_that_slept_finds_what_is_due_and_what_another_tablet_noted(
    own_book: Served, tablet: OpenTablet
) -> None:
    soaking(own_book, tablet)
    page = tablet(own_book.url)
    page.goto(BATCH)
    expect(page.locator(".clock")).to_have_text(SOME_LEFT)
    due = page.locator(".due")
    expect(due).to_be_hidden()
    bell = page.locator("[data-bell]")
    bell.click()
    expect(bell).to_have_text("Bell on")
    own_book.move_clock(hours=4)
    page.evaluate(WAKE)
    expect(due).to_contain_text("DUE")
    expect(page).to_have_title(re.compile("^DUE"))
    expect(page.locator(".clock")).to_have_text(re.compile("^1:3[0-2] over"))
    expect(page.locator(".changed")).to_be_hidden()
    other = tablet(own_book.url)
    other.goto(BATCH)
    other.get_by_label("It reads").fill("905")
    other.get_by_role("button", name="Note it").click()
    expect(other.get_by_text("905 °C").first).to_be_visible()
    page.evaluate(WAKE)
    expect(page.locator(".changed")).to_contain_text("another tablet")
    page.get_by_role("link", name="Look again").click()
    expect(page.get_by_text("905 °C").first).to_be_visible()
    expect(page.locator("[data-bell]")).to_have_text("Bell: tap to wake it")
    page.locator("h1").click()
    expect(page.locator("[data-bell]")).to_have_text("Bell on")
    look_everywhere(own_book, tablet)


def test_the_screen_says_since_when_the_server_is_away_and_takes_it_back(
    own_book: Served, tablet: OpenTablet
) -> None:
    soaking(own_book, tablet)
    page = tablet(own_book.url, loses_server=True)
    page.clock.install()
    page.goto(BATCH)
    expect(page.locator("#case-so-far")).to_contain_text("about")
    own_book.kill()
    page.evaluate(WAKE)
    away = page.locator(".away")
    expect(away).to_have_text(
        re.compile(r"^No answer from the shop's computer since \d\d:\d\d; the clock runs on")
    )
    expect(page.locator(".clock")).to_have_text(SOME_LEFT)
    page.clock.run_for(60 * 60_000)
    expect(page.locator(".clock")).to_have_text(AN_HOUR_LESS)
    expect(away).to_be_visible()
    own_book.start_again()
    page.evaluate(WAKE)
    expect(away).to_be_hidden()


def test_without_script_the_case_so_far_is_a_link(own_book: Served, tablet: OpenTablet) -> None:
    soaking(own_book, tablet)
    page = tablet(own_book.url, script=False)
    page.goto(BATCH)
    page.get_by_role("link", name="Work out the case so far").click()
    expect(page.locator("#case-so-far")).to_contain_text(re.compile(r"about 0\.\d\d mm"))


def look_everywhere(served: Served, tablet: OpenTablet) -> None:
    """The run screen lies well and reads well on each screen, by day and by night."""
    for size in SIZES:
        page = tablet(served.url, size)
        for theme in THEMES:
            page.context.add_cookies([{"name": "theme", "value": theme, "url": served.url}])
            page.goto(BATCH)
            expect(page.locator("#case-so-far")).to_contain_text("about")
            assert faults_of_look(page) == []
            assert faint_words(page) == []
