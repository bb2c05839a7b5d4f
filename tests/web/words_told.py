"""Reads a page for its words of the trade: which stand on it, which are told, and where the marks are."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser

from webapp.services.help_words import WORDS, Word

NOT_READ = {"script", "style", "textarea", "option"}
NO_MARK_WITHIN = {"a", "button", "label", "summary", "select", "svg", "h1"}
VOID = {"br", "hr", "img", "input", "meta", "link", "wbr"}


class Reader(HTMLParser):
    """Reads a page as a person does: its words, without those behind a mark, and where the marks stand."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[tuple[str, bool]] = []
        self.words: list[str] = []
        self.marks: Counter[str] = Counter()
        self.within: set[str] = set()
        self.told: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if name := given.get("popovertarget"):
            self.marks[name.removeprefix("word-").rpartition("-")[0]] += 1
            self.within |= {above for above, _ in self.open} & NO_MARK_WITHIN
        if told := given.get("data-told"):
            self.told.add(told)
        if tag not in VOID:
            hides = "popover" in given or "hidden" in given or given.get("class") == "words no-print"
            self.open.append((tag, hides))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        names = {name for name, _ in self.open}
        if "main" in names and not names & NOT_READ and not any(hides for _, hides in self.open):
            self.words.append(data)


def read_page(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    return reader


def stands_in(word: Word, text: str) -> bool:
    """Return whether a word stands in a text by itself: a case depth is no case."""
    for longer in WORDS:
        if longer is not word and word.shown in longer.shown:
            text = re.sub("|".join(longer.forms), " ", text, flags=re.IGNORECASE)
    return any(re.search(rf"(?<![\w-]){form}(?![\w-])", text, re.IGNORECASE) for form in word.forms)


def faults_of_words(html: str) -> list[str]:
    """Return which words of the trade a page leaves untold, tells twice, or marks within what is pressed."""
    page = read_page(html)
    text = " ".join(page.words)
    faults = [f"{word} is marked {times} times" for word, times in page.marks.items() if times > 1]
    faults += [f"a mark stands within {tag}" for tag in sorted(page.within)]
    faults += [f"{word} is marked, and told" for word in sorted(page.told & set(page.marks))]
    known = page.told | set(page.marks)
    return faults + [
        f"{word.key} is not told" for word in WORDS if word.key not in known and stands_in(word, text)
    ]
