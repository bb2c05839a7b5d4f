"""The logbook: all batches as a list that can be filtered, ordered, searched and turned page by page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from sqlmodel import Session

from webapp.forms.ask import Choice
from webapp.forms.logbook import LogbookQuery, Order
from webapp.forms.shop import SEALS
from webapp.services.batch_view import STATE_LOOKS
from webapp.services.choices import PickView, named
from webapp.services.found_places import NOTES_OF_BATCH, FoundPlace, places_in
from webapp.services.found_things import FoundThings, find_things
from webapp.services.logbook_own import own_picks
from webapp.services.logbook_rows import Ends, LogRow, find_batches
from webapp.services.showing import Showing, say_duration
from webapp.services.step_rules import HARDENED, STATE_WORDS
from webapp.services.word_hits import words_of
from webapp.store.tables import Bar, Batch, Bath, Box, Item, Mix, Step

ADDRESS = "/logbook"
Asked = Mapping[str, str | list[str]]
ORDERS = (
    Choice("newest", "Newest first"),
    Choice("oldest", "Oldest first"),
    Choice("number", "By number"),
    Choice("deepest", "Deepest case first"),
    Choice("shallowest", "Shallowest case first"),
    Choice("hardest", "Hardest first"),
    Choice("softest", "Softest first"),
)
LONGEST_NOTE = 90
SET_FILTERS = {"box": "Box", "seal": "Seal", "mix": "Mix", "bath": "Bath", "bar": "Steel"}


@dataclass(frozen=True)
class StateLink:
    """One state with how many batches are in it, as a filter."""

    words: str
    count: int
    href: str
    is_here: bool


@dataclass(frozen=True)
class LogLine:
    """One batch as a line of the list."""

    number: int
    href: str
    day: str
    state_words: str
    look: str
    ran_with: str
    soak: str
    packed: str
    depth: str
    hardness: str
    is_odd: bool
    is_set_aside: bool
    note: str
    found: tuple[FoundPlace, ...] = ()


@dataclass(frozen=True)
class LogbookView:
    """The logbook's page."""

    lines: tuple[LogLine, ...]
    states: tuple[StateLink, ...]
    picks: tuple[PickView, ...]
    own_picks: tuple[PickView, ...]
    search: str
    state: str
    odd: bool
    aside: bool
    things: FoundThings
    counted: str
    is_filtered: bool
    is_empty: bool
    is_open: bool
    newer_href: str
    older_href: str
    page_words: str
    csv_href: str


def view_logbook(
    session: Session, query: LogbookQuery, showing: Showing, usual: Order | None = None
) -> LogbookView:
    """Return a page of the logbook, in its own order or else the usual one."""
    asked = query.set_filters
    query = query.model_copy(update={"sort": query.sort or usual})
    found = find_batches(session, query)
    words = words_of(query.q)
    places = (
        places_in(session, query.q, {row.batch.id or 0: row.items for row in found.rows}) if words else {}
    )
    narrowing = {name: text for name, text in asked.items() if name != "sort"}
    return LogbookView(
        lines=tuple(_line(row, showing, places.get(row.batch.id or 0, ())) for row in found.rows),
        states=_states(found.counts, asked),
        picks=_picks(session, query),
        own_picks=own_picks(session, query.own_answers),
        search=query.q,
        state=query.state or "",
        odd=bool(query.odd),
        aside=bool(query.aside),
        things=find_things(session, words) if words else FoundThings(),
        counted="1 batch" if found.total == 1 else f"{found.total} batches",
        is_filtered=bool(narrowing),
        is_empty=not found.total and not narrowing,
        is_open=bool(narrowing.keys() - {"state", "q"}) or "sort" in asked,
        newer_href=_page_href(asked, found.page - 1) if found.page > 1 else "",
        older_href=_page_href(asked, found.page + 1) if found.page < found.pages else "",
        page_words=f"Page {found.page} of {found.pages}" if found.pages > 1 else "",
        csv_href=_href(asked, f"{ADDRESS}.csv"),
    )


