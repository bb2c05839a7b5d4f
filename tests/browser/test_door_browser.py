"""The door in a real browser: signed out in mid-form, in again, and all that was typed is there."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import (
    AN_EVENING,
    SIZES,
    THEMES,
    Served,
    barriers,
    faint_words,
    faults_of_look,
    serving,
    set_theme,
)
from tests.conftest import FixedClock
from webapp.clock import SystemClock
from webapp.gate.door import Door

pytestmark = pytest.mark.browser
PASSCODE = "three odd words"
REFUSED_AT_THE_DOOR = ("status of 401", "status of 410", "Response Status Error Code 401")


def shut_door(folder: Path) -> None:
    """Have this computer asked for a passcode too, as a browser of the network is."""
    door = Door(folder, SystemClock(), 2**4)
    door.set_passcode(PASSCODE)
    door.ask_here(True)


@pytest.fixture(scope="module")
def shop(browser: object, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("door"), shut_door) as served:
        yield served


def sign_everybody_out(served: Served) -> None:
    with closing(sqlite3.connect(served.folder / "door.db")) as connection, connection:
        connection.execute("DELETE FROM session")


def sign_in(page: Page) -> None:
    page.get_by_label("Passcode").fill(PASSCODE)
    page.get_by_role("button", name="Sign in").click()


@pytest.fixture
def signed_in(shop: Served, tablet: OpenTablet) -> Page:
    page = tablet(shop.url, more_refusals=REFUSED_AT_THE_DOOR)
    page.goto("/welcome")
    sign_in(page)
    page.wait_for_url(lambda url: "/sign-in" not in url)
    if page.get_by_role("button", name="Start my logbook").count():
        page.get_by_role("button", name="Start my logbook").click()
        expect(page.locator(".saved")).to_be_visible()
    return page


def test_a_stranger_is_asked_for_the_passcode_and_told_a_wrong_one(shop: Served, tablet: OpenTablet) -> None:
    page = tablet(shop.url, more_refusals=REFUSED_AT_THE_DOOR)
    page.goto("/shop")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.get_by_label("What is this device called?").fill("anvil tablet")
    page.get_by_label("Passcode").fill("a wrong guess")
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator("#passcode-error")).to_contain_text("not the passcode")
    expect(page.get_by_label("What is this device called?")).to_have_value("anvil tablet")
    sign_in(page)
    page.wait_for_url("**/shop")
    page.get_by_role("link", name="Tablets and passcode").click()
    expect(page.locator(".devices")).to_contain_text("anvil tablet")
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    expect(page.get_by_label("What is this device called?")).to_have_value("anvil tablet")


def test_signed_out_in_mid_form_the_same_form_comes_back_with_all_that_was_typed(
    shop: Served, signed_in: Page
) -> None:
    signed_in.goto("/parts/new")
    signed_in.get_by_label("Name").fill("Half typed pin")
    signed_in.get_by_label("Thickness or outside diameter").fill("11,5")
    sign_everybody_out(shop)
    signed_in.get_by_role("button", name="Save the part").click()
    expect(signed_in.get_by_role("heading", name="Sign in")).to_be_visible()
    sign_in(signed_in)
    signed_in.wait_for_url("**/parts/new")
    expect(signed_in.get_by_label("Name")).to_have_value("Half typed pin")
    expect(signed_in.get_by_label("Thickness or outside diameter")).to_have_value("11,5")
    expect(signed_in.locator(".restored")).to_contain_text("Restored what you typed")
    signed_in.get_by_role("button", name="Save the part").click()
    expect(signed_in.get_by_role("heading", name="Half typed pin")).to_be_visible()
    signed_in.goto("/parts")
    assert signed_in.locator("main").get_by_role("heading", name="Half typed pin", exact=True).count() == 1


def test_a_piece_of_a_page_never_turns_into_the_sign_in_page(shop: Served, signed_in: Page) -> None:
    signed_in.goto("/parts/new")
    signed_in.get_by_label("Name").fill("Live pin")
    signed_in.get_by_label("Thickness or outside diameter").fill("10")
    signed_in.get_by_role("button", name="Save the part").click()
    signed_in.get_by_role("link", name="Plan this part").click()
    expect(signed_in.locator("#plan-preview")).to_be_visible()
    signed_in.wait_for_load_state()  # nothing is kept of what is typed before the scripts are there
    plan = signed_in.url
    sign_everybody_out(shop)
    signed_in.locator("#temperature_K").fill("911")
    signed_in.wait_for_url("**/sign-in?next=*")
    sign_in(signed_in)
    signed_in.wait_for_url(plan)
    expect(signed_in.locator("#temperature_K")).to_have_value("911")


def test_a_photo_that_was_picked_stays_picked_while_one_signs_in_beside_it(
    shop: Served, signed_in: Page, tmp_path: Path
) -> None:
    signed_in.goto("/")
    signed_in.get_by_role("button", name="Start a batch now").click()
    signed_in.wait_for_url("**/batches/*")
    sign_everybody_out(shop)
    field = signed_in.locator("input[type=file]").first
    field.set_input_files({"name": "rim.png", "mimeType": "image/png", "buffer": b"not looked at"})
    bar = signed_in.locator(".bar.lost")
    expect(bar).to_contain_text("the photo is still picked")
    assert field.evaluate("field => field.files.length") == 1
    with signed_in.context.expect_page() as opened:
        bar.get_by_role("link", name="Sign in").click()
    sign_in(opened.value)
    expect(opened.value.get_by_role("heading", name="Sign in")).to_have_count(0)
    assert field.evaluate("field => field.files.length") == 1


def test_a_code_lets_a_tablet_in_that_names_itself(shop: Served, tablet: OpenTablet) -> None:
    page = tablet(shop.url, more_refusals=REFUSED_AT_THE_DOOR)
    address = f"/pair/{Door(shop.folder, FixedClock(AN_EVENING), 2**4).new_code()}"
    page.goto(address)
    assert faults_of_look(page) == []
    page.get_by_label("What is this device called?").fill("forge tablet")
    page.get_by_role("button", name="Let it in").click()
    page.goto("/devices")
    expect(page.locator(".devices")).to_contain_text("forge tablet")
    page.goto(address)
    expect(page.get_by_text("This code is used up")).to_be_visible()


def test_the_door_is_in_order_at_every_size_by_day_and_by_night(shop: Served, tablet: OpenTablet) -> None:
    page = tablet(shop.url)
    for theme in THEMES:
        set_theme(page, shop.url, theme)
        page.goto("/sign-in?next=/parts")
        assert barriers(page) == []
        assert faint_words(page) == []
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert faults_of_look(page) == []
