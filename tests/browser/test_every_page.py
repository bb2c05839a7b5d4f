"""Every family of pages on the demo logbook: at three sizes and at 200 %, by day and by night, in order."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import LONGEST_WAIT_MS, OpenTablet
from tests.browser.kit import (
    SIZES,
    THEMES,
    TWICE_AS_LARGE,
    UPRIGHT,
    Served,
    Watch,
    barriers,
    faint_words,
    faults_of_look,
    faults_twice_as_large,
    set_theme,
    settled,
)
from tests.browser.looks import LOOKS, Look
from tests.browser.weight import Weighed
from tests.web.words_told import faults_of_words

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def one_tablet(browser: Browser, demo: Served) -> Iterator[tuple[Page, Watch, Weighed]]:
    """One tablet for all pages, which keeps nothing it was sent, its watch and what it is sent."""
    watch = Watch()
    with closing(browser.new_context(base_url=demo.url, timezone_id="UTC")) as context:
        context.set_default_timeout(LONGEST_WAIT_MS)
        page = context.new_page()
        watch.over(page)
        yield page, watch, Weighed(page)


def check_at_all_sizes(page: Page, look: Look) -> None:
    faults = []
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        faults += [f"{look.address} at {width} x {height}: {fault}" for fault in faults_of_look(page)]
        expect(page.get_by_role(look.role, name=look.main).first).to_be_visible()
    assert faults == []


def show_in(page: Page, theme: str) -> None:
    """Turn the page that is shown to another theme: all that the server sends otherwise is this one word."""
    page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)


def check_twice_as_large(page: Page, look: Look) -> None:
    assert faults_twice_as_large(page) == [], look.address
    main = page.get_by_role(look.role, name=look.main).first.bounding_box()
    assert main is not None, look.address
    assert 0 <= main["x"] < main["x"] + main["width"] <= TWICE_AS_LARGE[0] + 1, look.address


def test_a_page_out_of_order_is_found(tablet: OpenTablet) -> None:
    page = tablet("http://nowhere.invalid")
    page.set_content("<h2>x</h2><p style='width:900px'>x</p><button>x</button><input style='height:60px'>")
    faults = faults_of_look(page)
    assert [fault.partition(":")[0] for fault in faults] == [
        "88 px wider than the screen",
        "too small for a glove",
        "a field without a label",
        "0 main headings",
    ]


def test_faint_words_are_found(tablet: OpenTablet) -> None:
    page = tablet("http://nowhere.invalid")
    page.set_content(
        "<h1>x</h1><p style='color:#777'>faint</p><p style='color:#767676'>just plain enough</p>"
    )
    assert faint_words(page) == ['<p style="color:#777">faint</p>']


def test_a_barrier_is_found(tablet: OpenTablet) -> None:
    page = tablet("http://nowhere.invalid")
    page.set_content("<html lang='en'><title>x</title><main><h1>x</h1><img src='data:,'></main></html>")
    (barrier,) = barriers(page)
    assert barrier.startswith("image-alt")


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: look.address)
def test_a_page_is_in_order_at_every_size_by_day_and_by_night(
    demo: Served, one_tablet: tuple[Page, Watch, Weighed], look: Look
) -> None:
    page, watch, weighed = one_tablet
    watch.complaints.clear()
    weighed.begin()
    answer = page.goto(look.address)
    assert answer is not None
    assert answer.status == look.status
    assert look.on_paper or faults_of_words(answer.text()) == []
    check_at_all_sizes(page, look)
    check_twice_as_large(page, look)
    settled(page)
    assert weighed.faults(demo.url) == []
    width, height = UPRIGHT
    page.set_viewport_size({"width": width, "height": height})
    for theme in ("day",) if look.on_paper else THEMES:
        show_in(page, theme)
        assert barriers(page) == [], theme
        assert faint_words(page) == [], theme
    assert watch.complaints == []


@pytest.mark.parametrize("theme", THEMES)
def test_a_page_is_sent_in_the_theme_that_was_chosen(demo: Served, tablet: OpenTablet, theme: str) -> None:
    page = tablet(demo.url)
    set_theme(page, demo.url, theme)
    for address, told in (("/", theme), ("/parts/3/card", "day")):
        page.goto(address)
        expect(page.locator("html")).to_have_attribute("data-theme", told)


@pytest.mark.parametrize(
    ("address", "button"),
    [
        ("/plans/new?part=1", "Save this plan"),
        ("/plans/1", "Start this batch"),
        ("/batches/17", "Box in the fire"),
        ("/items/1/readings/new", "Save the reading"),
        ("/parts/new", "Save the part"),
    ],
)
def test_the_one_big_button_is_in_reach_before_any_scrolling(
    demo: Served, tablet: OpenTablet, address: str, button: str
) -> None:
    page = tablet(demo.url)
    page.goto(address)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        box = page.get_by_role("button", name=button).bounding_box()
        assert box is not None
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= height, f"{address} at {width} x {height}"


def test_the_welcome_of_an_empty_logbook_is_in_order(new_book: Served, tablet: OpenTablet) -> None:
    page = tablet(new_book.url)
    page.goto("/welcome")
    check_at_all_sizes(page, Look("/welcome", "Start my logbook"))
    for theme in THEMES:
        show_in(page, theme)
        assert faint_words(page) == [], theme
