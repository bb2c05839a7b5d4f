"""With gloves on: a scaled piece in hand, two taps on its mark lead to its page."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served, at_each_size, faults_of_look

pytestmark = pytest.mark.browser


@at_each_size
def test_a_piece_is_found_by_the_dots_in_it(demo: Served, tablet: OpenTablet, size: tuple[int, int]) -> None:
    page = tablet(demo.url, size)
    page.goto("/logbook")
    page.get_by_role("link", name="Which piece is this?").click()
    page.get_by_role("link", name="Dots", exact=True).click()
    page.get_by_role("link", name="1", exact=True).click()
    open_ones = page.get_by_role("region", name="Not finished yet: 1 dot")
    expect(open_ones.get_by_role("img", name="1 dot")).to_be_visible()
    assert faults_of_look(page) == []
    open_ones.get_by_role("link", name="Batch 16 B Flat slip").click()
    expect(page.get_by_role("heading", name="B Flat slip")).to_be_visible()
    expect(page.get_by_role("region", name="Its mark in the steel")).to_contain_text("1 dot on a side")
