"""Marks a word of the trade where it first stands on a page, and puts its sentence behind it.

The words of a page come out of templates, forms and some hundred services, so they are marked in one
place, as the page leaves: in the first running text that holds the word, never within a link, a button, a
label or a drawing. What stands nowhere else comes in a last line of the page. A mark opens without script.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import NamedTuple
from zlib import crc32

from webapp.services.help_words import BY_KEY, WORDS, Word

QUOTED = r"""(?:"[^"]*"|'[^']*')"""
TOKEN = re.compile(
    rf"""<!--.*?-->|<(?:script|style)\b.*?</(?:script|style)>|<[^>"']+(?:{QUOTED}[^>"']*)*>""", re.DOTALL
)
TAG = re.compile(r"<(/?)([a-z][a-z0-9]*)", re.IGNORECASE)
HEADINGS = ("h1", "h2", "h3")
# No mark can stand within these: they are pressed or picked themselves, are drawn, or name something else.
CLOSED = frozenset(
    [
        "a",
        "button",
        "summary",
        "label",
        "select",
        "textarea",
        "svg",
        "code",
        "h1",
        "h2",
        "h3",
        "caption",
        "nav",
    ]
)
# what is put in place anew while the page stands, or is there for the ear alone, or is not shown yet
PASSING = re.compile(
    r"""\shx-(?:post|trigger)=|\shidden\b|class="quiet"|aria-live=|role="(?:status|alert)\""""
)
TOLD = re.compile(r'data-told="([^"]+)"')  # a word that the page itself tells
VOID = {"br", "hr", "img", "input", "meta", "link", "wbr", "col", "path", "circle", "use"}
FOOT = "</main>"
TEXTS_KEPT = 4096  # most texts and tags of a page stand on the next one too


# A sentence lies at the end of the part of the page its word stands in, and goes where that is carried.
HOMES = {"main", "section", "article"}


@dataclass(frozen=True)
class Place:
    """Where a word may be marked: which piece of the page, from which letter to which, in whose part."""

    piece: int
    start: int
    end: int
    home: int


@dataclass(frozen=True)
class Tag:
    """A tag: of which element, whether it ends one, and whether no mark may stand in it or it is folded."""

    name: str
    ends: bool
    closes: bool
    folds: bool


class Open(NamedTuple):
    """An element around the place that is read: whether no mark may stand in it, or it is folded."""

    name: str
    is_closed: bool
    is_folded: bool
    home: int


@dataclass(frozen=True)
class Found:
    """Where the words of a page are marked, the ends of its homes, and the words that can stand nowhere."""

    places: dict[str, Place]
    ends: dict[int, int]
    nowhere: list[str]


def marked(page: str, address: str) -> str:
    """Return a page with each word marked once; its address keeps its marks from those of another."""
    suffix = f"{crc32(address.encode(errors='replace')):08x}"
    start, end = page.find("<main"), page.rfind(FOOT)
    if start < 0 or end < 0:
        return page
    pieces = cut(page[start:end])
    found = find_places(pieces)
    for word, place in sorted(found.places.items(), key=lambda one: (one[1].piece, -one[1].start)):
        text = pieces[place.piece]
        shown = mark(BY_KEY[word], text[place.start : place.end], suffix)
        pieces[place.piece] = text[: place.start] + shown + text[place.end :]
    for word, place in found.places.items():
        at = found.ends.get(place.home, len(pieces) - 1)
        told = meaning(BY_KEY[word], suffix)
        pieces[at] = told + pieces[at] if at % 2 else pieces[at] + told
    return page[:start] + "".join(pieces) + foot_line(found.nowhere, suffix) + page[end:]


def unmarked(page: str) -> str:
    """Return a page whose reader knows the words: with nothing but the way to all of them."""
    end = page.rfind(FOOT)
    return page if end < 0 else page[:end] + foot_line((), "") + page[end:]


def cut(page: str) -> list[str]:
    """Return a page as texts and tags by turns, texts first."""
    pieces, at = [], 0
    for found in TOKEN.finditer(page):
        pieces += [page[at : found.start()], found.group()]
        at = found.end()
    return [*pieces, page[at:]]


def edge(form: str) -> str:
    """Return a form that begins and ends with a word of the page."""
    return rf"(?<![\w-]){form}(?![\w-])"


def letters(form: str) -> str:
    """Return a form without what must not stand about it."""
    return re.sub(r"\(\?<?!.*?\)", "", form).lower()


def start_of(text: str) -> str:
    """Return the letters by which a form is looked up: the first three of its first word."""
    found = re.match(r"[a-z0-9]{1,3}", text, re.IGNORECASE)
    return found.group().lower() if found else ""


