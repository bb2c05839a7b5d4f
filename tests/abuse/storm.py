"""Sends abused forms to an app and holds every answer to what any answer must be."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from html import unescape
from time import process_time
from urllib.parse import quote, urlsplit

from httpx import Response

from tests.abuse.nasty import HANDLER, SUM, Abuse, encoded
from tests.abuse.one_thread import OneThread, words_unmarked
from tests.abuse.page_walk import NEVER_SENT, TAG, TAKES_AWAY, TAKES_BACK, Form, PageReader, read_page
from tests.web.page_forms import text_of

LONGEST_REQUEST_S = (
    20.0  # of processor time; a plan at a new heat with all its wants takes 1.5 on a busy host
)
SHORTEST_MESSAGE = 15
MULTIPART = {"content-type": "multipart/form-data; boundary=zq"}
URLENCODED = {"content-type": "application/x-www-form-urlencoded"}
NAMED = re.compile(r"(\w+)=")
OWN_LINE = re.compile(r"own_\d+")
HIDDEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff\ufffd]|\s+")


@dataclass
class Storm:
    """Forms to send, in turn; what came of them; and everything that was wrong with an answer."""

    client: OneThread
    forms: dict[str, Form] = field(default_factory=dict)
    statuses: Counter[int] = field(default_factory=Counter)
    faults: dict[str, str] = field(default_factory=dict)
    slowest: dict[str, float] = field(default_factory=dict)
    sent: Counter[str] = field(default_factory=Counter)
    _gone: set[str] = field(default_factory=set)

    def learn(self, reader: PageReader) -> None:
        """Take up the forms of a page that are new of their kind."""
        for form in reader.forms:
            if form.action not in NEVER_SENT:
                self.forms.setdefault(form.kind, form)

    def send_next(self, abuse: Abuse) -> None:
        """Send the next form abused."""
        kind = self._next_kind()
        form = self._as_it_stands(kind)
        pairs, address = abuse.of(form), abuse.address(form)
        started = process_time()
        answer = self._send(form, address, pairs, abuse.by_htmx)
        seconds = process_time() - started
        self.sent[kind] += 1
        self.statuses[answer.status_code] += 1
        self.slowest[kind] = max(seconds, self.slowest.get(kind, 0.0))
        for fault in complaints(form, pairs, answer, seconds):
            self.faults.setdefault(f"{form.method} {form.action}: {fault}", f"{address} {pairs!r}"[:1500])
        if answer.status_code in (204, 303):
            self._gone.add(kind)
            if form.action.partition("?")[0].endswith(TAKES_AWAY):
                self._take_back(answer)
        elif answer.status_code in (404, 409):
            self._gone.add(kind)

    def _next_kind(self) -> str:
        """Return the kind that was sent least often so far, the first of them in the order found."""
        return min(self.forms, key=lambda kind: self.sent[kind])

    def _as_it_stands(self, kind: str) -> Form:
        """Return a form as its page shows it now, if it was sent and taken since it was last read."""
        if kind in self._gone:
            self._gone.discard(kind)
            page = self._read(self.forms[kind].page)
            self.learn(page)
            shown = next((one for one in page.forms if one.kind == kind), None)
            self.forms[kind] = shown or self.forms[kind]  # one that is gone: an old tablet may show it
        return self.forms[kind]

    def _send(self, form: Form, address: str, pairs: list[tuple[str, str]], by_htmx: bool) -> Response:
        headers = {"HX-Request": "true"} if by_htmx else {}
        if form.method == "GET":
            return self.client.get(f"{urlsplit(address).path}?{encoded(pairs)}", headers=headers)
        if form.multipart:
            return self.client.post(address, content=as_multipart(pairs, form), headers=headers | MULTIPART)
        return self.client.post(address, content=encoded(pairs), headers=headers | URLENCODED)

    def _take_back(self, answer: Response) -> None:
        """Take back what was removed, by the page that its answer leads to, or soon nothing is left."""
        where = answer.headers.get("location") or answer.headers.get("hx-redirect", "/")
        page = self._read(where)
        self.learn(page)
        for form in page.forms:
            if form.action.endswith(TAKES_BACK):
                self.client.post(form.action, data=dict(form.sent))

    def _read(self, page: str) -> PageReader:
        with words_unmarked():
            answer = self.client.get(page, follow_redirects=True)
        for fault in faults_of_any(answer):
            self.faults.setdefault(f"GET {page}: {fault}", page)
        return read_page(page, answer.text)


def as_multipart(pairs: list[tuple[str, str]], form: Form) -> bytes:
    """Write fields as a browser does where files may go along; a field of a file gets its text as a file."""
    parts = []
    for name, text in pairs:
        is_file = name in form.fields and form.fields[name].kind == "file"
        more = '; filename="zq"\r\nContent-Type: image/jpeg' if is_file else ""
        head = f'--zq\r\nContent-Disposition: form-data; name="{quote(name, errors="replace")}"{more}\r\n\r\n'
        parts.append(head.encode() + text.encode("utf-8", "surrogatepass") + b"\r\n")
    return b"".join(parts) + b"--zq--\r\n"


def complaints(form: Form, pairs: list[tuple[str, str]], answer: Response, seconds: float) -> list[str]:
    """Return everything that is wrong with an answer to a form."""
    found = faults_of_any(answer)
    if seconds > LONGEST_REQUEST_S:
        found.append(f"took {seconds:.0f} s")
    if answer.status_code in (409, 422) and form.method == "POST" and is_page(answer):
        found += [f"{name} was typed and is lost" for name in lost(form, pairs, answer)]
    return found


def faults_of_any(answer: Response) -> list[str]:
    """Return what is wrong with an answer whatever was asked."""
    found, text = [], answer.text
    if answer.status_code >= 500:
        found.append(f"answered {answer.status_code}")
    if "Traceback (most recent" in text:
        found.append("shows a trace")
    if is_page(answer):
        # as an attribute it would need its own quote mark, which no escaped text can hold
        raw = [mark for mark in (TAG, f'" {HANDLER}', f"' {HANDLER}", SUM) if mark in text]
        found += [f"holds {mark} as it was typed" for mark in raw]
    if answer.status_code >= 400 and len(message_of(answer)) < SHORTEST_MESSAGE:
        found.append(f"answered {answer.status_code} and says nothing")
    where = answer.headers.get("location") or answer.headers.get("hx-redirect") or "/"
    if not where.startswith("/") or where.startswith("//"):
        found.append(f"leads away to {where!r}")
    return found


def is_page(answer: Response) -> bool:
    return answer.headers.get("content-type", "").startswith("text/html")


def message_of(answer: Response) -> str:
    return text_of(answer.text) or " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def lost(form: Form, pairs: list[tuple[str, str]], answer: Response) -> list[str]:
    """Return the fields whose typed text the answer does not bring back.

    A form of another shape, as of a step of another kind, brings back what it asks of them; a line of the
    shop's own that is asked no more goes with its answer.
    """
    replaced = NAMED.findall(
        " ".join(text for name, text in pairs if name == "take")
    )  # by what a button takes
    kept = [pair for pair in pairs if pair[0] in form.fields and pair[0] not in replaced]
    typed = {name: text for name, text in kept if form.fields[name].is_typed}
    back = [one for shown in read_page(form.page, answer.text).forms for one in shown.fields.values()]
    stands = {(one.name, plain(text)) for one in back for text in one.sent}
    here = {one.name for one in back}
    typed = {name: plain(text) for name, text in typed.items() if plain(text)}
    typed = {name: text for name, text in typed.items() if name in here or not OWN_LINE.fullmatch(name)}
    asked = typed.keys() & here or typed.keys()
    return [name for name in typed if name in asked and (name, typed[name]) not in stands]


def plain(text: str) -> str:
    """Return text as it can be compared: without what no page can show, whatever its spaces."""
    return HIDDEN.sub("", text)