def _href(asked: Asked, address: str = ADDRESS) -> str:
    return f"{address}?{urlencode(asked, doseq=True)}" if asked else address


def _page_href(asked: Asked, page: int) -> str:
    return _href({**asked, "page": str(page)})


def _states(counts: Mapping[str, int], asked: Asked) -> tuple[StateLink, ...]:
    rest = {name: text for name, text in asked.items() if name != "state"}
    here = asked.get("state", "")
    links = [StateLink("All", sum(counts.values()), _href(rest), not here)]
    for state, words in STATE_WORDS.items():
        if counts.get(state) or state == here:
            href = _href({**rest, "state": state})
            links.append(StateLink(words.capitalize(), counts.get(state, 0), href, state == here))
    return tuple(links)


def _picks(session: Session, query: LogbookQuery) -> tuple[PickView, ...]:
    offered: dict[str, Sequence[Choice]] = {
        "box": named(session, Box),
        "seal": SEALS,
        "mix": named(session, Mix),
        "bath": named(session, Bath),
        "bar": named(session, Bar),
    }
    picks = [
        PickView(name, label, tuple(offered[name]), str(getattr(query, name) or ""))
        for name, label in SET_FILTERS.items()
    ]
    return (*picks, PickView("sort", "Order", ORDERS, query.sort or "newest"))


def _line(row: LogRow, showing: Showing, found: tuple[FoundPlace, ...]) -> LogLine:
    batch = row.batch
    return LogLine(
        number=batch.number,
        href=f"/batches/{batch.id}",
        day=showing.day(batch.day),
        state_words=_state_words(row),
        look=STATE_LOOKS[batch.state],
        ran_with=f"{row.box.name}, {row.mix.name}",
        soak=_soak_words(row.soak, showing).replace(" °", "\u00a0°"),
        packed=packed_words(row.items),
        depth=_depth_words(row.depth_m, showing),
        hardness=_hardness_words(row.hardness_HRC),
        is_odd=bool(row.odd),
        is_set_aside=bool(batch.left_out_why),
        note="" if any(place.where in NOTES_OF_BATCH for place in found) else _note(batch),
        found=found,
    )


def _state_words(row: LogRow) -> str:
    to_measure = row.batch.state == HARDENED and not row.readings
    return "to measure" if to_measure else STATE_WORDS[row.batch.state]


def _soak_words(soak: Step | None, showing: Showing) -> str:
    if soak is None or soak.temperature_K is None:
        return ""
    heat = showing.temperature(soak.temperature_K, soak.temperature_spread_K)
    return f"{say_duration(soak.seconds, soak.seconds_spread)} at {heat}" if soak.seconds else heat


def packed_words(items: Sequence[Item]) -> str:
    """Return what lies in a box: its parts by name, its coupons counted."""
    parts = [item for item in items if item.kind == "part"]
    coupons = len(items) - len(parts)
    named_parts = [f"{item.name} × {item.count}" if item.count > 1 else item.name for item in parts]
    counted = "1 coupon" if coupons == 1 else f"{coupons} coupons"
    return ", ".join([*named_parts, *([counted] if coupons else [])])


def _depth_words(depth_m: Ends | None, showing: Showing) -> str:
    if depth_m is None:
        return ""
    low, high = (showing.length(end) for end in depth_m)
    return (low if low == high else f"{low.rpartition(' ')[0]} to {high}").replace(" mm", "\u00a0mm")


def _hardness_words(hardness_HRC: Ends | None) -> str:
    if hardness_HRC is None:
        return ""
    low, high = (f"{end:g}" for end in hardness_HRC)
    return f"{low}\u00a0HRC" if low == high else f"{low} to {high}\u00a0HRC"


def _note(batch: Batch) -> str:
    """Return why a batch was given up or set aside, else its note, cut to a line."""
    words = " ".join((batch.given_up_why or batch.left_out_why or batch.note).split())
    return words if len(words) <= LONGEST_NOTE else f"{words[:LONGEST_NOTE].rstrip()}…"