def by_start() -> dict[str, list[tuple[re.Pattern[str], str]]]:
    """Return the forms with their words by how they begin, the longest first: a case depth is no case."""
    forms = [(form, word.key) for word in WORDS for form in word.forms]
    forms.sort(key=lambda one: -len(letters(one[0])))
    found: dict[str, list[tuple[re.Pattern[str], str]]] = {}
    for form, key in forms:
        pattern = re.compile(edge(form), re.IGNORECASE)
        found.setdefault(start_of(letters(form)), []).append((pattern, key))
    return found


# to try all forms at every letter would take 100 ms of the largest page
FORMS = by_start()
A_WORD = re.compile(r"[a-z0-9]+", re.IGNORECASE)


@lru_cache(maxsize=TEXTS_KEPT)
def words_in(text: str) -> tuple[tuple[str, int, int], ...]:
    """Return the words of the trade in a text, in order: key, first letter, end."""
    words, done = [], 0
    for begins in A_WORD.finditer(text):
        at = begins.start()
        if at < done:
            continue
        for pattern, key in FORMS.get(begins.group()[:3].lower(), ()):
            if found := pattern.match(text, at):
                done = found.end()
                words.append((key, at, done))
                break
    return tuple(words)


def find_places(pieces: Sequence[str]) -> Found:
    """Return where each word is marked, in sight before folded away, and the words that can stand nowhere."""
    seen: dict[str, Place] = {}
    folded: dict[str, Place] = {}
    nowhere: dict[str, None] = {}
    ends: dict[int, int] = {}
    stack = [Open("main", False, False, 0)]
    for at, piece in enumerate(pieces):
        if at % 2:
            above, stack = stack, after_tag(stack, piece, at)
            if len(stack) < len(above):
                ends |= {gone.home: at for gone in above[len(stack) :] if gone.name in HOMES}
            continue
        here = stack[-1]
        for word, start, end in words_in(piece):
            if here.is_closed:
                nowhere.setdefault(word)
            else:
                (folded if here.is_folded else seen).setdefault(word, Place(at, start, end, here.home))
    told = set(TOLD.findall("".join(pieces)))
    places = {word: place for word, place in (folded | seen).items() if word not in told}
    return Found(places, ends, [word for word in nowhere if word not in places and word not in told])


def after_tag(stack: list[Open], text: str, at: int) -> list[Open]:
    """Return which elements are open after the tag that is the page's piece `at`."""
    tag = read_tag(text)
    if tag is None:
        return stack
    if tag.ends:
        last = next((n for n in range(len(stack) - 1, 0, -1) if stack[n].name == tag.name), len(stack))
        return stack[:last]
    above = stack[-1]
    home = at if tag.name in HOMES else above.home
    return [*stack, Open(tag.name, above.is_closed or tag.closes, above.is_folded or tag.folds, home)]


@lru_cache(maxsize=TEXTS_KEPT)
def read_tag(text: str) -> Tag | None:
    """Return what a tag does to what is open; None where that is nothing."""
    found = TAG.match(text)
    if found is None or found.group(2) in VOID or text.endswith("/>"):
        return None
    closing, name = found.groups()
    closes = name in CLOSED or (name != "form" and PASSING.search(text) is not None)
    return Tag(name, bool(closing), closes, name == "details" and " open" not in text)


def name_of(word: Word, suffix: str) -> str:
    """Return the name of a word's sentence on a page."""
    return f"word-{word.key}-{suffix}"


def mark(word: Word, text: str, suffix: str) -> str:
    """Return a word that opens its sentence when it is pressed."""
    name = name_of(word, suffix)
    ways = f'popovertarget="{name}" aria-describedby="{name}-is"'
    return f'<span class="word"><button type="button" {ways}>{text}</button></span>'


def meaning(word: Word, suffix: str) -> str:
    """Return the sentence of a word, not shown until it is asked for, and the way to its long page."""
    name = name_of(word, suffix)
    return (
        f'<div class="meaning" popover id="{name}"><b>{escape(word.shown)}</b>'
        f'<p id="{name}-is">{escape(word.sentence)}</p>'
        f'<a class="button" href="{word.href}">More on this</a></div>'
    )


def foot_line(keys: Sequence[str], suffix: str) -> str:
    """Return the last line of a page: its words that could be marked nowhere else, and the way to all."""
    words = [BY_KEY[key] for key in keys]
    marks = ", ".join(mark(word, escape(word.shown), suffix) for word in words)
    told = f"Words on this page: {marks}. " if marks else ""
    line = f'<p class="words no-print">{told}<a class="button plain" href="/help">Words of the trade</a></p>'
    return line + "".join(meaning(word, suffix) for word in words) + "\n"
