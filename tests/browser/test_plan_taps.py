"""A tap on a plan's page takes another way to harden into its steppers; the rest stays."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import UPRIGHT, Served, faults_of_look

pytestmark = pytest.mark.browser
NARROW = (390, 844)


@pytest.mark.parametrize("size", [UPRIGHT, NARROW])
def test_a_tap_takes_a_way_to_harden_into_the_steppers(
    demo: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size)
    page.goto("/plans/new?part=1")
    ways = page.locator(".quench-ways")
    for row in ways.locator("summary").all():
        row.click()
    assert faults_of_look(page) == []
    hours = page.locator("#soak_s").input_value()
    ways.get_by_role("button", name="Take straight from the box").click()
    expect(page.locator("#reheat_K")).to_have_value("")
    expect(page.locator("#soak_s")).to_have_value(hours)
    expect(ways.locator("summary", has_text="Straight from the box")).to_contain_text("this plan")
    assert faults_of_look(page) == []
