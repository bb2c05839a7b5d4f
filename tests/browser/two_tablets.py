"""Two tablets that write in one batch at once: what each was shown, was told is saved, and put right."""

from __future__ import annotations

import random
import re
import time
from collections import Counter, defaultdict
from contextlib import ExitStack
from dataclasses import dataclass, field

from playwright.sync_api import Locator, Page, Response, expect

FORM = "form[data-draft]"
A_MOMENT_MS = 50.0
CLICK_AT_JS = """([selector, at]) => {
  setTimeout(() => document.querySelector(selector).click(), at - Date.now());
}"""
OPEN_JS = "(form) => form.querySelectorAll('details').forEach((one) => { one.open = true; })"


@dataclass(frozen=True)
class Place:
    """A form of the batch that keeps words; `record` is what it changes, 0 where it adds one."""

    href: str
    table: str
    record: int
    words: str = "note"
    number: str = ""
    button: str = "button.go"


PLACES = (
    Place("/batches/1/edit", "batch", 1),
    Place("/steps/1", "step", 1),
    Place("/steps/2", "step", 2),
    Place("/readings/1", "reading", 1, number="value"),
    Place("/batches/1/events/new", "event", 0, words="event_note", button='[value="box turned"]'),
)


@dataclass
class Writing:
    """What stands in an open form: the words in it, and those of the book that its writer has seen."""

    place: Place
    words: str
    seen: str
    number: str = ""
    form_id: str = ""
    clashed: bool = False


@dataclass
class Told:
    """What the tablets were told is saved, place by place in that order, and how often what happened."""

    first: dict[Place, str]
    saved: dict[Place, list[Writing]] = field(default_factory=lambda: defaultdict(list))
    counted: Counter[str] = field(default_factory=Counter)

    def newest(self, place: Place) -> str:
        """Return the words that stand in the book; none where each save adds a record."""
        if not place.record:
            return ""
        return self.saved[place][-1].words if self.saved[place] else self.first[place]


class Tablet:
    """One tablet: at most one open form, and forms that it left without saving."""

    def __init__(self, page: Page, name: str, chance: random.Random, told: Told) -> None:
        self.page, self.name, self.chance, self.told = page, name, chance, told
        self.writing: Writing | None = None
        self.left: dict[Place, Writing] = {}
        self.written = 0

    @property
    def open(self) -> Writing:
        assert self.writing is not None
        return self.writing

    def field(self, name: str) -> Locator:
        return self.page.locator(f"{FORM} [name={name}]")

    def begin(self, place: Place) -> None:
        """Open a form and write in it; one that was left before comes back as it was left."""
        self.page.goto(place.href)
        self.page.locator(FORM).evaluate(OPEN_JS)
        left = self.left.pop(place, None)
        if left is None:
            expect(self.page.locator(".restored")).to_have_count(0)
            seen = self.field(place.words).input_value()
            assert seen == self.told.newest(place)
            self.writing = Writing(place, "", seen)
            self.write()
        else:
            expect(self.page.locator(".restored")).to_be_visible()
            assert self.field(place.words).input_value() == left.words
            self.writing = left
            left.clashed = False  # the two versions were shown before; the form alone is shown now
            self.told.counted["came back to what was left"] += 1

    def write(self, beside: str = "") -> None:
        """Type words that nothing else holds, beside others if wanted, and a number where one is asked."""
        self.written += 1
        self.page.locator(FORM).evaluate(OPEN_JS)
        self.open.words = f"{self.name}-{self.written:05}{beside}"
        self.field(self.open.place.words).fill(self.open.words)
        if self.open.place.number:
            self.open.number = f"{self.chance.randint(560, 659) / 10}"
            self.field(self.open.place.number).fill(self.open.number)

    def walk_away(self) -> None:
        """Turn to something else without saving; the next page takes the place of this one."""
        self.left[self.open.place] = self.open
        self.writing = None

    def keep_theirs(self) -> None:
        """Give up what was typed for what stands in the book."""
        self.page.get_by_role("link", name="Keep the saved one").click()
        self._led_on()
        self.told.counted["kept the other's"] += 1

    def press(self, at_ms: float) -> None:
        """Have the form sent at a moment of the clock that both tablets share."""
        self.open.form_id = self.field("form_id").input_value()
        self.page.locator("#main").evaluate("(main) => main.setAttribute('data-older', '')")
        self.page.evaluate(CLICK_AT_JS, [f"{FORM} {self.open.place.button}", at_ms])

    def saved(self) -> None:
        """Take in that the form was saved."""
        self.told.saved[self.open.place].append(self.open)
        self.told.counted["saved"] += 1
        self._led_on()
        expect(self.page.locator(".saved")).to_be_visible()

    def _led_on(self) -> None:
        self.page.wait_for_url(re.compile(rf"^(?!.*{self.open.place.href}(\?|$))"))
        self.writing = None

    def clashed(self, possible: set[str]) -> None:
        """See both versions, with what was typed still in the form."""
        expect(self.page.locator("#main[data-older]")).to_have_count(0)
        mine, theirs = (self.page.locator(".versus > div").nth(place) for place in (0, 1))
        expect(mine).to_contain_text(self.open.words)
        stands = theirs.inner_text()
        self.open.seen = next(words for words in sorted(possible, key=len, reverse=True) if words in stands)
        assert self.field(self.open.place.words).input_value() == self.open.words
        self.open.clashed = True
        self.told.counted["conflicts shown"] += 1


def is_sent(response: Response) -> bool:
    return response.request.method == "POST"


def save(tablets: list[Tablet], told: Told) -> None:
    """Press the button on one tablet, or on both at once, and take in what is answered."""
    before = {tablet: told.newest(tablet.open.place) for tablet in tablets}
    with ExitStack() as waited_for:
        answers = [waited_for.enter_context(tablet.page.expect_response(is_sent)) for tablet in tablets]
        at_ms = time.time() * 1000 + A_MOMENT_MS
        for tablet in tablets:
            tablet.press(at_ms)
    by_status: dict[int, list[Tablet]] = defaultdict(list)
    for tablet, answer in zip(tablets, answers, strict=True):
        by_status[answer.value.status].append(tablet)
    assert set(by_status) <= {204, 409}, by_status
    changed = [tablet.open.place for tablet in by_status[204] if tablet.open.place.record]
    assert len(set(changed)) == len(changed), "both were told that the same record is theirs"
    for tablet in by_status[204]:
        tablet.saved()
    for tablet in by_status[409]:
        tablet.clashed({before[tablet], told.newest(tablet.open.place)})


def put_right(tablet: Tablet, told: Told) -> None:
    """Settle a conflict by hand: theirs, mine, or both in one."""
    way = tablet.chance.choice(("theirs", "mine", "both"))
    if way == "theirs":
        tablet.keep_theirs()
        return
    if way == "both":
        tablet.write(beside=f" beside {tablet.open.seen[:12]}")
    save([tablet], told)


def take_turn(tablets: list[Tablet], chance: random.Random, told: Told) -> None:
    """Have a tablet do the next thing."""
    one, other = chance.sample(tablets, 2)
    if one.writing is None:
        same = other.writing is not None and chance.random() < 0.8
        one.begin(other.open.place if same else chance.choice(PLACES))
    elif other.writing is not None and chance.random() < 0.4:
        told.counted["both pressed at once"] += 1
        save([one, other], told)
    elif chance.random() < 0.15:
        one.walk_away()
    elif one.open.clashed:
        put_right(one, told)
    else:
        save([one], told)
