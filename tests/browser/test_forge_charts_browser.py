"""The charts of This forge under a finger: after the page, a point leads to its piece, paper has tables."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import PHONE, Served, at_each_size, faults_of_look

pytestmark = pytest.mark.browser


@pytest.fixture
def phone(tablet: OpenTablet, demo: Served) -> Page:
    return tablet(demo.url, PHONE, touched=True)


@at_each_size
def test_a_finger_on_a_point_reads_it_and_leads_to_its_piece(
    demo: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size, touched=True)
    page.goto("/forge")
    drawing = page.locator("#case-growth svg[role=img]")
    expect(drawing).to_be_visible()
    drawing.scroll_into_view_if_needed()
    page.locator("#case-growth [aria-label=dot] > *").first.tap(force=True)
    way = page.locator("#case-growth .readout a")
    expect(way).to_contain_text("h at 9")
    expect(way).to_contain_text("mm")
    assert faults_of_look(page) == []
    way.tap()
    page.wait_for_url("**/items/*")


def test_between_points_a_finger_reads_the_lines_off(phone: Page) -> None:
    phone.goto("/forge/charts")
    drawing = phone.locator("#case-growth svg[role=img]")
    drawing.scroll_into_view_if_needed()
    across = drawing.evaluate("(svg) => [0, 1, 4].map((hours) => svg.scale('x').apply(hours))")
    assert across[2] - across[0] == pytest.approx(2.0 * (across[1] - across[0]))  # by the root of the hours
    box = drawing.bounding_box()
    assert box is not None
    phone.touchscreen.tap(box["x"] + 0.4 * box["width"], box["y"] + 0.15 * box["height"])
    readout = phone.locator("#case-growth .readout")
    for words in ("this forge", "the books", "0.1 mm (0.004 in) an hour", "nine fires in ten"):
        expect(readout).to_contain_text(words)


def test_paper_has_the_numbers_beneath_each_chart(demo: Served, tablet: OpenTablet) -> None:
    page = tablet(demo.url)
    page.goto("/forge/charts")
    expect(page.locator("#bath-hardness svg[role=img]")).to_be_visible()
    page.emulate_media(media="print")
    for key in ("case-growth", "bath-hardness"):
        expect(page.locator(f"#{key} table")).to_be_visible()


@at_each_size
def test_a_finger_on_a_dent_of_a_traverse_reads_it_beside_what_was_foretold(
    demo: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size, touched=True)
    page.goto("/items/35")
    expect(page.locator("#traverse svg[role=img]")).to_be_visible()
    page.locator("#traverse [aria-label=dot] > *").nth(3).tap(force=True)
    readout = page.locator("#traverse .readout")
    for words in ("0.50 mm deep", "give or take", "foretold", "HV"):
        expect(readout).to_contain_text(words)
    assert faults_of_look(page) == []
