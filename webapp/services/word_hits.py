"""Which batches and things hold a word, wherever in the book it stands: two queries a word.

A batch holds the words of everything that hangs on it: its pieces, their readings, what happened, what it
was planned and ran with. A removed record's words do not count; a box that was taken out of the shop still
names the batches that ran in it.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import text
from sqlmodel import Session

from webapp.forms.logbook import LARGEST_ID
from webapp.store.word_index import FIELDS, ID_ROOM, INDEX, PLACES, VOCABULARY, places_of

MOST_WORDS = 12
MOST_HOLDING = 40
SHORTEST_PART = 3
_TYPED = re.compile(r'"([^"]+)"|(\S+)')
NUMBER_PLACE = next(place for field, place in PLACES.items() if field.name == "number")
THINGS = (
    "part", "bar", "plan", "plansupplies", "box", "mix", "bath", "instrument", "instrumentcheck", "forge",
    "shopchange", "reminder", "ownline",
)  # fmt: skip


@dataclass(frozen=True)
class Word:
    """One word or quoted phrase as the index is asked for it; `number` where it may be a batch's.

    `part` is what other words may hold in their middle; empty where that is not looked for.
    """

    match: str
    number: int | None = None
    part: str = ""


@dataclass(frozen=True)
class Hit:
    """A field that holds a word: of which batch, and of which piece of it, if of one."""

    batch_id: int
    item_id: int | None
    place: int
    record_id: int

    @property
    def rowid(self) -> int:
        """Return the hit's row of the index."""
        return self.place * ID_ROOM + self.record_id


def words_of(typed: str) -> tuple[Word, ...]:
    """Return what to look for: nothing that is typed is an error, and signs alone mean nothing."""
    plain = "".join(" " if unicodedata.category(sign)[0] == "C" else sign for sign in typed)
    found = (phrase or word for phrase, word in _TYPED.findall(plain))
    return tuple(_word(one) for one in found if any(map(_is_letter, one)))[:MOST_WORDS]


def _is_letter(sign: str) -> bool:
    return unicodedata.category(sign)[0] in "LN"


def _word(typed: str) -> Word:
    # one letter is a mark, not the beginning of half the book
    match = '"' + typed.replace('"', '""') + '"' + ("*" if sum(map(_is_letter, typed)) > 1 else "")
    number = typed.strip("#.,;:()\"'")
    is_number = number.isdecimal() and number.isascii()
    return Word(match, min(int(number), LARGEST_ID) if is_number else None, _part(typed))


def _part(typed: str) -> str:
    """Return a word as the index keeps it, if it is long enough to be looked for in the middle of others."""
    plain = unicodedata.normalize("NFKD", typed.casefold())
    bare = "".join(sign for sign in plain if unicodedata.category(sign) != "Mn")
    return bare if bare.isalpha() and len(bare) >= SHORTEST_PART else ""


def _match(session: Session, word: Word) -> str:
    """Return what the index is asked for: what begins with a word, and the words that hold it."""
    if not word.part:
        return word.match
    known: dict[str, str] = session.info.setdefault("words that hold", {})
    if word.part not in known:
        terms = session.execute(_HOLDING, {"part": word.part}).scalars()
        known[word.part] = " OR ".join(f'"{term}"' for term in terms)
    others = known[word.part]
    return f"({word.match} OR {others})" if others else word.match


def batches_with(session: Session, words: Iterable[Word]) -> set[int]:
    """Return the ids of the batches that hold every one of the words; those in the bin are among them."""
    return _with_all(_batches_with(session, word) for word in words)


def things_with(session: Session, words: Iterable[Word]) -> set[tuple[str, int]]:
    """Return the table and id of each thing, part or plan that itself holds every one of the words."""
    return _with_all(_things_with(session, word) for word in words)


def _with_all(found: Iterable[set[Any]]) -> set[Any]:
    together: set[Any] | None = None
    for own in found:
        together = own if together is None else together & own
        if not together:
            break
    return together or set()


def _batches_with(session: Session, word: Word) -> set[int]:
    asked = {"words": _match(session, word), "number": word.number, "room": ID_ROOM}
    return set(session.execute(_EVERY_BATCH, asked).scalars())


