"""The schedule under a finger: one line is moved in place, and the same works without script."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served

pytestmark = pytest.mark.browser
SCHEDULE = "/plans/1/schedule?start=2026-06-10T08:00&batch=17"


def move_light_up(page: Page) -> None:
    line = page.locator("#line-light")
    line.get_by_text("Move", exact=True).click()
    line.get_by_label("Begins").fill("2026-06-10T09:20")
    line.get_by_role("button", name="Move it, and what follows").click()


def test_a_line_is_moved_in_place_and_takes_along_what_follows(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    page.goto(SCHEDULE)
    page.evaluate("document.body.dataset.same = 'yes'")
    move_light_up(page)
    expect(page.locator("#line-box_in .when b")).to_have_text("09:30")
    expect(page.locator("#line-check_luting .when b")).to_have_text("08:00")
    assert page.evaluate("document.body.dataset.same") == "yes"
    page.get_by_role("link", name="This schedule as a link").click()
    expect(page.locator("#line-box_in .when b")).to_have_text("09:30")
    assert "light=2026-06-10T09%3A20" in page.url
    page.get_by_role("link", name="Run sheet, on paper").click()
    expect(page.get_by_role("row").filter(has_text="Box in the fire")).to_contain_text("09:30")


def test_without_script_a_line_is_moved_by_a_plain_page(demo: Served, browser: Browser) -> None:
    context = browser.new_context(base_url=demo.url, java_script_enabled=False)
    page = context.new_page()
    page.goto(SCHEDULE)
    move_light_up(page)
    expect(page.locator("#line-box_in .when b")).to_have_text("09:30")
    assert "light=2026-06-10T09%3A20" in page.url
    context.close()
