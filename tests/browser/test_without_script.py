"""With JavaScript off: the main forms still save, and each chart is readable as a table."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import SIZES, Served

pytestmark = pytest.mark.browser
PART = "Gate pin"


def open_plan(page: Page) -> None:
    """Begin, make a part, and come to its plan."""
    page.goto("/welcome")
    if page.get_by_role("button", name="Start my logbook").count():
        page.get_by_role("button", name="Start my logbook").click()
    page.goto("/parts/new")
    page.get_by_label("Name").fill(PART)
    page.locator("label.chip", has_text="Round").click()
    page.get_by_label("Thickness or outside diameter").fill("12")
    page.get_by_role("button", name="Save the part").click()
    page.get_by_role("link", name="Plan this part").click()


def open_folds(page: Page) -> None:
    """Open every fold, the outer ones first."""
    closed = page.locator("main details:not([open]) > summary:visible")
    while closed.count():
        closed.first.click()


def soak(page: Page) -> str:
    return page.locator(".soak-line").inner_text()


def test_a_plan_is_worked_out_by_its_button_and_saved(new_book: Served, tablet: OpenTablet) -> None:
    page = tablet(new_book.url, script=False)
    open_plan(page)
    page.get_by_role("textbox", name="Soak").fill("6")
    page.get_by_role("button", name="Work it out").click()
    assert "Soak 6 h at" in soak(page)
    page.get_by_role("button", name="Save this plan").click()
    expect(page.get_by_role("heading", name=f"Plan: {PART}")).to_be_visible()
    assert "Soak 6 h at" in soak(page)
    assert "/plans/" in page.url
    assert "new" not in page.url


def test_a_batch_is_walked_through_and_measured(new_book: Served, tablet: OpenTablet) -> None:
    page = tablet(new_book.url, script=False)
    open_plan(page)
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_role("button", name="Start this batch").click()
    for button, state in (
        ("Box in the fire", "in the fire"),
        ("At heat: start the soak clock", "in the fire"),
        ("Box out, fire off", "cooling"),
        ("Quenched", "hardened"),
    ):
        if button == "Quenched":
            page.get_by_role("link", name=button).click()
        new_book.move_clock(hours=1)
        page.get_by_role("button", name=button).click()
        expect(page.locator(".title .tag")).to_have_text(state)
    page.get_by_role("link", name="Add a reading to A").click()
    page.get_by_label("Hardness").fill("63,5")
    page.get_by_role("button", name="Save the reading").click()
    expect(page.locator(".readings")).to_contain_text("63.5 HRC")


def test_wrong_input_comes_back_with_its_message_and_the_rest_kept(
    new_book: Served, tablet: OpenTablet
) -> None:
    page = tablet(new_book.url, script=False)
    open_plan(page)
    page.goto("/parts/new")
    page.get_by_label("Name").fill("Kept name")
    page.get_by_label("Thickness or outside diameter").fill("-3")
    page.get_by_role("button", name="Save the part").click()
    expect(page.locator("#size_m-error")).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("Kept name")


@pytest.mark.parametrize("address", ["/plans/new?part=1", "/forge"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_each_chart_gives_way_to_its_table(
    demo: Served, tablet: OpenTablet, address: str, size: tuple[int, int]
) -> None:
    page = tablet(demo.url, size, script=False)
    page.goto(address)
    open_folds(page)
    charts = page.locator("figure.chart")
    assert charts.count() > 0
    for chart in charts.all():
        expect(chart.locator(".draw")).to_be_hidden()
        table = chart.get_by_role("table")
        expect(table).to_be_visible()
        assert table.locator("tbody tr").count() >= 2
        assert table.locator("thead th").count() >= 2