def _things_with(session: Session, word: Word) -> set[tuple[str, int]]:
    rows = session.execute(_EVERY_THING, {"words": _match(session, word), "room": ID_ROOM})
    return {(FIELDS[place].table, record_id) for place, record_id in rows}


def fields_of(session: Session, batch_ids: Collection[int]) -> list[Hit]:
    """Return every field that may hold a word of some batches."""
    rows = session.execute(_FIELDS_OF_BATCHES, {"batches": json.dumps(list(batch_ids))})
    return [
        Hit(batch_id, item_id, place, record_id)
        for batch_id, item_id, table, record_id in rows
        for place in _PLACES_OF[table]
    ]


def rows_with(session: Session, word: Word, rowids: Collection[int]) -> set[int]:
    """Return which rows of the index hold a word."""
    asked = {"words": _match(session, word), "rows": json.dumps(list(rowids))}
    return set(session.execute(_ROWS_WITH, asked).scalars())


def marked(session: Session, words: Sequence[Word], rowids: Collection[int]) -> dict[int, str]:
    """Return the text of rows of the index, cut to what was found in it, which stands between two marks."""
    asked = {"words": " OR ".join(_match(session, word) for word in words), "rows": json.dumps(list(rowids))}
    return {row[0]: row[1] for row in session.execute(_MARKED, asked)}


MARK, MARK_END = "\ue000", "\ue001"
LONGEST_CUT = 18
# the sign before rowid has the words looked up first, once for all rows
_AMONG = f"FROM {INDEX} WHERE {INDEX} MATCH :words AND +rowid IN (SELECT value FROM json_each(:rows))"
_HOLDING = text(
    f"SELECT term FROM {VOCABULARY} WHERE instr(term, :part) > 1 ORDER BY doc DESC LIMIT {MOST_HOLDING}"
)
_ROWS_WITH = text(f"SELECT rowid {_AMONG}")
_MARKED = text(f"SELECT rowid, snippet({INDEX}, 0, '{MARK}', '{MARK_END}', '…', {LONGEST_CUT}) {_AMONG}")

