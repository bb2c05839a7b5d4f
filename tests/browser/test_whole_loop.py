"""From an empty logbook to a second plan that the shop's own coupons have changed, by taps alone."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import UPRIGHT, Served, Watch, faults_of_look, serving

pytestmark = pytest.mark.browser
DAY = "2026-04-03"
PART = "Latch pin"
COMPARED_HOURS = 4.0
LONGEST_FIT_S = 120
LOOK_AGAIN_MS = 500
# Rockwell C and the depth seen on a break [mm] of three coupons quenched in water, as a shop would type them.
CONSISTENT = (("64", "0.55"), ("64.5", "0.57"), ("64", "0.56"))
# The same, but one of them is as deep again and far too soft for it: they cannot all be right.
ONE_SURPRISE = (("64", "0.55"), ("64.5", "0.57"), ("48", "1.6"))


@dataclass
class Hand:
    """A user at the tablet: taps and types by what is to be read on the page, and counts."""

    page: Page
    taps: int = 0
    typed: int = 0
    faults: list[str] = field(default_factory=list)

    def tap(self, name: str, role: str = "button") -> None:
        """Tap what bears this name."""
        self.touch(self.page.get_by_role(role, name=name, exact=role == "button").first)

    def touch(self, target: Locator) -> None:
        target.click()
        self.taps += 1

    def arrived(self, sign: Locator, words: str = "") -> None:
        """Wait until the next page shows a sign, and look whether the page is in order."""
        expect(sign.first).to_contain_text(words)
        self.page.wait_for_load_state()
        self.faults += [f"{self.page.url}: {fault}" for fault in faults_of_look(self.page)]

    def fill(self, label: str, text: str) -> None:
        self.page.get_by_label(label).first.fill(text)
        self.typed += 1

    def pick(self, name: str) -> None:
        self.page.locator("label.chip", has_text=name).first.click()
        self.taps += 1


@dataclass(frozen=True)
class Foretold:
    """What a plan says of the case: its hours, its middle and its band [mm]."""

    hours: float
    middle_mm: float
    low_mm: float
    high_mm: float

    @property
    def width(self) -> float:
        """The width of the band over its middle."""
        return (self.high_mm - self.low_mm) / self.middle_mm


@dataclass(frozen=True)
class Outcome:
    """The plans before and after three coupons, as offered and at the same hours."""

    first: Foretold
    first_compared: Foretold
    second: Foretold
    second_compared: Foretold
    learnt: str


def read_plan(page: Page) -> Foretold:
    figure = page.locator(".figure", has_text=re.compile("^Case")).inner_text()
    middle, low, high = (float(number) for number in re.findall(r"\d+\.\d+", figure)[:3])
    return Foretold(float(page.get_by_role("textbox", name="Soak").input_value()), middle, low, high)


def read_plan_at(hand: Hand, hours: float) -> Foretold:
    """Type other hours and read what the live picture says once it has settled."""
    with hand.page.expect_response(lambda answer: settled(answer.request.post_data)):
        hand.page.get_by_role("textbox", name="Soak").fill(f"{hours:g}")
    whole, minutes = divmod(round(hours * 60), 60)
    words = f"Soak {whole} h {minutes} min at" if minutes else f"Soak {whole} h at"
    expect(hand.page.locator(".soak-line")).to_contain_text(words)
    return read_plan(hand.page)


def settled(sent: str | None) -> bool:
    return "settled=yes" in (sent or "")


def begin(hand: Hand) -> None:
    hand.page.goto("/")
    hand.page.wait_for_url("**/welcome")
    hand.tap("Start my logbook")
    hand.arrived(hand.page.locator(".saved"))


def make_part(hand: Hand) -> None:
    hand.tap("Plan", role="link")
    hand.tap("Write down your part", role="link")
    hand.fill("Name", PART)
    hand.pick("Round")
    hand.fill("Thickness or outside diameter", "12")
    hand.tap("Save the part")
    hand.arrived(hand.page.get_by_role("heading", name=PART))


def plan_part(hand: Hand) -> Foretold:
    hand.tap("Plan this part", role="link")
    hand.arrived(hand.page.get_by_role("heading", name=f"Plan: {PART}"))
    return read_plan(hand.page)


def start_from_plan(hand: Hand) -> None:
    hand.tap("Save this plan")
    hand.page.wait_for_url("**/plans/1")
    hand.tap("Start this batch")
    hand.arrived(hand.page.get_by_role("heading", name="Batch 1"))


def pack_coupon(hand: Hand) -> None:
    hand.tap("Add a coupon", role="link")
    hand.tap("Pack it")
    hand.arrived(hand.page.get_by_role("heading", name="Batch 1"))


def do_step(hand: Hand, button: str, at: str, next_one: str) -> None:
    """Open the fold, type when it was, press the one big button, and see the next one."""
    now = hand.page.get_by_label("Now", exact=True)
    hand.touch(now.locator("summary").first)
    label = "When it began" if now.get_by_label("When it began").count() else "When"
    now.get_by_label(label).first.fill(f"{DAY}T{at}")
    hand.touch(now.get_by_role("button", name=button))
    hand.arrived(now.get_by_role("button", name=next_one))


def run_batch(hand: Hand, hours: float) -> None:
    minutes = 6 * 60 + 50 + round(hours * 60)
    out = f"{minutes // 60:02}:{minutes % 60:02}"
    do_step(hand, "Box in the fire", "06:00", "At heat: start the soak clock")
    do_step(hand, "At heat: start the soak clock", "06:50", "Box out, fire off")
    do_step(hand, "Box out, fire off", out, "Reheated for the quench")
    hand.page.get_by_label("At heat for").first.fill("15")
    hand.page.get_by_role("textbox", name="Heat, °C").fill("800")
    do_step(hand, "Reheated for the quench", "19:00", "Quenched")
    do_step(hand, "Quenched", "19:15", "Tempered")
    expect(hand.page.locator(".title .tag")).to_have_text("hardened")


def measure(hand: Hand, readings: tuple[tuple[str, str], ...]) -> None:
    for mark, (hardness, depth) in zip("BCD", readings, strict=True):
        hand.touch(hand.page.get_by_role("link", name=f"Add a reading to {mark} "))
        hand.fill("Hardness", hardness)
        hand.fill("Case seen on a break", depth)
        hand.tap("Save the reading")
        hand.arrived(hand.page.locator(".readings"), f"{hardness} HRC")
        hand.tap("Batch 1, hardened", role="link")
    hand.tap("All measured", role="link")
    hand.tap("All measured")
    hand.arrived(hand.page.locator(".title .tag"), "measured")


def wait_for_fit(page: Page, coupons: int) -> str:
    """Look at the forge's page again and again until it has learnt from all coupons."""
    learnt = page.get_by_text(re.compile(r"Learnt from \d+ coupons?"))
    for _ in range(LONGEST_FIT_S * 1000 // LOOK_AGAIN_MS):
        page.goto("/forge")
        if learnt.count() and f"{coupons} coupons" in learnt.first.inner_text():
            return page.locator(".headline").inner_text()
        page.wait_for_timeout(LOOK_AGAIN_MS)
    raise AssertionError(f"no fit of {coupons} coupons within {LONGEST_FIT_S} s: {page.inner_text('main')}")


def run_the_loop(hand: Hand, readings: tuple[tuple[str, str], ...]) -> Outcome:
    """Go once round: plan, fire, coupons, fit, and the plan of the same part again."""
    begin(hand)
    make_part(hand)
    first = plan_part(hand)
    first_compared = read_plan_at(hand, COMPARED_HOURS)
    read_plan_at(hand, first.hours)
    start_from_plan(hand)
    for _ in range(2):
        pack_coupon(hand)
    run_batch(hand, first.hours)
    measure(hand, readings)
    learnt = wait_for_fit(hand.page, 3)
    hand.tap("Parts", role="link")
    hand.tap("Open", role="link")
    second = plan_part(hand)
    expect(hand.page.locator(".plan-grid")).to_contain_text("3 coupons")
    return Outcome(first, first_compared, second, read_plan_at(hand, COMPARED_HOURS), learnt)


def looped(browser: Browser, place: Path, readings: tuple[tuple[str, str], ...]) -> Outcome:
    watch = Watch()
    with serving(place) as served:
        context = browser.new_context(
            base_url=served.url, viewport={"width": UPRIGHT[0], "height": UPRIGHT[1]}, timezone_id="UTC"
        )
        page = context.new_page()
        watch.over(page)
        hand = Hand(page)
        try:
            outcome = run_the_loop(hand, readings)
        finally:
            context.close()
    assert (watch.complaints, hand.faults) == ([], [])
    return outcome


@pytest.fixture(scope="module")
def consistent(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """What came of three coupons that agree."""
    return looped(browser, tmp_path_factory.mktemp("agreeing"), CONSISTENT)


def test_three_coupons_that_agree_change_the_next_plan_and_narrow_its_band(consistent: Outcome) -> None:
    assert "Your forge carburizes" in consistent.learnt
    assert consistent.second != consistent.first
    assert consistent.second.width < consistent.first.width
    assert consistent.second_compared.width < consistent.first_compared.width


def test_a_surprising_coupon_leaves_a_wider_band_than_one_that_agrees(
    browser: Browser, tmp_path: Path, consistent: Outcome
) -> None:
    surprised = looped(browser, tmp_path / "surprised", ONE_SURPRISE)
    assert surprised.first == consistent.first
    assert surprised.second_compared.width > consistent.second_compared.width
    assert surprised.second.width > consistent.second.width


def test_a_new_user_reaches_a_plan_of_their_own_part_with_a_few_taps(
    own_book: Served, tablet: OpenTablet
) -> None:
    hand = Hand(tablet(own_book.url))
    begin(hand)
    make_part(hand)
    plan_part(hand)
    assert hand.faults == []
    assert hand.taps <= 6
    assert hand.typed <= 2


def test_a_suggested_part_is_planned_with_three_taps_and_nothing_typed(
    own_book: Served, tablet: OpenTablet
) -> None:
    hand = Hand(tablet(own_book.url))
    begin(hand)
    hand.tap("Plan", role="link")
    hand.touch(hand.page.get_by_role("button", name="Pivot pin"))
    hand.arrived(hand.page.get_by_role("heading", name="Plan: Pivot pin"))
    assert read_plan(hand.page).hours > 0
    assert hand.faults == []
    assert hand.taps <= 3
    assert hand.typed == 0
