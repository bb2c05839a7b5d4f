"""Finding a word in the book: from any page by one key or one tap, the list following as one types."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import PHONE, Served, at_each_size, faults_of_look

pytestmark = pytest.mark.browser
MARKED = "#found mark"


def test_the_slash_key_goes_to_the_search_but_not_out_of_a_field(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    page.goto("/parts/new")
    name = page.get_by_label("Name")
    name.fill("pin")
    name.press("End")
    name.press("/")
    expect(name).to_have_value("pin/")
    page.goto("/parts")
    page.keyboard.press("/")
    search = page.get_by_role("searchbox")
    expect(search).to_be_focused()
    expect(search).to_have_value("")
    page.keyboard.type("clay corner")
    page.keyboard.press("Enter")
    page.wait_for_url("**/logbook?q=clay+corner")
    expect(page.locator(MARKED)).to_have_text(["Clay", "corner", "clay"])


def test_on_a_phone_one_tap_opens_the_search_ready_to_type(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.goto("/shop")
    page.get_by_role("link", name="Find in the book").click()
    expect(page.get_by_label("Find any words in the book")).to_be_focused()
    page.goto("/shop")
    page.keyboard.press("/")
    expect(page.get_by_label("Find any words in the book")).to_be_focused()


@at_each_size
def test_the_list_follows_as_one_types_and_its_link_can_be_kept(
    demo: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size)
    page.goto("/logbook")
    search = page.get_by_label("Find any words in the book")
    search.press_sequentially('"seal cra', delay=20)
    expect(page.locator(MARKED).first).to_have_text(re.compile("seal", re.IGNORECASE))
    expect(search).to_be_focused()
    expect(page).to_have_url(re.compile(r"/logbook\?q=%22seal\+cra&sort=newest$"))
    page.get_by_text("Narrow it down").click()
    assert faults_of_look(page) == []
    page.get_by_label("Order").select_option("oldest")
    expect(page).to_have_url(re.compile(r"q=%22seal\+cra&sort=oldest$"))
    page.reload()
    expect(search).to_have_value('"seal cra')
    expect(page.get_by_label("Order")).to_have_value("oldest")
    page.goto("/logbook")
    page.get_by_text("Narrow it down").click()
    expect(page.get_by_label("Order")).to_have_value("oldest")
