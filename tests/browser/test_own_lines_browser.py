"""A line of one's own on a tablet and a phone: asked for, filled in, shown on the batch and found."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import THEMES, Served, at_each_size, barriers, faint_words, faults_of_look

pytestmark = [pytest.mark.browser, pytest.mark.long]  # by command, for its time


@pytest.fixture(scope="module")
def begun(new_book: Served, browser: Browser) -> Served:
    """A logbook whose shop is set up."""
    page = browser.new_page(base_url=new_book.url)
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    expect(page).not_to_have_url(f"{new_book.url}/welcome")
    page.close()
    return new_book


@at_each_size
def test_a_line_of_ones_own_is_asked_for_filled_in_and_found(
    begun: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page, label, said = tablet(begun.url, size), f"Charcoal at {size[0]}", f"beech {size[0]}"
    page.goto("/shop")
    page.get_by_role("link", name="Lines of your own").click()
    page.get_by_label("What you want to note").fill(label)
    page.get_by_role("button", name="Ask for it").click()
    expect(page.get_by_role("link", name=f"Change: {label}")).to_be_visible()
    assert faults_of_look(page) == []
    page.goto("/batches/new")
    page.get_by_text("Your own lines").click()
    page.get_by_role("textbox", name=label).fill(said)
    looks_right(page)
    page.get_by_role("button", name="Open the batch").click()
    expect(page.get_by_text(said, exact=True)).to_be_visible()
    assert faults_of_look(page) == []
    page.goto(f"/logbook?q={said.replace(' ', '+')}")
    expect(page.locator("#found mark")).to_have_text(said.split())
    page.get_by_text("Narrow it down").click()
    page.get_by_label("Find any words").fill("")
    page.get_by_label(label).select_option(said)
    expect(page.get_by_text("1 batch", exact=True)).to_be_visible()
    expect(page).to_have_url(re.compile("own="))
    looks_right(page)


def looks_right(page: Page) -> None:
    """Hold a page to the house in both themes, with what was typed in it."""
    for theme in THEMES:
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        assert faults_of_look(page) == []
        assert faint_words(page) == []
    assert barriers(page) == []
