"""A page that is older than its figures: fetched anew by itself, but never out of a hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import OpenTablet
from tests.browser.test_press import middle
from webapp.resources import static_folder

pytestmark = pytest.mark.browser
BENCH = """<!doctype html><script type="module">{script}</script>
<main><p class="bar undo" data-anew>New figures are in. <a href="">Show them</a></p>
<details open><summary>As it came</summary>Words.</details>
<details><summary>Shut</summary>More words.</details>
<label>Name <input></label><button type="button">Press</button></main>"""
NEVER_MS = 60_000


class Fetched:
    """A page with new figures to show, by a clock of its own, and how often it was fetched."""

    def __init__(self, page: Page) -> None:
        self.page, self.times, self.held = page, 0, list[Route]()
        self.holds = False
        self._content = BENCH.format(script=(static_folder() / "js" / "anew.js").read_text(encoding="utf-8"))
        page.clock.install()
        page.route("**/*", self._answer)
        page.goto("http://forge.invalid/")
        page.evaluate(
            "pressed = 0; document.querySelector('button').addEventListener('click', () => (pressed += 1))"
        )

    def _answer(self, route: Route) -> None:
        self.times += 1
        if self.holds:
            self.held.append(route)
        else:
            route.fulfill(body=self._content, content_type="text/html")

    def after(self, milliseconds: int) -> int:
        """Let time pass; return how often the page was fetched until then."""
        self.page.clock.run_for(milliseconds)
        self.page.wait_for_load_state()
        return self.times


@pytest.fixture
def fetched(tablet: OpenTablet) -> Fetched:
    return Fetched(tablet("http://forge.invalid", more_refusals=("ERR_ABORTED",)))


def test_a_page_is_fetched_anew_once_no_finger_is_on_it(fetched: Fetched) -> None:
    page = fetched.page
    page.get_by_role("button").hover()
    page.mouse.down()
    assert fetched.after(NEVER_MS) == 1
    page.mouse.up()
    assert page.evaluate("pressed") == 1
    assert fetched.after(2000) == 1
    with page.expect_navigation():
        page.clock.run_for(2000)
    assert fetched.times == 2


def test_what_is_opened_or_filled_in_keeps_its_page_until_it_is_asked_for(fetched: Fetched) -> None:
    page = fetched.page

    def typed() -> None:
        page.get_by_label("Name").fill("Lever")
        page.get_by_label("Name").blur()

    uses: tuple[Callable[[], None], ...] = (
        page.get_by_text("Shut").click,
        page.get_by_label("Name").focus,
        typed,
    )
    for times, use in enumerate(uses, 1):
        use()
        assert fetched.after(NEVER_MS) == times
        with page.expect_navigation():
            page.get_by_role("link", name="Show them").click()


def test_a_press_while_the_new_page_is_on_its_way_counts(fetched: Fetched) -> None:
    page, fetched.holds = fetched.page, True
    x, y = middle(page.get_by_role("button"))
    with page.expect_request("**/*"):
        page.clock.run_for(4000)
    page.mouse.click(x, y)
    assert page.evaluate("pressed") == 1
    expect(page.get_by_text("Show them")).to_be_visible()
    fetched.holds = False
    with page.expect_navigation():
        page.clock.run_for(4000)
    assert fetched.times == 3
