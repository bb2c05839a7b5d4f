"""What the browser tests share: a server in a process of its own, and what every page must hold to."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Page

from tests.faults import servers
from tests.web.empty_logbook import empty_logbook
from webapp.store.engine import LOGBOOK_FILE

AN_EVENING = datetime(2026, 4, 3, 20, 2, tzinfo=UTC)
UPRIGHT, LYING, PHONE = (820, 1180), (1180, 820), (390, 844)
SIZES = (UPRIGHT, LYING, PHONE)
at_each_size = pytest.mark.parametrize(
    "size",
    [UPRIGHT, *(pytest.param(size, marks=pytest.mark.long) for size in SIZES[1:])],
    ids=lambda size: f"{size[0]}x{size[1]}",
)  # upright every day, the others by command: `pytest -m long tests/browser`
THEMES = ("day", "night")
SMALLEST_TARGET_PX = 44
# What the browser says of an answer that is meant to refuse.
EXPECTED_REFUSALS = ("status of 404", "status of 409", "status of 422")
# What the browser and htmx say of a server that is not there.
NOT_REACHED = ("ERR_CONNECTION_REFUSED", "htmx:afterRequest", "htmx:sendError")

# Everything that is wrong with how a page lies on the screen, found in one go in the browser.
LOOK_JS = """(smallest) => {
  const seen = (e) => e.checkVisibility() && e.getBoundingClientRect().width > 0;
  const name = (e) => e.outerHTML.slice(0, 120);
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  const targets = [...document.querySelectorAll(
    'button, a.button, select, summary, .chip, nav a, ' +
    'input:not([type=hidden], [type=radio], [type=checkbox])'
  )];
  const small = targets.filter((e) => seen(e) && !e.closest('.quiet')).filter((e) => {
    const box = e.getBoundingClientRect();
    return Math.min(box.width, box.height) < smallest;
  });
  const fields = [...document.querySelectorAll('input:not([type=hidden]), select, textarea')];
  const bare = fields.filter((e) => !e.labels?.length && !e.ariaLabel && !e.getAttribute('aria-labelledby'));
  const heads = document.querySelectorAll('h1').length;
  return { wide, small: small.map(name), bare: bare.map(name), heads };
}"""

# Contrast of words with what lies behind them as W3C WCAG 2.2 defines it (relative luminance; success
# criterion 1.4.3: 4.5 to 1, and 3 to 1 for large text, 24 px or 18.66 px bold). Values from memory.
FAINT_JS = """() => {
  const brush = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
  const channels = (colour) => {
    brush.clearRect(0, 0, 1, 1);
    brush.fillStyle = colour;
    brush.fillRect(0, 0, 1, 1);
    return [...brush.getImageData(0, 0, 1, 1).data];
  };
  const linear = (value) => value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) =>
    0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
  const behind = (e) => {
    for (let at = e; at; at = at.parentElement) {
      const colour = channels(getComputedStyle(at).backgroundColor);
      if (colour[3] === 255) return colour;
    }
    return [255, 255, 255, 255];
  };
  const faint = (e) => {
    const style = getComputedStyle(e);
    const ink = channels(e.closest('svg') ? style.fill : style.color);
    const [dark, bright] = [light(ink), light(behind(e))].sort((a, b) => a - b);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    return (bright + 0.05) / (dark + 0.05) < (large ? 3 : 4.5);
  };
  const worded = (e) => [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());
  return [...document.querySelectorAll('body *')]
    .filter((e) => e.checkVisibility() && !e.closest('.quiet, .skip, script') && worded(e) && faint(e))
    .map((e) => e.outerHTML.slice(0, 120));
}"""


# Words that are cut off: wider or higher than what shows of them, or past the edge of the screen.
CUT_JS = """() => {
  const worded = (e) => [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());
  const hides = (e) => ['hidden', 'clip'].includes(getComputedStyle(e).overflowX);
  const cut = (e) => {
    const box = e.getBoundingClientRect();
    const past = box.right > innerWidth + 1 && !e.closest('.scroll');
    return past || (hides(e) && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1));
  };
  return [...document.querySelectorAll('body *')]
    .filter((e) => e.checkVisibility() && worded(e) && !e.closest('.quiet, .skip, svg, script, style'))
    .filter(cut).map((e) => e.outerHTML.slice(0, 120));
}"""
# the shop's own name is cut after two lines in a narrow masthead; the settings have it whole
MAY_BE_CUT = "Heathergill"
# a tablet held upright, its pages at twice their size
TWICE_AS_LARGE = (410, 590)

# axe-core, the open rule set for W3C WCAG, as the package brings it: an outside judge of every page
AXE_JS = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
BARRIERS_JS = """async () => (await axe.run(document, { resultTypes: ['violations'] })).violations
  .flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.html.slice(0, 120)}`))"""


@dataclass
class Served:
    """A running server, its data folder, and the clock it goes by."""

    folder: Path
    clock_file: Path
    process: servers.Served = field(init=False)

    def __post_init__(self) -> None:
        self.start()

    def start(self, **how: object) -> None:
        """Start it, and wait until it answers."""
        self.process = servers.forked_servers().start(
            self.folder, clock=self.clock_file, quick_fits=True, **how
        )

    @property
    def url(self) -> str:
        return self.process.url

    def set_clock(self, moment: datetime) -> None:
        fresh = self.clock_file.with_suffix(".new")
        fresh.write_text(moment.isoformat())
        fresh.replace(self.clock_file)  # whole, whenever the server reads it

    def move_clock(self, **by: float) -> None:
        self.set_clock(datetime.fromisoformat(self.clock_file.read_text()) + timedelta(**by))

    def kill(self) -> None:
        """End the server as a power cut would."""
        self.process.kill()

    def start_again(self) -> None:
        """Start the server on the same folder and port."""
        self.start(port=self.url.rpartition(":")[2])


@contextmanager
def serving(place: Path, fill: Callable[[Path], None] | None = None) -> Iterator[Served]:
    """Run a server on an empty logbook, or on a folder that is filled first, and end it."""
    folder, clock_file = place / "data", place / "clock.txt"
    folder.mkdir(parents=True)
    if fill:
        fill(folder)
    if not (folder / LOGBOOK_FILE).exists():
        shutil.copy(empty_logbook(), folder)
    clock_file.write_text(AN_EVENING.isoformat())
    served = Served(folder, clock_file)
    try:
        yield served
    finally:
        served.kill()


@dataclass
class Watch:
    """What a page complained about: errors of scripts, of the content policy, of lost files."""

    complaints: list[str] = field(default_factory=list)

    def over(self, page: Page, allowed: tuple[str, ...] = EXPECTED_REFUSALS) -> None:
        """Listen to a page from now on, but for lines that say what is allowed."""
        page.on("console", lambda message: self._hear(message.type, message.text, allowed))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _hear(self, kind: str, text: str, allowed: tuple[str, ...]) -> None:
        if kind == "error" and not any(words in text for words in allowed):
            self.complaints.append(text)


def faults_of_look(page: Page) -> list[str]:
    """Return what is wrong with how a page lies on the screen; an empty list is a page in order."""
    seen = page.evaluate(LOOK_JS, SMALLEST_TARGET_PX)
    faults = [f"{seen['wide']} px wider than the screen"] if seen["wide"] > 0 else []
    faults += [f"too small for a glove: {target}" for target in seen["small"]]
    faults += [f"a field without a label: {target}" for target in seen["bare"]]
    return faults if seen["heads"] == 1 else [*faults, f"{seen['heads']} main headings"]


def cut_words(page: Page) -> list[str]:
    """Return the words of a page that are cut off at its edge or by what holds them."""
    found: list[str] = page.evaluate(CUT_JS)
    return [words for words in found if MAY_BE_CUT not in words]


def faults_twice_as_large(page: Page) -> list[str]:
    """Return what is cut, or stands past the screen, where a page is shown at 200 %."""
    width, height = TWICE_AS_LARGE
    page.set_viewport_size({"width": width, "height": height})
    wide = page.evaluate("document.documentElement.scrollWidth") - width
    return [*(f"cut: {words}" for words in cut_words(page)), *([f"{wide} px too wide"] if wide > 0 else [])]


def faint_words(page: Page) -> list[str]:
    """Return what stands on the page in ink too faint to be read with ease."""
    found: list[str] = page.evaluate(FAINT_JS)
    return found


def barriers(page: Page) -> list[str]:
    """Return what axe-core finds in the way of someone who hears a page, or goes through it by keys."""
    page.evaluate(AXE_JS)
    found: list[str] = page.evaluate(BARRIERS_JS)
    return found


def settled(page: Page) -> None:
    """Wait for the panels that come after their page."""
    page.wait_for_function("() => !document.querySelector('.htmx-request, [hx-trigger=\"load\"]')")


def set_theme(page: Page, url: str, theme: str) -> None:
    """Have a tablet show the pages of a server by day or by night."""
    page.context.add_cookies([{"name": "theme", "value": theme, "url": url}])


def quench_first_batch(served: Served, page: Page) -> None:
    """Take a batch that was just started through every step to the quench, an hour each in the fire."""
    for button in ("Box in the fire", "At heat: start the soak clock", "Box out, fire off"):
        served.move_clock(hours=1)
        if button.startswith("At heat"):
            page.get_by_label("Heat of the soak").first.fill("910")
        page.get_by_role("button", name=button).click()
        page.wait_for_load_state()
    page.locator('[name="temperature_K"]').first.fill("790")
    page.get_by_role("button", name="Reheated for the quench").click()
    page.get_by_role("button", name="Quenched").click()
