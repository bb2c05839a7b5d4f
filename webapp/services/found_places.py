"""Where in a batch, a part or a thing of the shop the words that were looked for stand, marked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from webapp.services.search_numbers import find_numbers, numbers_in
from webapp.services.search_words import asked_marks
from webapp.services.steel_marks import Mark, say_mark
from webapp.services.word_hits import (
    MARK,
    MARK_END,
    NUMBER_PLACE,
    Hit,
    fields_of,
    marked,
    rows_with,
    words_of,
)
from webapp.store.tables import Item
from webapp.store.word_index import FIELDS, WordField

MOST_PLACES = 3
NOTES_OF_BATCH = ("given up because", "set aside because", "note")
FIELD_WORDS = {
    ("batch", "number"): "number",
    ("batch", "given_up_why"): "given up because",
    ("batch", "left_out_why"): "set aside because",
    ("batch", "note"): "note",
    ("batch", "own_lines"): "also noted",
    ("item", "own_lines"): "also noted of {piece}",
    ("part", "own_lines"): "also noted of the part",
    ("bar", "own_lines"): "also noted of the steel",
    ("event", "kind"): "happened",
    ("event", "note"): "what happened",
    ("item", "left_out_why"): "{piece} set aside because",
    ("item", "scrapped_why"): "{piece} thrown away because",
    ("item", "note"): "note of {piece}",
    ("item", "mark"): "mark",
    ("item", "steel_place"): "mark of {piece}",
    ("item", "name"): "{kind}",
    ("reading", "left_out_why"): "reading of {piece} set aside because",
    ("reading", "note"): "note of a reading of {piece}",
    ("photo", "caption"): "photo",
    ("photo", "note"): "note of a photo",
    ("step", "note"): "note of a step",
    ("step", "settings"): "closed that time with",
    ("heatnote", "note"): "note of a heat",
    ("gasweighing", "note"): "note of the gas",
    ("plan", "note"): "note of its plan",
    ("plansupplies", "note"): "note of its supplies",
    ("instrumentcheck", "against"): "checked against",
    ("instrumentcheck", "note"): "note of a check",
    ("fire", "note"): "note of the fire",
    ("shopchange", "kind"): "changed",
    ("shopchange", "note"): "what was changed",
    ("reminder", "what"): "to be done",
    ("reminder", "note"): "note of a reminder",
    ("ownline", "label"): "line",
}
THING_WORDS = {
    "part": "part",
    "bar": "steel",
    "box": "box",
    "mix": "mix",
    "bath": "bath",
    "instrument": "instrument",
    "forge": "forge",
}


@dataclass(frozen=True)
class Words:
    """A stretch of text; `is_found` where it is what was looked for."""

    text: str
    is_found: bool


@dataclass(frozen=True)
class FoundPlace:
    """One field that holds what was looked for: which, its words, and its piece's page, if it is of one.

    `where` is empty for the name of what the place is shown under.
    """

    where: str
    words: tuple[Words, ...]
    href: str = ""


def places_in(
    session: Session, typed: str, items: Mapping[int, Sequence[Item]]
) -> dict[int, tuple[FoundPlace, ...]]:
    """Return the first few places of each batch that hold what was typed, by its pieces."""
    words, marks = words_of(typed), asked_marks(typed)
    fields = fields_of(session, items.keys())
    rowids = {field.rowid for field in fields}
    holding = [rows_with(session, word, rowids) for word in words]
    by_batch: dict[int, dict[Hit, set[int]]] = defaultdict(dict)
    for field in fields:
        held = {number for number, rows in enumerate(holding) if field.rowid in rows}
        if held and field.place != NUMBER_PLACE:
            by_batch[field.batch_id][field] = held
    pieces = {item.id or 0: item for own in items.values() for item in own}
    numbers = _numbers(session, typed, pieces, items)
    # pieces of one name say the same: more than are shown are looked up, and told once
    chosen = {batch_id: _most_telling(own)[: 4 * MOST_PLACES] for batch_id, own in by_batch.items()}
    texts = marked(session, words, {hit.rowid for hits in chosen.values() for hit in hits})
    return {
        batch_id: (
            *_bearing(own, marks),
            *numbers.get(batch_id, ()),
            *_without_repeats(chosen.get(batch_id, ()), texts, pieces),
        )[:MOST_PLACES]
        for batch_id, own in items.items()
    }


def _bearing(pieces: Iterable[Item], marks: Collection[Mark]) -> tuple[FoundPlace, ...]:
    """Return the pieces that bear a mark that was asked for."""
    found = ((piece, Mark(piece.steel_mark, piece.steel_sign)) for piece in pieces)
    return tuple(
        FoundPlace(f"{_called(piece)} bears", (Words(say_mark(mark), is_found=True),), f"/items/{piece.id}")
        for piece, mark in found
        if mark in marks
    )


def _numbers(
    session: Session, typed: str, pieces: Mapping[int, Item], batches: Collection[int]
) -> Mapping[int, tuple[FoundPlace, ...]]:
    """Return where the numbers that were asked for stand, by batch."""
    found: dict[int, dict[FoundPlace, None]] = defaultdict(dict)
    asked = find_numbers(typed)
    for held in numbers_in(session, asked, batches) if asked else ():
        piece = pieces.get(held.item_id or 0)
        where = f"{held.what.lower()} of {_called(piece)}" if piece else held.what.lower()
        href = f"/items/{piece.id}" if piece else ""
        found[held.batch_id][FoundPlace(where, (Words(held.said, is_found=True),), href)] = None
    return {batch_id: tuple(places) for batch_id, places in found.items()}


def _called(piece: Item | None) -> str:
    if piece is None:
        return "piece"
    return f"{piece.kind} {piece.mark}" if piece.mark else piece.kind


def _most_telling(hits: Mapping[Hit, set[int]]) -> list[Hit]:
    """Return hits so that every word comes first once; then what tells most."""
    left = sorted(hits, key=lambda hit: (hit.place, hit.record_id))
    told: set[int] = set()
    first = []
    for hit in sorted(left, key=lambda hit: -len(hits[hit])):
        if not hits[hit] <= told:
            first.append(hit)
            told |= hits[hit]
    return [*first, *(hit for hit in left if hit not in first)]


def _without_repeats(
    hits: Iterable[Hit], texts: Mapping[int, str], pieces: Mapping[int, Item]
) -> tuple[FoundPlace, ...]:
    found: dict[tuple[str, str], FoundPlace] = {}
    for hit in hits:
        text = texts.get(hit.rowid, "")
        if text:
            piece = pieces.get(hit.item_id or 0)
            where = where_words(FIELDS[hit.place], piece)
            href = f"/items/{piece.id}" if piece else ""
            found.setdefault((where, text), FoundPlace(where, in_stretches(text), href))
    return tuple(found.values())[:MOST_PLACES]


def where_words(field: WordField, piece: Item | None = None) -> str:
    """Return what a field is called on a page."""
    told = FIELD_WORDS.get((field.table, field.name))
    if told:
        kind = piece.kind if piece else "piece"
        return told.format(kind=kind, piece=_called(piece))
    thing = THING_WORDS[field.table]
    return thing if field.name == "name" else f"{field.name.replace('_', ' ')} of the {thing}"


def in_stretches(text: str) -> tuple[Words, ...]:
    """Return a marked text as stretches that were looked for and others."""
    stretches = []
    for place, piece in enumerate(text.split(MARK)):
        found, _, rest = piece.partition(MARK_END) if place else ("", "", piece)
        stretches += [Words(found, is_found=True), Words(rest, is_found=False)]
    return tuple(stretch for stretch in stretches if stretch.text)
