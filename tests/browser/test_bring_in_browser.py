"""On a phone, and without script: an old table is chosen, looked at, put in, and taken out again."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import (
    LYING,
    PHONE,
    SIZES,
    THEMES,
    UPRIGHT,
    Served,
    barriers,
    faults_of_look,
    set_theme,
)

pytestmark = pytest.mark.browser
TABLE = """Date;Box;Heat (°C);Hours;Quench;Size;HRC;Depth
14.03.2024;biscuit tin;900;4,5;oil;12;61,5;0,7
2.4.2024;biscuit tin;905;6;oil;12;63;0,9
"""


@pytest.mark.parametrize(("size", "script"), [(UPRIGHT, False), (LYING, True), (PHONE, True)])
def test_an_old_table_is_chosen_looked_at_put_in_and_taken_out(
    own_book: Served, tablet: OpenTablet, size: tuple[int, int], script: bool
) -> None:
    page = tablet(own_book.url, size, script)
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    expect(page).not_to_have_url(f"{own_book.url}/welcome")
    page.goto("/logbook")
    page.get_by_role("link", name="brought in").click()
    old = {"name": "old.csv", "mimeType": "text/csv", "buffer": TABLE.encode("cp1252")}
    page.get_by_label("A CSV file").set_input_files(old)
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("'biscuit tin' is not known here").first).to_be_visible()
    if size == PHONE:
        check_look(page, own_book)
    page.get_by_label("Box: “biscuit tin”").select_option(index=1)
    page.get_by_role("button", name="Read it so").click()
    expect(page.get_by_text("61.5 HRC, 0.70 mm deep, after the quench")).to_be_visible()
    page.get_by_role("button", name="Put them in the logbook").click()
    expect(page.get_by_text("2 batches with 2 coupons and 4 readings were put in")).to_be_visible()
    expect(page.get_by_role("link", name="Batch 2")).to_be_visible()
    page.goto("/bring-in")
    page.get_by_role("button", name="Take old.csv out again").click()
    expect(page.get_by_role("button", name="Put old.csv back")).to_be_visible()
    page.goto("/logbook")
    expect(page.get_by_role("heading", name="No batch yet")).to_be_visible()


def check_look(page: Page, served: Served) -> None:
    for theme in THEMES:
        set_theme(page, served.url, theme)
        page.reload()
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert faults_of_look(page) == []
        assert barriers(page) == []
