"""A tablet at work: it sends the forms of the shop one after another, and knows what it was told is safe.

What got no answer is sent again first, with the same form id, as a tablet does whose answer was lost.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any, Protocol

from tests.web.page_forms import read_page_form

BY_HTMX = {"HX-Request": "true"}
LONG_NOTE = "x" * 3000  # several pages of the database a save, so that a kill may come between them


class Answer(Protocol):
    status_code: int
    headers: Any
    text: str

    def json(self) -> Any: ...


class Client(Protocol):
    """What a tablet speaks through: to a server, or straight to the app."""

    def get(self, url: str) -> Answer: ...

    def post(
        self, url: str, *, data: Any = None, json: Any = None, headers: dict[str, str], files: Any = None
    ) -> Answer: ...


@dataclass
class Post:
    """One form as it is sent, each time the same.

    does  : what it does to the logbook
    token : a text that nothing else holds, kept with what it saves; a picture's words for a photo
    """

    does: str
    form_id: str
    action: str
    data: dict[str, Any]
    token: str = ""
    by_htmx: bool = False
    files: Any = None
    led_to: str = ""


@dataclass
class Tablet:
    """One tablet; `sent` are all its forms, those with `led_to` were answered."""

    name: str
    chance: random.Random
    sent: list[Post] = field(default_factory=list)
    unanswered: Post | None = None
    batch: str = ""
    is_in_bin: bool = False

    @property
    def answered(self) -> list[Post]:
        return [post for post in self.sent if post.led_to]

    def work(self, client: Client, wanted: str = "") -> Post:
        """Send one form and take in its answer; the next call sends it again if none comes."""
        post = self.unanswered or self.next_form(client, wanted)
        if self.unanswered is None:
            self.sent.append(post)
            self.unanswered = post
        self.send(client, post)
        self.unanswered = None
        self.remember(post)
        return post

    def send(self, client: Client, post: Post) -> None:
        headers = BY_HTMX if post.by_htmx else {}
        answer = client.post(post.action, data=post.data, headers=headers, files=post.files)
        led_to = answer.headers.get("hx-redirect" if post.by_htmx else "location")
        if answer.status_code != (204 if post.by_htmx else 303) or post.led_to not in ("", led_to):
            raise AssertionError(f"{post.action}: {answer.status_code} to {led_to}: {answer.text[-3000:]}")
        post.led_to = led_to

    def remember(self, post: Post) -> None:
        if post.does == "start":
            self.batch = post.led_to
        if post.does in ("remove", "put back"):
            self.is_in_bin = post.does == "remove"

    def next_form(self, client: Client, wanted: str = "") -> Post:
        """Think of something to save."""
        if self.is_in_bin:
            return self.post("put back", f"{self.batch}/put-back")
        if not self.batch:
            return self.post("start", "/batches")
        ways = ("bar", "bar", "event", "event", "reminder", "edit", "start", "remove")
        does = wanted or self.chance.choice(ways)
        if does == "bar":
            sizes = {"grade": "1018", "carbon_low_wt": "0.15", "carbon_high_wt": "0.2", "note": LONG_NOTE}
            return self.post(does, "/bars", "name", **sizes)
        if does == "event":
            return self.post(does, f"{self.batch}/events/new", "event_note", event_kind="other")
        if does == "reminder":
            return self.post(does, "/shop/reminders", "what", after_days="30", done_on="2026-04-03")
        if does == "edit":
            typed = read_page_form(client.get(f"{self.batch}/edit").text, f"{self.batch}/edit")
            return self.post(does, f"{self.batch}/edit", "note", **typed)
        if does == "remove":
            return self.post(does, f"{self.batch}/remove")
        return self.post("start", "/batches")

    def post(self, does: str, action: str, text_field: str = "", files: Any = None, **data: Any) -> Post:
        """Return a form with an id of its own and, if it holds words, words of its own."""
        form_id = f"{self.name}-{len(self.sent):05}"
        token = f"words of {form_id}" if text_field else ""
        filled = {**data, "form_id": form_id} | ({text_field: token} if text_field else {})
        by_htmx = self.chance.random() < 0.5
        return Post(does, form_id, action, filled, token, by_htmx, files)


COUPON_STEPS: tuple[tuple[str, dict[str, str]], ...] = (
    ("box_in", {}),
    ("at_heat", {"clock_from": "at_heat"}),
    ("box_out", {}),
)


@dataclass
class Program(Tablet):
    """A program beside a tester: it fires one batch by its forms, and then writes readings as JSON."""

    readings: str = ""

    def work(self, client: Client, wanted: str = "") -> Post:
        """Read the book as programs do, and save the next."""
        answer = client.get("/api/batches")
        assert answer.status_code == 200, answer.text
        return super().work(client, wanted)

    def next_form(self, client: Client, _wanted: str = "") -> Post:
        """Give the next step of the batch, and once its box is out a reading of its coupon."""
        if not self.batch:
            return self.post("start", "/batches", with_pin="yes")
        noted = sum(post.does == "step" for post in self.sent)
        if noted < len(COUPON_STEPS):
            action, typed = COUPON_STEPS[noted]
            return self.post("step", f"{self.batch}/steps/{action}", **typed)
        if not self.readings:
            batch = self.batch.rpartition("/")[2]
            (coupon,) = client.get(f"/api/coupons?batch={batch}").json()["coupons"]
            self.readings = f"/api/coupons/{coupon['id']}/readings"
        value = round(self.chance.uniform(0.2, 1.2), 3)
        return self.post("reading", self.readings, "note", kind="depth", value_mm=value)

    def send(self, client: Client, post: Post) -> None:
        """Send a form as a page does, a reading as JSON under its key."""
        if post.does != "reading":
            super().send(client, post)
            return
        body = {name: value for name, value in post.data.items() if name != "form_id"}
        answer = client.post(post.action, json=body, headers={"Idempotency-Key": post.form_id})
        assert answer.status_code == 201, answer.text
        led_to = answer.json()["page"]
        assert post.led_to in ("", led_to)
        post.led_to = led_to
