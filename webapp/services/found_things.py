"""Parts, steels, plans and things of the shop that hold what was looked for, with the way to each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from webapp.services.batch_rows import row_id
from webapp.services.change_words import LABELS
from webapp.services.dated_changes import LISTS_OF_ROLE
from webapp.services.found_places import FoundPlace, in_stretches, where_words
from webapp.services.word_hits import Word, marked, things_with
from webapp.store.tables import (
    Bar,
    Bath,
    Box,
    Forge,
    Instrument,
    InstrumentCheck,
    Mix,
    OwnLine,
    Part,
    Plan,
    PlanSupplies,
    Reminder,
    ShopChange,
)
from webapp.store.word_index import FIELDS, ID_ROOM, PLACES

MOST_THINGS = 12
NAMES = ("name", "what", "label")


@dataclass(frozen=True)
class FoundThing:
    """A thing that holds what was looked for: what it is, its name, its page and where the words stand."""

    kind: str
    name: str
    href: str
    places: tuple[FoundPlace, ...]


@dataclass(frozen=True)
class FoundThings:
    """The first few things found, and how many there are."""

    shown: tuple[FoundThing, ...] = ()
    total: int = 0


Told = tuple[str, str, str]  # what it is, its name, its page


def find_things(session: Session, words: Sequence[Word]) -> FoundThings:
    """Return what of the shop holds every one of the words."""
    by_table: dict[str, list[int]] = defaultdict(list)
    for table, record_id in sorted(things_with(session, words)):
        by_table[table].append(record_id)
    told: list[tuple[str, int, Told]] = []
    total = 0
    for table, (kind, tell) in TABLES.items():
        if table in by_table:
            rows = _there(session, kind, by_table[table])
            told += [(table, row_id(row), tell(session, row)) for row in rows[:MOST_THINGS]]
            total += len(rows)
    shown = told[:MOST_THINGS]
    texts = _texts(session, words, [(table, record_id) for table, record_id, _ in shown])
    return FoundThings(
        tuple(FoundThing(*one, _places(table, record_id, texts)) for table, record_id, one in shown),
        total,
    )


def _there(session: Session, kind: type[Any], ids: Collection[int]) -> list[Any]:
    query = select(kind).where(col(kind.id).in_(ids), col(kind.deleted_at).is_(None)).order_by(col(kind.id))
    return list(session.exec(query))


def _texts(session: Session, words: Sequence[Word], things: Collection[tuple[str, int]]) -> Mapping[int, str]:
    rowids = [
        PLACES[field] * ID_ROOM + record_id
        for table, record_id in things
        for field in FIELDS
        if field.table == table
    ]
    return marked(session, words, rowids) if rowids else {}


def _places(table: str, record_id: int, texts: Mapping[int, str]) -> tuple[FoundPlace, ...]:
    found = []
    for field in FIELDS:
        text = texts.get(PLACES[field] * ID_ROOM + record_id, "") if field.table == table else ""
        if text and field.name != "kind":
            where = "" if field.name in NAMES else where_words(field)
            found.append(FoundPlace(where, in_stretches(text)))
    return tuple(found)


def _thing(kind: str, address: str) -> Callable[[Session, Any], Told]:
    return lambda _session, row: (kind, row.name, f"{address}/{row.id}")


def _instrument(_session: Session, row: Instrument) -> Told:
    return "instrument", row.name, f"/shop/{LISTS_OF_ROLE[row.role]}/{row.id}"


def _check(session: Session, row: InstrumentCheck) -> Told:
    owner = session.get(Instrument, row.instrument_id)
    role, name = (owner.role, owner.name) if owner else ("heat", "instrument")
    return "check", f"Check of {name}", f"/shop/{LISTS_OF_ROLE[role]}/{row.instrument_id}/checks"


def _plan(session: Session, row: Plan) -> Told:
    part = session.get(Part, row.part_id)
    return "plan", f"Plan {row.id} for {part.name}" if part else f"Plan {row.id}", f"/plans/{row.id}"


def _supplies(_session: Session, row: PlanSupplies) -> Told:
    return "plan", f"Supplies of plan {row.plan_id}", f"/plans/{row.plan_id}/supplies"


def _reminder(_session: Session, row: Reminder) -> Told:
    return "reminder", row.what, "/shop/reminders"


def _own_line(_session: Session, row: OwnLine) -> Told:
    return "line of your own", row.label, "/shop/own-lines"


def _change(_session: Session, row: ShopChange) -> Told:
    return "change", f"{LABELS.get(row.kind, row.kind)}, {row.changed_on.isoformat()}", "/forge/changes"


TABLES: Mapping[str, tuple[type[Any], Callable[[Session, Any], Told]]] = {
    "part": (Part, _thing("part", "/parts")),
    "plan": (Plan, _plan),
    "plansupplies": (PlanSupplies, _supplies),
    "bar": (Bar, _thing("steel", "/bars")),
    "box": (Box, _thing("box", "/shop/boxes")),
    "mix": (Mix, _thing("mix", "/shop/mixes")),
    "bath": (Bath, _thing("bath", "/shop/baths")),
    "instrument": (Instrument, _instrument),
    "instrumentcheck": (InstrumentCheck, _check),
    "forge": (Forge, _thing("forge", "/shop/forges")),
    "shopchange": (ShopChange, _change),
    "reminder": (Reminder, _reminder),
    "ownline": (OwnLine, _own_line),
}
