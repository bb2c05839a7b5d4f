"""On paper: ink on white whatever the theme, nothing cut off, one batch on one sheet."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served

pytestmark = pytest.mark.browser
A_PAGE = re.compile(rb"/Type\s*/Page\b")
A4_TEXT_WIDTH_PX = 687  # 210 mm less two margins of 14 mm, at 96 px an inch
RUN_SHEETS = ("/batches/17/run-sheet", "/batches/17/run-sheet?fires=3", "/batches/15/run-sheet")
SHEETS = (
    *RUN_SHEETS,
    "/batches/15/print",
    "/batches/6/print",
    "/plans/1",
    "/batches/15",
    "/forge",
    "/forge/charts",
    "/items/35/traverse",
    "/forge/arguments",
    "/logbook",
)

# What sticks out on the right of its page, or lies in a box that hides what does not fit.
CUT_OFF_JS = """(width) => [...document.querySelectorAll('main *')]
  .filter((e) => e.checkVisibility() && !e.closest('svg, .quiet'))
  .filter((e) => e.getBoundingClientRect().right > width + 1
    || (e.scrollWidth > e.clientWidth + 1 && /auto|scroll|hidden/.test(getComputedStyle(e).overflowX)))
  .map((e) => e.outerHTML.slice(0, 100))"""


def on_paper(page: Page, address: str) -> None:
    """Open a page as its print would be laid out."""
    page.goto(address)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": A4_TEXT_WIDTH_PX, "height": 1000})


def pages_of(page: Page, paper: str = "A4") -> int:
    return len(A_PAGE.findall(page.pdf(format=paper)))


@pytest.mark.parametrize("address", SHEETS)
def test_paper_is_white_and_cuts_nothing_off(demo: Served, tablet: OpenTablet, address: str) -> None:
    page = tablet(demo.url)
    page.context.add_cookies([{"name": "theme", "value": "night", "url": demo.url}])
    on_paper(page, address)
    paint = page.evaluate(
        "(({backgroundColor, color}) => [backgroundColor, color])(getComputedStyle(document.body))"
    )
    assert paint == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    expect(page.locator(".nav")).to_be_hidden()
    expect(page.locator(".button:visible")).to_have_count(0)
    assert page.evaluate(CUT_OFF_JS, A4_TEXT_WIDTH_PX) == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_batch_is_printed_on_the_two_sides_of_one_sheet_and_a_plan_on_no_more_than_four(
    demo: Served, tablet: OpenTablet, paper: str
) -> None:
    page = tablet(demo.url)
    page.context.add_cookies([{"name": "theme", "value": "night", "url": demo.url}])
    page.goto("/batches/15/print")
    expect(page.locator("svg.cw-plot")).to_have_count(3)
    assert pages_of(page, paper) == 2
    page.emulate_media(media="print")
    tables = page.locator(".batch-charts table")
    expect(tables).to_have_count(3)
    for table in tables.all():
        expect(table).to_be_visible()
    page.emulate_media(media="null")
    page.goto("/plans/1")
    expect(page.locator("svg.cw-plot").first).to_be_visible()
    # a thread that stays soft and wants that conflict are on it; what is read once, the numbers of the charts
    # and what a coupon would teach stay off paper
    assert 1 < pages_of(page, paper) <= 4


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("address", RUN_SHEETS)
def test_a_run_sheet_is_one_page_of_either_paper(
    demo: Served, tablet: OpenTablet, address: str, paper: str
) -> None:
    page = tablet(demo.url)
    page.goto(address)
    expect(page.get_by_role("img", name="Section through the box")).to_be_visible()
    expect(page.get_by_role("img", name="QR code")).to_be_visible()
    assert page.locator("i.tick").count() > 20
    assert pages_of(page, paper) == 1
