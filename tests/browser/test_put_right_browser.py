"""Putting a piece right on a tablet and a phone, by day and by night, and with JavaScript off."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import SIZES, THEMES, Served, faint_words, faults_of_look, quench_first_batch

pytestmark = pytest.mark.browser
PIN = "/items/1"


def soft_pin(served: Served, page: Page) -> None:
    """A part, and a pin beside no part at all that was quenched too soft and too thin."""
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    page.goto("/parts/new")
    page.get_by_label("Name").fill("Gate pin")
    page.locator("label.chip", has_text="Round").click()
    page.get_by_label("Thickness or outside diameter").fill("12")
    page.get_by_role("button", name="Save the part").click()
    page.goto("/")
    page.get_by_role("button", name="Start a batch now").click()
    quench_first_batch(served, page)
    page.goto(f"{PIN}/readings/new")
    page.get_by_label("Hardness").fill("40")
    page.get_by_label("Case seen on a break").fill("0.2")
    page.get_by_role("button", name="Save the reading").click()


def test_a_soft_thin_coupon_goes_back_in_a_box_without_script_and_looks_right_everywhere(
    own_book: Served, tablet: OpenTablet
) -> None:
    page = tablet(own_book.url, script=False)
    soft_pin(own_book, page)
    page.get_by_role("link", name="Put it right").click()
    page.get_by_role("link", name="Gate pin").click()
    expect(page.get_by_text("Reads 40 HRC")).to_be_visible()
    address = page.url
    look_everywhere(own_book, tablet, address)
    box = page.locator(".way", has=page.get_by_role("heading", name=re.compile("^Back in the box")))
    box.get_by_role("button", name="Plan a batch with it").click()
    expect(page).to_have_url(re.compile("/batches/2$"))
    expect(page.get_by_text("From batch 1 A")).to_be_visible()
    page.goto(PIN)
    expect(page.get_by_role("link", name="It went back in batch 2")).to_be_visible()


def look_everywhere(served: Served, tablet: OpenTablet, address: str) -> None:
    page, faults = tablet(served.url), []
    for theme in THEMES:
        page.context.add_cookies([{"name": "theme", "value": theme, "url": served.url}])
        page.goto(address)
        faults += [f"{theme}: faint: {words}" for words in faint_words(page)]
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            faults += [f"{theme} at {width}: {fault}" for fault in faults_of_look(page)]
    assert faults == []
