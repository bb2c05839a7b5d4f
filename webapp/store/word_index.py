"""Every word of the logbook in one full-text index (SQLite FTS5), kept by triggers.

One row a field: its rowid is the field's place in `FIELDS` and the record's id. The index is a cache whose
form is stated here and not in a migration: triggers see every write, whoever makes it, a copy of the file
carries index and triggers along, and `ensure_words` builds both anew where they are missing, of another
form, or do not agree with the tables. Removed records stay in it: who reads it says which of them count.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from sqlalchemy.engine import Connection
from sqlalchemy.exc import DatabaseError

from webapp.store.engine import Store, plain_trouble
from webapp.store.errors import CannotOpen

INDEX = "wordindex"
VOCABULARY = f"{INDEX}_terms"
ID_ROOM = 2**40
_MAKE_INDEX = (
    f"CREATE VIRTUAL TABLE {INDEX} USING "
    "fts5(words, tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3')"
)
_MAKE_VOCABULARY = f"CREATE VIRTUAL TABLE {VOCABULARY} USING fts5vocab({INDEX}, row)"


@dataclass(frozen=True)
class WordField:
    """A field whose words are found; `key`, if given, is the text's place in a JSON column, * all of it."""

    table: str
    name: str
    key: str = ""
    said: str = ""

    def text_of(self, row: str) -> str:
        """Return the SQL of the field's text in a row."""
        if self.key == "*":
            return f"(SELECT group_concat(value, ' · ') FROM json_each({row}.\"{self.name}\"))"
        if self.key:
            return f"json_extract({row}.\"{self.name}\", '$.{self.key}')"
        return f"'{self.said} ' || {row}.\"{self.name}\"" if self.said else f'{row}."{self.name}"'


def _of(table: str, *names: str) -> tuple[WordField, ...]:
    return tuple(WordField(table, name) for name in names)


# what tells most comes first: a page shows the first few
FIELDS: tuple[WordField, ...] = (
    WordField("batch", "number", said="batch"),
    *_of("batch", "given_up_why", "left_out_why", "note"),
    WordField("batch", "own_lines", key="*"),
    *_of("event", "kind", "note"),
    *_of("item", "left_out_why", "scrapped_why", "note"),
    WordField("item", "own_lines", key="*"),
    *_of("reading", "left_out_why", "note"),
    *_of("photo", "caption", "note"),
    *_of("step", "note"),
    WordField("step", "settings", key="seal"),
    *_of("heatnote", "note"),
    *_of("gasweighing", "note"),
    *_of("plan", "note"),
    *_of("plansupplies", "note"),
    *_of("item", "mark", "name", "steel_place"),
    *_of("part", "name", "note", "soft_area"),
    WordField("part", "own_lines", key="*"),
    *_of("bar", "name", "grade", "note"),
    WordField("bar", "own_lines", key="*"),
    *_of("box", "name", "seal", "fill", "note"),
    *_of("mix", "name", "charcoal", "substance", "note"),
    *_of("bath", "name", "medium", "note"),
    *_of("instrument", "name", "method", "note"),
    *_of("instrumentcheck", "against", "note"),
    *_of("forge", "name", "fuel", "note"),
    *_of("fire", "note"),
    *_of("shopchange", "kind", "note"),
    *_of("reminder", "what", "note"),
    *_of("ownline", "label"),
)
PLACES = {field: place for place, field in enumerate(FIELDS)}


def places_of(*tables: str) -> tuple[int, ...]:
    """Return the places of the fields of some tables."""
    return tuple(place for field, place in PLACES.items() if field.table in tables)


def ensure_words(store: Store) -> bool:
    """Build the index anew unless it has today's form and agrees with the tables; return whether it did."""
    try:
        return _ensure_words(store)
    except DatabaseError as error:
        raise CannotOpen(f"The logbook {store.file} cannot be used: {plain_trouble(error)}.") from error


def _ensure_words(store: Store) -> bool:
    with store.lock, store.writer.begin() as connection:
        if _has_form(connection) and not count_stray(connection):
            return False
        drop_words(connection)
        connection.exec_driver_sql(_MAKE_INDEX)
        connection.exec_driver_sql(_MAKE_VOCABULARY)
        connection.exec_driver_sql(f"INSERT INTO {INDEX}(rowid, words) {_all_texts()}")
        for trigger in _triggers().values():
            connection.exec_driver_sql(trigger)
        return True


def drop_words(connection: Connection) -> None:
    """Take index and triggers out; a migration that rebuilds a table must not trip over them."""
    for name in _triggers_there(connection):
        connection.exec_driver_sql(f'DROP TRIGGER "{name}"')
    for table in (VOCABULARY, INDEX):
        connection.exec_driver_sql(f"DROP TABLE IF EXISTS {table}")


def count_stray(connection: Connection) -> int:
    """Return how many texts the index lacks, holds otherwise or holds without a record.

    Each text is looked up under its rowid; two lists held against each other are sorted first, for thrice the
    time, at every start.
    """
    told, agreeing, held = connection.exec_driver_sql(
        f"WITH told(id, words) AS ({_all_texts()}) "
        f"SELECT count(*), count(CASE WHEN held.c0 = told.words THEN 1 END), "
        f"(SELECT count(*) FROM {INDEX}_content) "
        f"FROM told LEFT JOIN {INDEX}_content AS held USING (id)"
    ).one()
    return int(told - agreeing + held - agreeing)


def _has_form(connection: Connection) -> bool:
    named = f"SELECT sql FROM sqlite_master WHERE name IN ('{INDEX}', '{VOCABULARY}') ORDER BY name"
    made = list(connection.exec_driver_sql(named).scalars())
    return made == [_MAKE_INDEX, _MAKE_VOCABULARY] and _triggers_there(connection) == _triggers()


def _triggers_there(connection: Connection) -> dict[str, str]:
    like = f"SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE '{INDEX}!_%' ESCAPE '!'"
    return {row[0]: row[1] for row in connection.exec_driver_sql(like)}


def _all_texts() -> str:
    return " UNION ALL ".join(_text(field, f'"{field.table}"', f' FROM "{field.table}"') for field in FIELDS)


def _text(field: WordField, row: str, source: str = "") -> str:
    text = field.text_of(row)
    return f"SELECT {PLACES[field] * ID_ROOM} + {row}.id, {text}{source} WHERE {text} <> ''"


@cache
def _triggers() -> dict[str, str]:
    """Return the triggers by name: what a row says goes in with it, is replaced, goes out."""
    made = {}
    for table in dict.fromkeys(field.table for field in FIELDS):
        own = [field for field in FIELDS if field.table == table]
        out = ", ".join(f"{PLACES[field] * ID_ROOM} + old.id" for field in own)
        take = f"DELETE FROM {INDEX} WHERE rowid IN ({out});"
        put = " ".join(f"INSERT INTO {INDEX}(rowid, words) {_text(field, 'new')};" for field in own)
        columns = ", ".join(f'"{name}"' for name in dict.fromkeys(["id", *(field.name for field in own)]))
        for when, does in (("INSERT", put), (f"UPDATE OF {columns}", f"{take} {put}"), ("DELETE", take)):
            name = f"{INDEX}_{table}_{when[:6].lower()}"
            made[name] = f'CREATE TRIGGER {name} AFTER {when} ON "{table}" BEGIN {does} END'
    return made
