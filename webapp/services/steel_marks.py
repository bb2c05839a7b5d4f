"""Marks that survive the fire: which one a piece can take, where it goes, and how it is said, read and drawn.

All of it common practice, no source: notches by a round file, dots by a centre punch, figures by a stamp.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import count

NOTCHES, DOTS, STAMP = "notches", "dots", "stamp"
KINDS = (NOTCHES, DOTS, STAMP)
MOST_READ = 6
"""Notches or dots that an eye takes in at a glance; a die has no more."""
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O: stamped, they read as 1 and 0
LONGEST_FIGURE = 6

PUNCH_ROD_M = 0.012  # the end of a thinner rod has no room for dots
ROOMY_ROD_M = 0.016
PUNCH_PLATE_M = 0.003  # a punch bends a thinner plate, or shows through
NOTCH_ROOM_M = 0.004  # along the rim, for each notch and what stands between two

NUMBER_WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
ONE = {NOTCHES: "notch", DOTS: "dot"}
_HOW_MANY = r"[1-9](?:\s*\+\s*[1-9])?|" + "|".join(NUMBER_WORDS[1:])
_KIND_WORD = r"(notch|dot)(?:es|s)?"
_PHRASE = re.compile(
    rf"\b(?:({_HOW_MANY})\s+(?:file\s+|filed\s+|punch\s+|punched\s+)?{_KIND_WORD}"
    rf"|{_KIND_WORD}\s+({_HOW_MANY})|stamp(?:ed)?\s+([A-Z0-9]{{1,{LONGEST_FIGURE}}}))\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Steel:
    """What decides which mark a piece can take: its shape and its sizes [m]."""

    shape: str
    size_m: float
    bore_m: float | None = None


@dataclass(frozen=True)
class Mark:
    """A mark: its kind and how many, or which figure; 2+1 is two on one end and one on the other."""

    kind: str
    sign: str


class BadSign(ValueError):
    """A count or figure that no such mark can have; its text says what can be typed."""


def usual_kind(steel: Steel) -> str:
    """Return the kind of mark that suits a piece: dots where a punch finds room, else notches."""
    if steel.shape == "plate":
        return DOTS if steel.size_m >= PUNCH_PLATE_M else NOTCHES
    return DOTS if steel.shape == "rod" and steel.size_m >= PUNCH_ROD_M else NOTCHES


def most_of(kind: str, steel: Steel) -> int:
    """Return how many notches or dots a piece has room for on one face; 0 for none."""
    if kind == NOTCHES:
        rim = 3.14 * steel.size_m if steel.shape != "plate" else 1.0
        return min(MOST_READ, int(rim / NOTCH_ROOM_M))
    if steel.shape == "plate":
        return MOST_READ if steel.size_m >= PUNCH_PLATE_M else 0
    if steel.shape == "tube" or steel.size_m < PUNCH_ROD_M:
        return 0
    return MOST_READ if steel.size_m >= ROOMY_ROD_M else 3


def marks_for(steel: Steel, habit: str, letter: str = "") -> Iterator[Mark]:
    """Yield the marks that a piece can take, the best first, without end.

    habit : the shop's own kind, empty for by size; letter : what the piece is called in its box
    """
    first = habit or usual_kind(steel)
    for kind in dict.fromkeys((first, NOTCHES, DOTS)):
        yield from _counted(kind, steel) if kind != STAMP else _figures(letter)
    yield from _figures(letter)


def _counted(kind: str, steel: Steel) -> Iterator[Mark]:
    most = most_of(kind, steel)
    yield from (Mark(kind, str(number)) for number in range(1, most + 1))
    if kind == NOTCHES:  # either end is as good as the other, so the larger count comes first
        for more in range(2, most + 1):
            yield from (Mark(kind, f"{more}+{less}") for less in range(1, more))


def _figures(letter: str) -> Iterator[Mark]:
    if letter and re.fullmatch(rf"[A-Z0-9]{{1,{LONGEST_FIGURE}}}", letter):
        yield Mark(STAMP, letter)
    yield from (Mark(STAMP, one) for one in LETTERS)
    yield from (Mark(STAMP, f"{one}{number}") for number in count(2) for one in LETTERS)


def first_free(steel: Steel, habit: str, taken: Collection[Mark], letter: str = "") -> Mark:
    """Return the best mark that no other piece bears."""
    return next(mark for mark in marks_for(steel, habit, letter) if mark not in taken)


def read_sign(kind: str, typed: str) -> str:
    """Return a typed count or figure as it is kept; raises `BadSign`."""
    text = "".join(typed.split()).upper()
    if kind == STAMP:
        if not re.fullmatch(rf"[A-Z0-9]{{1,{LONGEST_FIGURE}}}", text):
            raise BadSign(f"A stamped figure is 1 to {LONGEST_FIGURE} letters or numbers, as A7.")
        return text
    if kind == NOTCHES and re.fullmatch(r"[1-9]\+[1-9]", text):
        more, less = sorted((text[0], text[2]), reverse=True)
        return f"{more}+{less}"
    if not re.fullmatch("[1-9]", text):
        ends = ", or 2+1 for two on one end and one on the other" if kind == NOTCHES else ""
        raise BadSign(f"How many {kind}? Type 1 to 9{ends}.")
    return text


def say_mark(mark: Mark) -> str:
    """Return a mark in words: 3 notches; 2 notches on one end, 1 on the other; stamped A7."""
    if mark.kind == STAMP:
        return f"stamped {mark.sign}"
    first, _, second = mark.sign.partition("+")
    word = ONE[mark.kind] if first == "1" else mark.kind
    ends = f" on one end, {second} on the other" if second else ""
    return f"{first} {word}{ends}"


def find_marks(text: str) -> tuple[tuple[Mark, str], ...]:
    """Return the marks that a search asks for, each with the words that ask: 3 notches, two dots."""
    return tuple((_mark_of(found), found.group(0)) for found in _PHRASE.finditer(text))


def _mark_of(found: re.Match[str]) -> Mark:
    before, kind, kind_first, after, figure = found.groups()
    if figure:
        return Mark(STAMP, figure.upper())
    many = (before or after).lower()
    sign = str(NUMBER_WORDS.index(many)) if many in NUMBER_WORDS else many
    kept = NOTCHES if (kind or kind_first).lower() == "notch" else DOTS
    try:
        return Mark(kept, read_sign(kept, sign))
    except BadSign:
        return Mark(kept, sign)


PLACES = {
    (NOTCHES, "rod"): "across the edge of one end",
    (NOTCHES, "tube"): "across the edge of one end",
    (NOTCHES, "plate"): "in one edge near an end, clear of the corner",
    (DOTS, "rod"): "on one end face",
    (DOTS, "tube"): "on the outside close to one end",
    (DOTS, "plate"): "on a side that is not ground, near one end",
    (STAMP, "rod"): "on one end face",
    (STAMP, "tube"): "on the outside close to one end",
    (STAMP, "plate"): "on a side that is not ground, near one end",
}
HOW = {
    NOTCHES: "Notches: round file, 1 mm (0.04 in) deep, 3 mm (0.12 in) apart. Scale hides a shallow one, a "
    "crack starts in a sharp one.",
    DOTS: "Dots: centre punch, 1 mm (0.04 in) deep, 4 mm (0.16 in) apart. Scale fills a shallow one.",
    STAMP: "Figures: stamp struck deep, as scale takes the edge off. Its corners are sharp: only where "
    "nothing bends.",
}
KEEP_OFF = (
    "Never on a face that is ground, that wears or is measured, nor in a corner, a thread or where it bends."
)
TAGS_LATER = "Paper tags burn: tie them on afterwards."


def where_to_put(mark: Mark, shape: str) -> str:
    """Return where on a piece a mark goes."""
    return PLACES[mark.kind, shape]
