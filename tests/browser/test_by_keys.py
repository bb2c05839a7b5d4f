"""The whole job by the keyboard alone, each stop to be seen; and without motion."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import Served, cut_words

pytestmark = pytest.mark.browser
MOST_STOPS = 150
# What is wrong with where the keys stand: no outline on it or what stands for it, or it is covered.
STOP_JS = """() => {
  const at = document.activeElement;
  if (at === document.body) return [];  // past the last stop, or between two pages
  const shown = at.closest('label.chip') ?? at;
  const ringed = [at, shown, at.nextElementSibling, at.closest('.stepper')].some((e) => {
    if (!e) return false;
    const style = getComputedStyle(e);
    return (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2);
  });
  const box = shown.getBoundingClientRect();
  const over = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 20));
  const free = over !== null && (shown.contains(over) || over.contains(shown));
  const name = at.outerHTML.slice(0, 120);
  return [...(ringed ? [] : [`no ring: ${name}`]), ...(free ? [] : [`covered: ${name}`])];
}"""
MOVES_JS = """() => {
  const preview = document.querySelector('#plan-preview');
  preview.classList.add('htmx-request');
  const [root, shown] = [document.documentElement, preview].map((e) => getComputedStyle(e));
  return [root.scrollBehavior, shown.transitionDuration];
}"""


@dataclass
class Keys:
    """A user without a mouse: goes from stop to stop, and remembers every stop that cannot be seen."""

    page: Page
    unseen: list[str] = field(default_factory=list)

    def go_to(self, target: Locator) -> None:
        """Press Tab until the keys stand on a target."""
        expect(target.first).to_be_attached()
        for _ in range(MOST_STOPS):
            self.page.keyboard.press("Tab")
            self.unseen += self.page.evaluate(STOP_JS)
            if target.first.evaluate("e => e === document.activeElement"):
                return
        raise AssertionError(f"the keys do not come to {target}")

    def press(self, name: str, role: str = "button") -> None:
        """Go to what bears a name, press Enter, and wait until another page is there."""
        self.go_to(self.page.get_by_role(role, name=name, exact=role == "button"))
        self.page.evaluate("() => document.querySelector('main').setAttribute('data-left', '')")
        self.page.keyboard.press("Enter")
        expect(self.page.locator("main:not([data-left])")).to_be_visible()
        self.page.wait_for_load_state()

    def write(self, label: str, text: str) -> None:
        self.go_to(self.page.get_by_label(label))
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)

    def pick(self, name: str) -> None:
        """Go to a row of answers and along it by the arrows."""
        wanted = self.page.get_by_role("radio", name=name).first
        group = wanted.get_attribute("name")
        for _ in range(MOST_STOPS):
            self.page.keyboard.press("Tab")
            self.unseen += self.page.evaluate(STOP_JS)
            if self.page.evaluate("() => document.activeElement.name") == group:
                break
        self.page.keyboard.press("Space")
        for _ in range(MOST_STOPS):
            if wanted.is_checked():
                return
            self.page.keyboard.press("ArrowRight")
        raise AssertionError(f"the arrows do not come to {name}")

    def see(self, heading: str) -> None:
        expect(self.page.get_by_role("heading", name=heading).first).to_be_visible()


def step(keys: Keys, own_book: Served, button: str, then: str, **later: float) -> None:
    """Press the one big button, and let the shop's clock go on."""
    keys.press(button)
    now = keys.page.get_by_label("Now", exact=True)
    expect(now.get_by_role("button", name=then)).to_be_visible()
    own_book.move_clock(**later)


