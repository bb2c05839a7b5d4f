"""Every page of an app found by its links, and every form on them with its fields, as a browser sees them.

Addresses and forms that differ only in the numbers of records are one kind; of each kind a few are looked at.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import parse_qsl, urljoin, urlsplit

from tests.abuse.one_thread import OneThread

MOST_OF_A_KIND = 4
MOST_ASKED_OF_A_KIND = 1  # with a question in the address
TYPED = ("text", "date", "time", "datetime-local", "search", "number", "tel", "email", "url", "textarea")
TAKES_BACK = ("/put-back", "/take-in", "/take-back", "/not-scrapped", "/reopen")
TAKES_AWAY = ("/remove", "/undo", "/put-right", "/scrap", "/set-aside", "/give-up")
TAG = "<zqx"  # how all markup that is typed begins; none may ever stand in a page so
NEVER_SENT = (
    "/demo/leave",  # nothing would be left to abuse; `tests/web/test_demo.py` has it
    "/devices/ask-here",  # nor would anybody be let in; `tests/web/test_gate_pages.py` has it
)
NO_PAGES = re.compile(r"^/(static|api)/|\.(jpg|csv|zip|json|webmanifest)$")


@dataclass
class Field:
    """One named field: what kind it is, what a browser would send of it, and what else it offers."""

    name: str
    kind: str
    sent: list[str] = field(default_factory=list)
    offered: list[str] = field(default_factory=list)

    @property
    def is_typed(self) -> bool:
        return self.kind in TYPED


@dataclass
class Form:
    """A form of a page, and the other address that its fields are sent to while somebody types, if any."""

    page: str
    action: str
    method: str
    multipart: bool = False
    fields: dict[str, Field] = field(default_factory=dict)

    @property
    def kind(self) -> str:
        """What the form is, whichever record it is about."""
        return f"{self.method} {kind_of(self.action)} {' '.join(sorted(self.fields))}"

    @property
    def sent(self) -> list[tuple[str, str]]:
        return [(name, text) for name, one in self.fields.items() for text in one.sent]


class PageReader(HTMLParser):
    """Links, forms and the addresses that htmx asks by itself, of one page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.links, self.forms = page, list[str](), list[Form]()
        self._form: Form | None = None
        self._select: Field | None = None
        self._area: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name in ("href", "hx-get"):
            if name in given and tag != "link":
                self.links.append(self._address(given[name]))
        if tag == "form":
            method = given.get("method", "get").upper()
            action = self._address(given.get("action", self.page))
            self._form = Form(self.page, action, method, "multipart" in given.get("enctype", ""))
            self.forms.append(self._form)
        elif "hx-post" in given:
            self._asks_by_itself(self._address(given["hx-post"]))
        elif self._form is not None:
            if "formaction" in given:
                self._asks_by_itself(self._address(given["formaction"]))
            self._field(tag, given)

    def _asks_by_itself(self, address: str) -> None:
        around = self._form or Form(self.page, address, "POST")
        self.forms.append(Form(self.page, address, "POST", fields=around.fields))

    def _field(self, tag: str, given: dict[str, str]) -> None:
        assert self._form is not None
        name, value = given.get("name", ""), given.get("value", "")
        if tag == "option" and self._select is not None:
            self._select.offered.append(value)
            if "selected" in given or not self._select.sent:
                self._select.sent = [value]
        if not name or tag not in ("input", "select", "textarea", "button"):
            return
        kind = given.get("type", "text") if tag == "input" else tag
        found = self._form.fields.setdefault(name, Field(name, kind))
        if tag == "select":
            self._select = found
        elif tag == "textarea":
            self._area, found.sent = found, [""]
        elif kind in ("radio", "checkbox", "button"):
            found.offered.append(value)
            if "checked" in given:
                found.sent.append(value)
        elif kind != "file":
            found.sent.append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self._area.sent[0] += data

    def _address(self, href: str) -> str:
        return urljoin(self.page, href).partition("#")[0]


def kind_of(address: str) -> str:
    """Return an address without the numbers and hashes of records, and of what is asked in it only words."""
    parts = urlsplit(address)
    path = re.sub(r"/([0-9]+|[0-9a-f]{16,})(?=/|$)", "/N", parts.path)
    asked = sorted({f"{name}={value}" if value.isalpha() else name for name, value in parse_qsl(parts.query)})
    return path + ("?" + "&".join(asked) if asked else "")


def read_page(page: str, html: str) -> PageReader:
    reader = PageReader(page)
    reader.feed(html)
    for form in reader.forms:
        for one in form.fields.values():
            if one.kind == "textarea":
                one.sent = [text.removeprefix("\n") for text in one.sent]
    return reader


def walk(client: OneThread, *starts: str, most: int = MOST_OF_A_KIND) -> Iterator[PageReader]:
    """Go through every kind of page that links lead to, at most so many of each; one that breaks fails here.

    It begins at the first page and at the words, which are linked where a word is marked.
    """
    waiting, kinds = list(starts or ("/", "/help")), Counter[str]()
    seen = set(waiting)
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address, follow_redirects=True)
        assert answer.status_code < 500, f"GET {address} answered {answer.status_code}"
        if not answer.headers.get("content-type", "").startswith("text/html"):
            continue
        assert TAG not in answer.text, f"GET {address} shows markup that was typed"
        reader = read_page(address, answer.text)
        yield reader
        for link in reader.links:
            if link in seen or not link.startswith("/") or NO_PAGES.search(urlsplit(link).path):
                continue
            seen.add(link)
            kind = kind_of(link)
            kinds[kind] += 1
            if kinds[kind] <= (MOST_ASKED_OF_A_KIND if "?" in kind else most):
                waiting.append(link)
