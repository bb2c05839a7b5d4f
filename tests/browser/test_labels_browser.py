"""Tags on paper: as many pages as are needed, each label where its sheet has it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import LYING, PHONE, UPRIGHT, Served, faults_of_look
from tests.browser.test_print import A_PAGE

pytestmark = pytest.mark.browser
PX_PER_MM = 96 / 25.4


@pytest.mark.parametrize(
    ("size", "paper", "skip", "pages"),
    [(UPRIGHT, "A4", "0", 1), (LYING, "A4", "20", 2), (PHONE, "Letter", "1", 1)],
)
def test_tags_are_printed_in_true_millimetres_on_no_more_paper_than_they_need(
    demo: Served, tablet: OpenTablet, size: tuple[int, int], paper: str, skip: str, pages: int
) -> None:
    page = tablet(demo.url, size)
    page.goto("/batches/16")
    page.get_by_text("More with this batch").click()
    page.get_by_role("link", name="Tags").click()
    page.locator(f"input[value={paper}]").check(force=True)
    page.locator("#skip").fill(skip)
    page.get_by_role("button", name="Show the tags").click()
    expect(page.locator("svg.label")).to_have_count(3)
    expect(page.get_by_role("img", name="Page 1 of")).to_be_visible()
    assert faults_of_look(page) == []
    printed = page.pdf(prefer_css_page_size=True)
    assert len(A_PAGE.findall(printed)) == pages
    page.emulate_media(media="print")
    places = [label.bounding_box() for label in page.locator("svg.label").all()]
    sheet = page.locator("svg.label-page").first.bounding_box()
    assert sheet is not None
    first = places[0]
    assert first is not None
    across, down = (first["x"] - sheet["x"]) / PX_PER_MM, (first["y"] - sheet["y"]) / PX_PER_MM
    row, column = divmod(int(skip), 3)
    assert across == pytest.approx(7.2 + 66.0 * column, abs=0.3)
    assert down == pytest.approx(15.1 + 38.1 * row, abs=0.3)
    assert (sheet["x"], sheet["y"]) == (0, 0)