def test_the_whole_job_is_done_by_keys_alone_and_every_stop_can_be_seen(
    own_book: Served, tablet: OpenTablet
) -> None:
    keys = Keys(tablet(own_book.url))
    keys.page.goto("/")
    keys.press("Start my logbook")
    keys.press("Plan", role="link")
    keys.press("Write down your part", role="link")
    keys.write("Name", "Latch pin")
    keys.pick("Round")
    keys.write("Thickness or outside diameter", "12")
    keys.press("Save the part")
    keys.press("Plan this part", role="link")
    keys.see("Plan: Latch pin")
    keys.press("Save this plan")
    keys.press("Start this batch")
    keys.see("Batch 1")
    step(keys, own_book, "Box in the fire", "At heat: start the soak clock", minutes=50)
    step(keys, own_book, "At heat: start the soak clock", "Box out, fire off", hours=4)
    step(keys, own_book, "Box out, fire off", "Reheated for the quench", hours=12)
    keys.write("Heat", "800")
    keys.write("At heat for", "15")
    step(keys, own_book, "Reheated for the quench", "Quenched", minutes=16)
    step(keys, own_book, "Quenched", "Tempered", minutes=30)
    keys.press("Add a reading to ", role="link")
    keys.write("Hardness", "64")
    keys.write("Case seen on a break", "0.6")
    keys.press("Save the reading")
    expect(keys.page.locator(".readings:not(.foretold)")).to_contain_text("64 HRC")
    keys.press("This forge", role="link")
    keys.see("This forge")
    assert "\n".join(keys.unseen) == ""


def test_a_word_is_opened_and_left_by_keys_and_its_long_page_is_one_more(
    demo: Served, tablet: OpenTablet
) -> None:
    keys = Keys(tablet(demo.url, script=False))
    keys.page.goto("/batches/1")
    word = keys.page.locator(".word > button").first
    keys.go_to(word)
    meaning = keys.page.locator(f"[id='{word.get_attribute('popovertarget')}']")
    expect(meaning).to_be_hidden()
    keys.page.keyboard.press("Enter")
    expect(meaning).to_be_visible()
    keys.page.keyboard.press("Escape")
    expect(meaning).to_be_hidden()
    expect(word).to_be_focused()
    keys.page.keyboard.press("Enter")
    keys.go_to(meaning.get_by_role("link", name="More on this"))
    keys.page.keyboard.press("Enter")
    expect(keys.page.locator(".told:target")).to_be_visible()


def test_words_that_are_cut_are_found(tablet: OpenTablet) -> None:
    page = tablet("http://nowhere.invalid")
    page.set_content(
        "<p style='width:40px;overflow:hidden;white-space:nowrap'>a long line of words</p><p>x</p>"
    )
    assert len(cut_words(page)) == 1


def test_nothing_moves_for_someone_who_asked_for_that(browser: Browser, demo: Served) -> None:
    seen = {}
    for motion in ("no-preference", "reduce"):
        with closing(browser.new_context(base_url=demo.url, reduced_motion=motion)) as context:
            page = context.new_page()
            page.goto("/plans/new?part=1")
            seen[motion] = page.evaluate(MOVES_JS)
    # a page goes where it is sent at once: one that glides takes a button away from under the finger
    assert seen == {"no-preference": ["auto", "0.2s"], "reduce": ["auto", "0s"]}


def test_a_stop_that_cannot_be_seen_is_found(tablet: OpenTablet) -> None:
    keys = Keys(tablet("http://nowhere.invalid"))
    keys.page.set_content(
        "<style>:focus { outline: none } div { position: fixed; inset: 0 0 50% 0; background: red }</style>"
        "<button>under</button><div></div>"
    )
    keys.go_to(keys.page.get_by_role("button", name="under"))
    assert [fault.partition(":")[0] for fault in keys.unseen] == ["no ring", "covered"]


# Each chart: what is said of it, the rows beneath it, and the signs of its key, to be told apart uncoloured.
CHARTS_JS = """() => [...document.querySelectorAll('figure.chart')].map((e) => [
  e.querySelector('.draw svg[role=img]')?.getAttribute('aria-label')?.length ?? 0,
  e.querySelectorAll('tbody tr').length,
  [...e.querySelectorAll('.key svg')].map((sign) => sign.innerHTML),
])"""


@pytest.mark.parametrize("address", ["/forge", "/plans/1", "/logbook/compare?b=1&b=2"])
def test_a_chart_is_told_in_words_and_numbers_and_its_key_without_colour(
    demo: Served, tablet: OpenTablet, address: str
) -> None:
    page = tablet(demo.url)
    page.goto(address)
    expect(page.locator("figure.chart .draw svg[role=img]").first).to_be_visible()
    page.wait_for_function(
        "() => [...document.querySelectorAll('figure.chart .draw')].every((e) => e.querySelector('svg'))"
    )
    charts = page.evaluate(CHARTS_JS)
    assert charts
    for said, rows, signs in charts:
        assert said > 20
        assert rows
        assert len(set(signs)) == len(signs)
