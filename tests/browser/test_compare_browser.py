"""Comparing batches with a finger: ticked in the logbook, side by side on any screen, charts filled in."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served, at_each_size, faults_of_look

pytestmark = pytest.mark.browser
GLOVE_PX = 48


@at_each_size
def test_batches_ticked_in_the_logbook_stand_side_by_side(
    demo: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size)
    page.goto("/logbook")
    for number in (13, 15):
        tick = page.get_by_label(f"Compare batch {number}", exact=True)
        box = page.locator("label.pick", has=tick).bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= GLOVE_PX
        page.locator("label.pick", has=tick).click()
        expect(tick).to_be_checked()
    button = page.get_by_role("button", name="Compare those ticked")
    expect(button).to_be_in_viewport()
    button.click()
    page.wait_for_url("**/logbook/compare?b=15&b=13")
    for key in ("course", "carbons", "hardnesses", "met-mm"):
        expect(page.locator(f"#{key} svg[role=img]")).to_be_visible()
    assert faults_of_look(page) == []
    page.get_by_label("One more batch").fill("6")
    page.get_by_role("button", name="Put beside").click()
    page.wait_for_url("**/logbook/compare?b=15&b=13&b=6")
    expect(page.locator(".side-by-side").first.get_by_role("columnheader", name="Batch 6")).to_be_visible()


def test_ticks_survive_a_turned_page_and_a_fifth_is_told(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    said = page.locator("#side-by-side [role=status]")
    for address, number in (("/logbook?q=pawl", 13), ("/logbook?q=ring", 11), ("/logbook", 15)):
        page.goto(address)
        page.get_by_label(f"Compare batch {number}", exact=True).check()
    expect(said).to_have_text("Ticked: 13, 11, 15.")
    page.reload()
    expect(page.get_by_label("Compare batch 11", exact=True)).to_be_checked()
    page.get_by_label("Compare batch 1", exact=True).check()
    page.locator("label.pick", has=page.get_by_label("Compare batch 2", exact=True)).click()
    expect(page.get_by_label("Compare batch 2", exact=True)).not_to_be_checked()
    expect(said).to_have_text("Four go side by side. Take one tick away first.")
    page.goto("/logbook?q=pawl")
    page.get_by_role("button", name="Compare those ticked").click()
    page.wait_for_url("**/logbook/compare?b=13&**")
    expect(page.locator(".side-by-side").first.get_by_role("columnheader", name="Batch")).to_have_count(4)
    page.goto("/logbook")
    page.get_by_role("button", name="Take the ticks away").click()
    expect(said).to_have_text("Two to four, side by side.")
    expect(page.get_by_label("Compare batch 15", exact=True)).not_to_be_checked()


def test_too_few_ticked_is_told_and_leads_back(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    page.goto("/logbook")
    page.get_by_role("button", name="Compare those ticked").click()
    expect(page.get_by_role("alert")).to_contain_text("It takes two batches to compare")
    page.get_by_role("link", name="Choose in the logbook").click()
    page.wait_for_url("**/logbook")
