"""Photos on a tablet and a phone: taken, measured by finger on a drawn section, put right, without script."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import OpenTablet
from tests.browser.kit import (
    SIZES,
    THEMES,
    Served,
    barriers,
    faint_words,
    faults_of_look,
    quench_first_batch,
)
from tests.web.drawn_photos import as_camera, disc

pytestmark = pytest.mark.browser
PIN = "/items/1"
# a pin of 10 mm photographed by a camera that lay on its side: 4000 x 3000 is kept as 1500 x 2000
DRAWN, RADIUS, RIM = (4000, 3000), 1100.0, 120.0
KEPT_MIDDLE, KEPT_SHARE = (750.0, 1000.0), 0.5
PIN_MM = 10.0
TRUE_MM = PIN_MM * RIM / (2.0 * RADIUS)
SLIPS = ((3.0, -2.0), (-2.0, 3.0), (-3.0, -3.0), (2.0, 2.0))
NEAR_PX = 1.0


@pytest.fixture(scope="module")
def quenched(new_book: Served, browser: Browser) -> Served:
    """A logbook with a quenched pin."""
    page = browser.new_page(base_url=new_book.url)
    page.goto("/welcome")
    page.get_by_role("button", name="Start my logbook").click()
    page.get_by_role("button", name="Start a batch now").click()
    quench_first_batch(new_book, page)
    page.close()
    return new_book


@pytest.fixture(scope="module")
def camera(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("camera") / "IMG_0001.jpg"
    file.write_bytes(as_camera(disc(DRAWN, RADIUS, RIM)))
    return file


@pytest.fixture
def by_touch(tablet: OpenTablet, quenched: Served) -> Page:
    """A phone whose screen is touched."""
    return tablet(quenched.url, SIZES[-1], touched=True, dots_per_px=2.0)


class Finger:
    """Sets points on the photo as a person would: near, closer, and then by the arrows."""

    def __init__(self, page: Page, touches: bool) -> None:
        self.page, self.touches, self.slips = page, touches, 0
        self.room, self.canvas = page.locator("[data-measure]"), page.locator(".sight canvas")

    def cross(self) -> tuple[float, float, float]:
        x, y, zoom = (
            float(self.room.get_attribute(f"data-{n}") or "") for n in ("cross-x", "cross-y", "zoom")
        )
        return x, y, zoom

    def tap_near(self, x: float, y: float) -> None:
        """Tap a point of the picture, a little beside it."""
        at_x, at_y, zoom = self.cross()
        self.slips += 1
        slip_x, slip_y = SLIPS[self.slips % len(SLIPS)]
        box = self.canvas.bounding_box()
        assert box is not None
        left = box["x"] + box["width"] / 2 + (x - at_x) * zoom + slip_x
        top = box["y"] + box["height"] / 2 + (y - at_y) * zoom + slip_y
        tap = self.page.touchscreen.tap if self.touches else self.page.mouse.click
        tap(left, top)

    def bring(self, x: float, y: float) -> None:
        """Bring a point of the picture under the cross."""
        self.page.get_by_role("button", name="Whole photo").click()
        self.canvas.scroll_into_view_if_needed()
        self.tap_near(x, y)
        self.tap_near(x, y)
        for axis, target in enumerate((x, y)):
            for _ in range(8):
                at, zoom = self.cross()[axis], self.cross()[2]
                off = (target - at) * zoom
                if abs(off) < NEAR_PX:
                    break
                words = ("right" if off > 0 else "left") if axis == 0 else ("down" if off > 0 else "up")
                self.page.get_by_role("button", name=re.compile(f"^Cross .*{words}$")).click()

    def set(self, x: float, y: float) -> None:
        self.bring(x, y)
        self.page.get_by_role("button", name="Set the point").click()


def on_rim(angle: float, depth: float) -> tuple[float, float]:
    """A point of the kept picture: `depth` 0 is the surface, 1 the end of the case."""
    radius = KEPT_SHARE * (RADIUS - depth * RIM)
    return KEPT_MIDDLE[0] + radius * math.cos(angle), KEPT_MIDDLE[1] + radius * math.sin(angle)


def set_all(finger: Finger, places: int = 3) -> None:
    finger.set(*on_rim(math.pi, 0.0))
    finger.set(*on_rim(0.0, 0.0))
    for place in range(places):
        angle = 0.5 + 2.0 * math.pi * place / places
        finger.set(*on_rim(angle, 0.0))
        finger.set(*on_rim(angle, 1.0))


def found_mm(page: Page, places: int = 3) -> float:
    expect(page.locator(".places li")).to_have_count(places)
    words = page.locator(".found .figure").first.inner_text()
    return float(re.findall(r"([0-9.]+) mm", words)[0])


def open_photo(page: Page, camera: Path) -> None:
    """Take a photo of the pin and open the newest one to measure on it."""
    page.goto(PIN)
    page.locator("input[name=camera]").set_input_files(camera)
    expect(page.locator(".saved")).to_be_visible()
    page.locator(".album a").last.click()
    page.get_by_role("link", name="Measure the case on it").click()
    page.wait_for_url("**/measure")
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("size", SIZES[:2], ids=lambda size: f"{size[0]}")
def test_a_case_of_known_depth_is_measured_within_two_in_a_hundred(
    quenched: Served, tablet: OpenTablet, camera: Path, size: tuple[int, int]
) -> None:
    page = tablet(quenched.url, size)
    open_photo(page, camera)
    set_all(Finger(page, touches=False))
    assert found_mm(page) == pytest.approx(TRUE_MM, rel=0.02)


def test_a_finger_on_a_phone_measures_saves_and_puts_right(by_touch: Page, camera: Path) -> None:
    page = by_touch
    open_photo(page, camera)
    finger = Finger(page, touches=True)
    set_all(finger)
    assert found_mm(page) == pytest.approx(TRUE_MM, rel=0.02)
    page.get_by_role("button", name="Save the reading").click()
    page.wait_for_url(f"**{PIN}")
    line = page.locator(".readings li", has_text="3 places on a photo").last
    expect(line).to_contain_text("0.5")
    # the same reading is put right: the first place was deeper than it was set
    line.get_by_role("link", name="On the photo").click()
    page.wait_for_load_state("networkidle")
    page.get_by_role("button", name="Set place 1 again").click()
    page.get_by_role("button", name="Set the point").click()  # its surface stays
    finger = Finger(page, touches=True)
    finger.set(*on_rim(0.5, 1.5))
    expect(page.locator(".places li").first).to_contain_text("0.8")
    before = page.locator(".places li").count()
    page.get_by_role("button", name="Save the reading").click()
    page.wait_for_url(f"**{PIN}")
    expect(page.locator(".readings li", has_text="3 places on a photo").last).to_contain_text("0.6")
    assert before == 3


def test_points_are_taken_back_taken_out_and_survive_a_reload(
    quenched: Served, tablet: OpenTablet, camera: Path
) -> None:
    page = tablet(quenched.url)
    open_photo(page, camera)
    finger = Finger(page, touches=False)
    set_all(finger, places=4)
    assert found_mm(page, places=4) == pytest.approx(TRUE_MM, rel=0.02)
    page.get_by_role("button", name="Take place 2 out").click()
    expect(page.locator(".places li")).to_have_count(3)
    page.reload()
    expect(page.get_by_text("Restored what you typed here")).to_be_visible()
    expect(page.locator(".places li")).to_have_count(3)
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("2 of at least 3 places on the rim are set.")).to_be_visible()
    expect(page.get_by_role("status").get_by_text("Place 3: now where the case ends")).to_be_visible()


def test_a_rim_point_is_not_set_from_afar_and_keys_do_it_all(
    quenched: Served, tablet: OpenTablet, camera: Path
) -> None:
    page = tablet(quenched.url)
    open_photo(page, camera)
    canvas = page.locator(".sight canvas")
    canvas.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    for _ in range(6):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator(".next-point")).to_contain_text("Place 1: put the cross on the surface")
    page.get_by_role("button", name="Whole photo").click()
    page.get_by_role("button", name="Set the point").click()
    expect(page.locator(".next-point")).to_contain_text("Closer first")
    assert page.locator("[name=taps]").input_value().count("[") == 3
    page.get_by_role("button", name="Set the point").click()
    expect(page.locator(".next-point")).to_contain_text("where the case ends")


def test_photos_are_kept_captioned_and_removed_without_script(
    quenched: Served, tablet: OpenTablet, camera: Path
) -> None:
    page = tablet(quenched.url, script=False)
    page.goto("/batches/1")
    before = page.locator(".album li").count()
    page.locator("input[name=chosen]").set_input_files(camera)
    page.get_by_role("button", name="Keep them").click()
    expect(page.locator(".album li")).to_have_count(before + 1)
    page.locator(".album a").last.click()
    page.get_by_label("What it shows").fill("the packed box")
    page.get_by_role("button", name="Keep the words").click()
    expect(page.get_by_role("heading", name="the packed box")).to_be_visible()
    page.get_by_role("button", name="Remove the photo").click()
    expect(page.locator(".album li")).to_have_count(before)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".album li")).to_have_count(before + 1)


def test_what_is_no_photo_is_named_on_the_page(quenched: Served, tablet: OpenTablet, tmp_path: Path) -> None:
    page = tablet(quenched.url)
    page.goto(PIN)
    (tmp_path / "notes.txt").write_text("0.6 mm")
    page.locator("input[name=chosen]").set_input_files(tmp_path / "notes.txt")
    expect(page.get_by_text("notes.txt: It is not a picture that can be read here.")).to_be_visible()
    assert faults_of_look(page) == []


def test_the_pages_of_a_photo_are_in_order_at_every_size_by_day_and_by_night(
    quenched: Served, tablet: OpenTablet, camera: Path
) -> None:
    page, faults = tablet(quenched.url), []
    open_photo(page, camera)
    set_all(Finger(page, touches=False))
    found_mm(page)
    measure = page.url
    for address in (measure, measure.removesuffix("/measure"), f"{quenched.url}{PIN}"):
        for theme in THEMES:
            page.context.add_cookies([{"name": "theme", "value": theme, "url": quenched.url}])
            page.goto(address)
            page.wait_for_load_state("networkidle")
            faults += [f"{address} {theme}: faint: {words}" for words in faint_words(page)]
            faults += [f"{address} {theme}: {barrier}" for barrier in barriers(page)]
            for width, height in SIZES:
                page.set_viewport_size({"width": width, "height": height})
                faults += [f"{address} {theme} at {width}: {fault}" for fault in faults_of_look(page)]
    assert faults == []


def test_two_fingers_bring_the_photo_closer_and_one_moves_it_while_the_page_stays(
    by_touch: Page, camera: Path
) -> None:
    page = by_touch
    open_photo(page, camera)
    finger = Finger(page, touches=True)
    finger.canvas.scroll_into_view_if_needed()
    box = finger.canvas.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    hand = page.context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        told = [{"x": left, "y": top, "id": number} for number, (left, top) in enumerate(points)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})

    scrolled, whole = page.evaluate("scrollY"), finger.cross()[2]
    touch("touchStart", (x - 30, y))
    touch("touchStart", (x - 30, y), (x + 30, y))
    for step in range(1, 10):
        touch("touchMove", (x - 30 - 8 * step, y), (x + 30 + 8 * step, y))
    touch("touchEnd")
    expect(finger.room).not_to_have_attribute("data-zoom", f"{whole:.4f}")
    assert finger.cross()[2] / whole == pytest.approx(102 / 30, rel=0.05)
    before_x, _, zoom = finger.cross()
    touch("touchStart", (x, y))
    for step in range(1, 6):
        touch("touchMove", (x + 10 * step, y))
    touch("touchEnd")
    expect(finger.room).not_to_have_attribute("data-cross-x", f"{before_x:.2f}")
    assert before_x - finger.cross()[0] == pytest.approx(50 / zoom, rel=0.1)
    assert page.evaluate("scrollY") == scrolled
    assert page.locator("[name=taps]").input_value() == "[]"
