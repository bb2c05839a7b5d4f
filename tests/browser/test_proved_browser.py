"""A proved job on paper: half a sheet, light by night too; and one tap makes it again."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import THEMES, Served, at_each_size, faint_words, faults_of_look, serving
from tests.browser.test_print import pages_of
from tests.web.proved_book import fill_folder

pytestmark = pytest.mark.browser
HALF_A_SHEET_PX = 0.5 * 297 / 25.4 * 96


@pytest.fixture(scope="module")
def proved(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("proved"), fill_folder) as served:
        yield served


@at_each_size
def test_the_card_is_in_order_prints_on_half_a_sheet_and_is_made_again(
    proved: Served, tablet: OpenTablet, size: tuple[int, int]
) -> None:
    width, height = size
    page = tablet(proved.url, size)
    page.goto("/parts/1")
    page.get_by_role("link", name="Its card, to print").click()
    for theme in THEMES:
        page.context.add_cookies([{"name": "theme", "value": theme, "url": proved.url}])
        page.reload()
        assert faults_of_look(page) == []
        assert faint_words(page) == []
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 687, "height": 1000})
    box = page.locator("article.proved").bounding_box()
    assert box is not None
    assert box["height"] <= HALF_A_SHEET_PX
    expect(page.get_by_role("button", name="Make it again")).to_be_hidden()
    assert [pages_of(page, paper) for paper in ("A4", "Letter")] == [1, 1]
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": width, "height": height})
    page.get_by_role("button", name="Make it again").click()
    expect(page.get_by_role("heading", name=re.compile(r"^Batch \d+$"))).to_be_visible()
    expect(page.get_by_text("Made as", exact=True)).to_be_visible()
