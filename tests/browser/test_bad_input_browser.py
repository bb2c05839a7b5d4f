"""Slips of the finger, two tablets at once, a server that dies: nothing typed is lost, nothing doubled."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served, faults_of_look

pytestmark = pytest.mark.browser


@pytest.fixture
def begun(new_book: Served, tablet: OpenTablet) -> Page:
    """A tablet on a logbook that has begun."""
    page = tablet(new_book.url)
    begin(page)
    return page


def begin(page: Page) -> None:
    page.goto("/welcome")
    if page.get_by_role("button", name="Start my logbook").count():
        page.get_by_role("button", name="Start my logbook").click()
        expect(page.locator(".saved")).to_be_visible()


def start_batch(page: Page) -> str:
    """Start a batch with one tap and return its address."""
    page.goto("/")
    page.get_by_role("button", name="Start a batch now").click()
    page.wait_for_url("**/batches/*")
    return page.url


def fill_part(page: Page, name: str) -> None:
    """Fill in the form of a new part, and leave it there."""
    page.goto("/parts/new")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Thickness or outside diameter").fill("10")


def cards(page: Page, name: str) -> int:
    """Return how many parts bear this name."""
    page.goto("/parts")
    return page.locator("main").get_by_role("heading", name=name, exact=True).count()


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("-12", "Allowed"),
        ("nan", "number"),
        ("twelve", "number"),
        ("", "is needed"),
        ("99999", "Allowed"),
    ],
)
def test_a_wrong_size_is_told_beside_its_field_and_the_rest_is_kept(
    begun: Page, typed: str, message: str
) -> None:
    begun.goto("/parts/new")
    begun.get_by_label("Name").fill("Half typed")
    begun.locator("label.chip", has_text="Tube").click()
    begun.get_by_label("Bore").first.fill("6,5")
    begun.get_by_label("Thickness or outside diameter").fill(typed)
    begun.get_by_role("button", name="Save the part").click()
    expect(begun.locator("#size_m-error")).to_contain_text(message)
    expect(begun.locator("[data-error-summary]")).to_be_focused()
    expect(begun.locator("#size_m")).to_have_value(typed)
    expect(begun.get_by_label("Name")).to_have_value("Half typed")
    expect(begun.locator("#bore_m")).to_have_value("6,5")
    expect(begun.get_by_role("radio", name="Tube")).to_be_checked()
    assert faults_of_look(begun) == []


def test_fahrenheit_typed_for_celsius_is_asked_about_in_the_live_picture(begun: Page) -> None:
    fill_part(begun, "Hot pin")
    begun.get_by_role("button", name="Save the part").click()
    begun.get_by_role("link", name="Plan this part").click()
    begun.locator("#temperature_K").fill("1700")
    expect(begun.locator("#plan-preview")).to_contain_text("Did you mean 1700 °F")
    begun.locator("#temperature_K").fill("1700 F")
    expect(begun.locator(".soak-line")).to_contain_text("927 °C")


def test_what_was_typed_before_the_scripts_came_is_answered_too(begun: Page) -> None:
    fill_part(begun, "Early pin")
    begun.get_by_role("button", name="Save the part").click()
    page = begun.get_by_role("link", name="Plan this part").get_attribute("href")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    begun.route("**/htmx.min.js*", hold)
    begun.goto(str(page), wait_until="commit")
    begun.locator("#temperature_K").fill("1700")
    expect(begun.locator("#plan-preview")).not_to_contain_text("Did you mean")
    for route in held:
        route.continue_()
    expect(begun.locator("#plan-preview")).to_contain_text("Did you mean 1700 °F")
    begun.unroute("**/htmx.min.js*", hold)


def test_a_double_tap_makes_one_part(begun: Page) -> None:
    fill_part(begun, "Tapped twice")
    begun.get_by_role("button", name="Save the part").dblclick()
    expect(begun.get_by_role("heading", name="Tapped twice")).to_be_visible()
    assert cards(begun, "Tapped twice") == 1


def test_a_double_tap_starts_one_batch_and_takes_one_step(begun: Page) -> None:
    begun.goto("/")
    begun.get_by_role("button", name="Start a batch now").dblclick()
    begun.wait_for_url("**/batches/*")
    batch = begun.url
    begun.get_by_role("button", name="Box in the fire").dblclick()
    expect(begun.get_by_role("button", name="At heat: start the soak clock")).to_be_visible()
    assert begun.locator(".timeline li").count() == 1
    begun.goto("/")
    number = int(batch.rpartition("/")[2])
    assert begun.get_by_role("link", name=f"Batch {number + 1}", exact=True).count() == 0


def test_two_tablets_on_one_batch_are_shown_both_versions(
    new_book: Served, begun: Page, tablet: OpenTablet
) -> None:
    batch = start_batch(begun)
    other = tablet(new_book.url)
    for page in (begun, other):
        page.goto(f"{batch}/edit")
        page.locator("summary").first.click()
    begun.get_by_label("Note").fill("lid cracked")
    begun.get_by_role("button", name="Save").click()
    expect(begun.locator(".saved")).to_be_visible()
    other.get_by_label("Note").fill("lid is sound")
    other.get_by_role("button", name="Save").click()
    versus = other.locator(".versus")
    expect(other.get_by_text("Changed meanwhile")).to_be_visible()
    expect(versus).to_contain_text("lid is sound")
    expect(versus).to_contain_text("lid cracked")
    expect(versus).to_contain_text("Square tube box")
    expect(other.get_by_label("Note")).to_have_value("lid is sound")
    assert faults_of_look(other) == []
    expect(other.locator(".restored")).to_have_count(0)
    other.get_by_role("button", name="Save").click()
    expect(other.locator(".saved")).to_be_visible()
    begun.goto(batch)
    expect(begun.locator("main")).to_contain_text("lid is sound")


def test_what_was_typed_outlives_a_killed_server_and_is_saved_once(
    own_book: Served, tablet: OpenTablet
) -> None:
    page = tablet(own_book.url, loses_server=True)
    begin(page)
    fill_part(page, "Power cut")
    own_book.kill()
    page.get_by_role("button", name="Save the part").click()
    expect(page.locator(".bar.lost")).to_contain_text("Server not reached: not saved yet")
    expect(page.get_by_label("Name")).to_have_value("Power cut")
    own_book.start_again()
    expect(page.get_by_role("heading", name="Power cut")).to_be_visible()
    assert cards(page, "Power cut") == 1


def test_a_reloaded_tablet_restores_what_was_typed_before_the_kill(
    own_book: Served, tablet: OpenTablet
) -> None:
    page = tablet(own_book.url)
    begin(page)
    fill_part(page, "Power cut")
    own_book.kill()
    own_book.start_again()
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("Power cut")
    expect(page.locator(".restored")).to_contain_text("Restored what you typed")


def test_a_save_whose_answer_is_lost_is_sent_again_by_itself_and_stands_once(
    own_book: Served, tablet: OpenTablet
) -> None:
    page = tablet(own_book.url, loses_server=True)
    begin(page)
    fill_part(page, "Lost answer")
    reached = []

    def lose_the_answer(route: Route) -> None:
        reached.append(route.fetch(max_redirects=0).status)
        route.abort("connectionrefused")

    page.route("**/parts", lose_the_answer, times=1)
    page.get_by_role("button", name="Save the part").click()
    expect(page.locator(".bar.lost")).to_contain_text("not saved yet")
    expect(page.get_by_label("Name")).to_have_value("Lost answer")
    expect(page.get_by_role("heading", name="Lost answer")).to_be_visible()
    assert reached == [204]
    assert cards(page, "Lost answer") == 1
    page.goto("/parts/new")
    expect(page.locator(".restored")).to_have_count(0)