_ITEMS = "item.deleted_at IS NULL"
# what hangs on a batch: by table, as batch, piece and record
HELD_BY_BATCHES: tuple[tuple[str, str], ...] = (
    ("batch", "SELECT id AS batch_id, NULL AS item_id, id AS record_id FROM batch"),
    ("event", "SELECT batch_id, NULL AS item_id, id AS record_id FROM event WHERE deleted_at IS NULL"),
    ("item", f"SELECT batch_id, id AS item_id, id AS record_id FROM item WHERE {_ITEMS}"),
    (
        "reading",
        "SELECT item.batch_id, item.id AS item_id, reading.id AS record_id FROM item "
        f"JOIN reading ON reading.item_id = item.id WHERE {_ITEMS} AND reading.deleted_at IS NULL",
    ),
    (
        "photo",
        "SELECT batch_id, NULL AS item_id, id AS record_id FROM photo "
        "WHERE deleted_at IS NULL AND batch_id IS NOT NULL",
    ),
    (
        "photo",
        "SELECT item.batch_id, item.id AS item_id, photo.id AS record_id FROM item "
        f"JOIN photo ON photo.item_id = item.id WHERE {_ITEMS} AND photo.deleted_at IS NULL",
    ),
    (
        "step",
        "SELECT batch_id, NULL AS item_id, id AS record_id FROM step "
        "WHERE deleted_at IS NULL AND batch_id IS NOT NULL",
    ),
    (
        "step",
        "SELECT item.batch_id, item.id AS item_id, step.id AS record_id FROM item "
        f"JOIN step ON step.item_id = item.id WHERE {_ITEMS} AND step.deleted_at IS NULL",
    ),
    (
        "heatnote",
        "SELECT batch.id AS batch_id, NULL AS item_id, heatnote.id AS record_id FROM batch "
        "JOIN heatnote ON heatnote.fire_id = batch.fire_id WHERE heatnote.deleted_at IS NULL",
    ),
    (
        "gasweighing",
        "SELECT batch.id AS batch_id, NULL AS item_id, gasweighing.id AS record_id FROM batch "
        "JOIN gasweighing ON gasweighing.fire_id = batch.fire_id WHERE gasweighing.deleted_at IS NULL",
    ),
    ("fire", "SELECT id AS batch_id, NULL AS item_id, fire_id AS record_id FROM batch"),
    (
        "plan",
        "SELECT id AS batch_id, NULL AS item_id, plan_id AS record_id FROM batch WHERE plan_id IS NOT NULL",
    ),
    (
        "part",
        "SELECT batch_id, NULL AS item_id, part_id AS record_id FROM item "
        f"WHERE {_ITEMS} AND part_id IS NOT NULL",
    ),
    ("bar", f"SELECT batch_id, NULL AS item_id, bar_id AS record_id FROM item WHERE {_ITEMS}"),
    ("box", "SELECT id AS batch_id, NULL AS item_id, box_id AS record_id FROM batch"),
    ("mix", "SELECT id AS batch_id, NULL AS item_id, mix_id AS record_id FROM batch"),
    (
        "bath",
        "SELECT batch_id, NULL AS item_id, bath_id AS record_id FROM step "
        "WHERE deleted_at IS NULL AND batch_id IS NOT NULL AND bath_id IS NOT NULL",
    ),
    (
        "bath",
        "SELECT item.batch_id, NULL AS item_id, step.bath_id AS record_id FROM item "
        "JOIN step ON step.item_id = item.id "
        f"WHERE {_ITEMS} AND step.deleted_at IS NULL AND step.bath_id IS NOT NULL",
    ),
    (
        "instrument",
        "SELECT batch.id AS batch_id, NULL AS item_id, fire.heat_instrument_id AS record_id FROM batch "
        "JOIN fire ON fire.id = batch.fire_id",
    ),
    (
        "forge",
        "SELECT batch.id AS batch_id, NULL AS item_id, fire.forge_id AS record_id FROM batch "
        "JOIN fire ON fire.id = batch.fire_id",
    ),
)
_PLACES_OF = {table: places_of(table) for table, _ in HELD_BY_BATCHES}
_HIT = (
    f"WITH hit AS MATERIALIZED (SELECT rowid / :room AS place, rowid % :room AS id FROM {INDEX} "
    f"WHERE {INDEX} MATCH :words), there AS MATERIALIZED (SELECT DISTINCT place FROM hit)"
)


def _listed(places: Iterable[int]) -> str:
    return ", ".join(map(str, places))


def _hits_among(table: str, held: str) -> str:
    """Return the batches that a table's hits hang on; without a hit in it no row is looked at."""
    places = _listed(_PLACES_OF[table])
    return (
        f"SELECT held.batch_id FROM hit JOIN ({held}) AS held ON held.record_id = hit.id "
        f"WHERE EXISTS (SELECT 1 FROM there WHERE place IN ({places})) AND hit.place IN ({places})"
    )


_HITS = " UNION ALL ".join(_hits_among(table, held) for table, held in HELD_BY_BATCHES if table != "batch")
_EVERY_BATCH = text(
    f"{_HIT} SELECT DISTINCT batch_id FROM ({_HITS}) UNION SELECT hit.id FROM hit "
    f"WHERE hit.place IN ({_listed(_PLACES_OF['batch'])}) AND (hit.place <> {NUMBER_PLACE} "
    "OR :number IS NULL OR hit.id IN (SELECT id FROM batch WHERE number = :number))"
)
_FIELDS_OF_BATCHES = text(
    "SELECT DISTINCT batch_id, item_id, owner, record_id FROM ("
    + " UNION ALL ".join(
        f"SELECT batch_id, item_id, '{table}' AS owner, record_id FROM ({held}) "
        "WHERE batch_id IN (SELECT value FROM json_each(:batches))"
        for table, held in HELD_BY_BATCHES
    )
    + ")"
)
_EVERY_THING = text(f"{_HIT} SELECT place, id FROM hit WHERE place IN ({_listed(places_of(*THINGS))})")
