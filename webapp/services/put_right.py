"""Putting a piece right: what is wrong with it by its readings, and what can be done about it tonight."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session

from model.remedy import Remedy
from webapp.services.batch_rows import get_row, kept, load_batch, row_id
from webapp.services.cautions import cautions_for
from webapp.services.put_right_asked import Answer, Piece, answer_for, latest_readings, part_of
from webapp.services.put_right_words import (
    WAY_WORDS,
    say_each,
    say_odds,
    say_outcome,
    say_size,
    say_standing,
    say_steps,
    say_why_not,
    say_wrong,
)
from webapp.services.showing import Showing
from webapp.store.tables import Item, Part

MOST_BATHS = 2  # in which another quench is offered, each from the heat that suits it best
CAUTIONS = {"box": ("box_in", "reheat", "quench"), "temper": ("temper",)}
REHEAT_CAUTIONS = ("reheat", "quench", "temper")
ROUGH = (
    "These readings are hard to square with what was noted of this piece, so the odds are rough: read it "
    "once more, and look whether a heat, a time or a bath was noted wrong."
)
UNREAD = "Nothing was read off it that counts here, so this is worked out from what was done to it alone."


@dataclass(frozen=True)
class PartChoice:
    """A part that a coupon may stand for."""

    name: str
    href: str


@dataclass(frozen=True)
class WayView:
    """One way to put a piece right; `key` says which to whoever starts it."""

    key: str
    title: str
    steps: tuple[str, ...]
    odds: str
    each: str
    comes: str
    size: str
    go: str


@dataclass(frozen=True)
class NoWayView:
    """A way that cannot help, and why."""

    title: str
    why: str


@dataclass(frozen=True)
class PutRightView:
    """The page of putting a piece right; `missing` says why nothing can be worked out."""

    item_id: int
    version: int
    words: str
    item_href: str
    part: str = ""
    part_id: int = 0
    choose: tuple[PartChoice, ...] = ()
    missing: str = ""
    wrong: str = ""
    behind: tuple[str, ...] = ()
    left: str = ""
    is_fine: bool = False
    doubts: tuple[str, ...] = ()
    ways: tuple[WayView, ...] = ()
    no_ways: tuple[NoWayView, ...] = ()
    cautions: tuple[str, ...] = ()


def view_put_right(
    session: Session, item_id: int, part_id: int | None, now: datetime, showing: Showing
) -> PutRightView:
    """Return what can be done with a piece; says what is missing where the story is not complete."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    words = f"{item.mark} {item.name}, batch {rows.batch.number}"
    bare = PutRightView(item_id, item.version, words, f"/items/{item_id}")
    part = part_of(session, rows, item, part_id)
    if part is None:
        return replace(bare, choose=_choices(session, item_id), missing=_no_part(session))
    bare = replace(bare, part=part.name, part_id=row_id(part))
    found = answer_for(session, Piece.of(rows, item, part), now)
    return replace(bare, missing=found) if isinstance(found, str) else _view(bare, found, showing)


def set_out(
    session: Session, item_id: int, part_id: int | None, key: str, now: datetime, showing: Showing
) -> tuple[dict[str, Any], str] | None:
    """Return one way as the logbook keeps it, and in words; None where it is not offered any more."""
    item = get_row(session, Item, item_id)
    rows = load_batch(session, item.batch_id)
    part = part_of(session, rows, item, part_id)
    if part is None:
        return None
    found = answer_for(session, Piece.of(rows, item, part), now)
    if isinstance(found, str):
        return None
    way = next((way for way in _offered(found) if _key(way) == key), None)
    if way is None:
        return None
    said = say_steps(way, _bath_name(found, way), found.asked.temper_s, showing)
    return _remedy(way, found.asked.temper_s), f"{WAY_WORDS[way.way]}: {'; '.join(said)}."


def _choices(session: Session, item_id: int) -> tuple[PartChoice, ...]:
    parts = kept(session, Part)
    return tuple(PartChoice(part.name, f"/items/{item_id}/put-right?part={part.id}") for part in parts)


def _no_part(session: Session) -> str:
    return "" if kept(session, Part) else "no part is written down yet that says what case is wanted"


def _offered(found: Answer) -> list[Remedy]:
    """Return the ways that may help, best first, not more than a page can hold."""
    ways = [way for way in found.worked.advice.ways if way.way != "as_it_is" and not way.why_not]
    reheats = {way.bath: way for way in reversed(ways) if way.way == "reheat"}
    best = [way for way in ways if way in reheats.values()][:MOST_BATHS]
    return [way for way in ways if way.way != "reheat" or way in best]


def _key(way: Remedy) -> str:
    return f"{way.way}-{way.bath}-{way.reheat_K or 0:.0f}"


def _bath_name(found: Answer, way: Remedy) -> str:
    return found.baths[way.bath].name if way.bath else ""


def _remedy(way: Remedy, temper_s: float) -> dict[str, Any]:
    """Return a way by the names that the steps are offered by."""
    numbers = {
        "temperature_K": way.heat_K,
        "soak_s": way.seconds,
        "reheat_K": way.reheat_K,
        "bath_id": int(way.bath) if way.bath else None,
        "temper_K": way.temper_K,
        "temper_s": temper_s,
    }
    return {"way": way.way, **{name: value for name, value in numbers.items() if value is not None}}


def _view(bare: PutRightView, found: Answer, showing: Showing) -> PutRightView:
    advice, offered = found.worked.advice, _offered(found)
    left = next(way.outcome for way in advice.ways if way.way == "as_it_is")
    assert left is not None  # how it stands is always worked out
    readings = latest_readings(found.piece.rows.readings.get(bare.item_id, []))
    doubts = (ROUGH,) if found.worked.is_rough else ()
    return replace(
        bare,
        wrong=say_wrong(found.piece.wanted, readings, left, showing),
        behind=say_standing(advice.standing),
        left=f"{say_odds(left)} that it is what was wanted ({say_each(left)})",
        is_fine=advice.ways[0].way == "as_it_is" and not advice.ways[0].why_not,
        doubts=doubts if found.worked.used else (*doubts, UNREAD),
        ways=tuple(_way(found, way, showing) for way in offered),
        no_ways=_no_ways(found),
        cautions=_cautions(offered),
    )


def _way(found: Answer, way: Remedy, showing: Showing) -> WayView:
    assert way.outcome is not None  # a way that may help was worked out
    return WayView(
        key=_key(way),
        title=WAY_WORDS[way.way],
        steps=say_steps(way, _bath_name(found, way), found.asked.temper_s, showing),
        odds=say_odds(way.outcome),
        each=say_each(way.outcome),
        comes=say_outcome(way.outcome, showing),
        size=say_size(way),
        go="Plan a batch with it" if way.way == "box" else "Do this",
    )


def _no_ways(found: Answer) -> tuple[NoWayView, ...]:
    """Return the ways that cannot help, each once."""
    helping = {way.way for way in found.worked.advice.ways if not way.why_not}
    hopeless = {
        way.way: say_why_not(way)
        for way in found.worked.advice.ways
        if way.way not in helping and way.way != "as_it_is"
    }
    return tuple(NoWayView(WAY_WORDS[name], why) for name, why in hopeless.items())


def _cautions(offered: list[Remedy]) -> tuple[str, ...]:
    """Return the usual cautions of all ways offered, each once, that local codes come first at the end."""
    kinds = dict.fromkeys(kind for way in offered for kind in CAUTIONS.get(way.way, REHEAT_CAUTIONS))
    lines = [line for kind in kinds for line in cautions_for(kind)]
    return tuple(dict.fromkeys(reversed(lines)))[::-1]
