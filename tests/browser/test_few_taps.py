"""From the first page of the day to a coupon's readings kept, counted in taps."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import SIZES, Served, faults_of_look, quench_first_batch

pytestmark = pytest.mark.browser
MOST_TAPS = 5


class Finger:
    """Taps, counted."""

    def __init__(self) -> None:
        """Start with none."""
        self.taps = 0

    def tap(self, what: Locator) -> None:
        what.click()
        self.taps += 1


def hardened(served: Served, page: Page) -> None:
    """A batch of the shop's own pin and two more coupons, hardened and not yet measured."""
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    page.get_by_role("button", name="Start a batch now").click()
    for _ in range(2):
        page.get_by_role("link", name="Add a coupon").click()
        page.get_by_role("button", name="Pack it").click()
    quench_first_batch(served, page)
    expect(page.locator(".title .tag")).to_have_text("hardened")


@pytest.mark.parametrize("size", SIZES)
def test_a_coupon_is_noted_from_the_first_page_in_five_taps_and_leads_on_to_the_next(
    own_book: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page, finger = tablet(own_book.url, size), Finger()
    hardened(own_book, page)
    page.goto("/")
    finger.tap(page.get_by_role("link", name="Measure a coupon"))
    finger.tap(page.get_by_label("Hardness"))
    page.keyboard.type("61,5")
    finger.tap(page.get_by_label("Case seen on a break"))
    page.keyboard.type("0,55")
    assert faults_of_look(page) == []
    finger.tap(page.get_by_role("button", name="Save, then measure"))
    expect(page.get_by_role("status").filter(has_text="Saved")).to_be_visible()
    assert finger.taps <= MOST_TAPS
    second = page.url
    page.get_by_label("Hardness").fill("62")
    page.get_by_role("button", name="Save, then measure").click()
    expect(page).not_to_have_url(second)
    page.get_by_label("Hardness").fill("61")
    expect(page.get_by_role("button", name="Save, then measure")).to_have_count(0)
    page.get_by_role("button", name="Save the reading").click()
    expect(page).to_have_url(re.compile("/items/3$"))
    page.goto("/batches/1")
    for said in ("61.5 HRC", "0.55 mm", "62 HRC", "61 HRC"):
        expect(page.locator("#pieces")).to_contain_text(said)
