"""Reads a form out of a page, as a browser would before it sends it."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser

from fastapi.testclient import TestClient
from httpx import Response


class PageForm(HTMLParser):
    """The fields of the form with one action, with what stands in them."""

    def __init__(self, action: str) -> None:
        super().__init__()
        self.action, self.fields = action, dict[str, list[str]]()
        self._inside, self._select, self._area = False, "", ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._inside = given.get("action") == self.action
        elif self._inside and tag == "input":
            self._input(given)
        elif self._inside and tag == "select":
            self._select = given["name"]
        elif self._select and tag == "option" and "selected" in given:
            self.fields[self._select] = [given["value"]]
        elif self._inside and tag == "textarea":
            self._area = given["name"]
            self.fields[self._area] = [""]

    def _input(self, given: dict[str, str]) -> None:
        if given.get("type") in ("radio", "checkbox") and "checked" not in given:
            return
        self.fields.setdefault(given["name"], []).append(given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._inside = False
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._area = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.fields[self._area][0] += data


def read_page_form(html: str, action: str) -> dict[str, list[str]]:
    """Return the fields of the form that is sent to this address."""
    found = PageForm(action)
    found.feed(html)
    if not found.fields:
        raise AssertionError(f"the page has no form for {action}")
    return {name: [text.lstrip("\n") for text in texts] for name, texts in found.fields.items()}


def send(client: TestClient, page: str, action: str, **typed: str | list[str]) -> Response:
    """Open a page, fill in some fields of its form, and send it."""
    html = client.get(page).text
    return client.post(action, data={**read_page_form(html, action), **typed})


def begin(client: TestClient, **typed: str) -> Response:
    """Start an empty logbook, as one tap on the first page does."""
    return send(client, "/welcome", "/welcome", **{"zone": "UTC", **typed})


def text_of(html: str) -> str:
    """Return the words of a page's main part, without its marks."""
    main = html.partition("<main")[2].partition("</main>")[0]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", main)).split())
