"""What a forge has taught, row by row in shop words: the books say, your forge says."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Any

from sqlmodel import Session

from model.units import HOUR_s, MINUTE_s
from webapp.services.forge_epochs import Days, epoch_words, thing_key
from webapp.services.oven_words import LEAST_BIAS_K, degrees, give_or_take, oven_in_words
from webapp.services.showing import Showing, plural, say_duration
from webapp.services.whole_book import by_id
from webapp.store.tables import Bar, Bath, Box, Instrument, Mix

Told = Mapping[str, Any]
"""A band as stored: median, low, high."""

DRAWING_WIDTH = 240.0
DRAWING_EDGE = 8.0
LEAST_BIAS_HRC = 0.05
FAR_SDS, SDS_OF_90 = 2.0, 1.645


@dataclass(frozen=True)
class Stretch:
    """A band as drawn: from, to and the middle, in the drawing's own units."""

    low: str
    middle: str
    high: str


@dataclass(frozen=True)
class ForgeRow:
    """One thing learnt: what the books say of it, what this forge says, and how sure each is.

    `coupons` are words and page of what taught it; `narrowed` the outline of its doubt, fire by fire.
    """

    label: str
    books: str
    books_give_or_take: str
    mine: str
    give_or_take: str
    is_learnt: bool
    is_changed: bool
    taught_by: str
    books_drawn: Stretch
    mine_drawn: Stretch
    coupons: tuple[tuple[str, str], ...]
    narrowed: str


@dataclass(frozen=True)
class RowGroup:
    """Rows that belong together, with what they mean."""

    title: str
    teach: str
    rows: tuple[ForgeRow, ...]


@dataclass(frozen=True)
class _Kind:
    """How one kind of row is worded, and whether it is drawn by factors."""

    label: str
    value: Callable[[float, Told, Showing], str]
    doubt: Callable[[Told, Told, Showing], str]
    group: str
    by_factor: bool = False


GROUPS = {
    "pack": (
        "The pack",
        "How fast each mix hands its carbon over, against the books, and how rich a skin it makes.",
    ),
    "heat": ("The heat", "How far off your way of knowing it is, and how long each box takes to warm."),
    "reading": (
        "How you read",
        "Where your eye sees a case end, how far off each tester is, and what it shows of a good case.",
    ),
    "bath": ("The baths", "How hard each bath bites, against the books. Its coupons teach it."),
    "oven": ("The oven", "How far it is from its dial. Its checks and readings after a temper teach it."),
    "steel": (
        "The steel",
        "Carbon a bar had before it met the pack, and how long it gives you in the quench before it turns "
        "soft, against the books. More time hardens in oil and in thick work.",
    ),
}


def names_of(session: Session) -> dict[str, dict[int, str]]:
    """Return the names of what rows may speak of, those in the bin too."""
    return {
        "instrument": {key: row.name for key, row in by_id(session, Instrument).items()},
        "mix": {key: row.name for key, row in by_id(session, Mix).items()},
        "box": {key: row.name for key, row in by_id(session, Box).items()},
        "bar": {key: row.name for key, row in by_id(session, Bar).items()},
        "bath": {key: row.name for key, row in by_id(session, Bath).items()},
    }


def view_groups(
    rows: Sequence[Told],
    names: Mapping[str, Mapping[int, str]],
    showing: Showing,
    pieces: Mapping[str, tuple[str, str]] | None = None,
    narrowed: Mapping[tuple[str, str], str] | None = None,
    days: Days | None = None,
) -> tuple[RowGroup, ...]:
    """Return the rows of a fit in groups, those without a name left out.

    `pieces` are words and page of each coupon by its key, `narrowed` the outlines of `forge_course.funnels`.
    `days` are those of dated changes, by id: a thing that was changed has a row for each stretch of time.
    """
    found: dict[str, list[ForgeRow]] = {key: [] for key in GROUPS}
    words = epoch_words(rows, days or {}, showing)
    for row in rows:
        kind, name = KINDS[row["kind"]], name_of(row["kind"], row["of"], names)
        if name is not None:
            stretch = words[row["kind"], row["of"]]
            name = f"{name}, {stretch}" if stretch else name
            view = _view(row, kind, name, showing)
            taught = tuple((pieces or {})[key] for key in row.get("by", ()) if key in (pieces or {}))
            outline = (narrowed or {}).get((row["kind"], row["of"]), "")
            found[kind.group].append(replace(view, coupons=taught, narrowed=outline))
    return tuple(RowGroup(*GROUPS[key], tuple(group)) for key, group in found.items() if group)


def name_of(kind: str, of: str, names: Mapping[str, Mapping[int, str]]) -> str | None:
    """Return what a row's key is called in the shop: empty for the shop's own, None when nothing has it."""
    if kind not in TABLE_OF:
        return ""
    number = thing_key(of).rpartition(":")[2]
    return names[TABLE_OF[kind]].get(int(number)) if number.isdecimal() else None


def _view(row: Told, kind: _Kind, name: str, showing: Showing) -> ForgeRow:
    books, now, coupons = row["books"], row["now"], row["coupons"]
    is_changed = bool(coupons) or books != now
    label = f"{name}: {kind.label}" if name and kind.label else name or kind.label
    drawn_books, drawn_now = _drawn(books, now, kind.by_factor)
    return ForgeRow(
        label=label[:1].upper() + label[1:],
        books=kind.value(books["median"], books, showing),
        mine=kind.value(now["median"], books, showing),
        books_give_or_take=kind.doubt(books, books, showing),
        give_or_take=kind.doubt(now, books, showing),
        is_learnt=row["learnt"],
        is_changed=is_changed,
        taught_by=_taught_by(coupons, is_changed, row["learnt"]) + _against_books(books, now, kind.by_factor),
        books_drawn=drawn_books,
        mine_drawn=drawn_now,
        coupons=(),
        narrowed="",
    )


def _taught_by(coupons: int, is_changed: bool, is_learnt: bool) -> str:
    if coupons:
        words = plural(coupons, "coupon")
        return f"from {words}" if is_learnt else f"{words} so far, too few to tell"
    return "its checks" if is_changed else "no coupon yet"


def _against_books(books: Told, now: Told, by_factor: bool) -> str:
    """Say so where what was learnt lies where the books put one shop in twenty."""
    scale: Callable[[float], float] = log if by_factor else float
    half = 0.5 * (scale(books["high"]) - scale(books["low"]))
    away = abs(scale(now["median"]) - scale(books["median"]))
    if half > 0.0 and away > FAR_SDS / SDS_OF_90 * half:
        return "; far from what the books hold likely: look for a slip first"
    return ""


def _drawn(books: Told, now: Told, by_factor: bool) -> tuple[Stretch, Stretch]:
    """Return both bands on one scale."""
    scale: Callable[[float], float] = log if by_factor else float
    ends = [scale(band[end]) for band in (books, now) for end in ("low", "high")]
    low, width = min(ends), (max(ends) - min(ends)) or 1.0

    def at(value: float) -> str:
        return f"{DRAWING_EDGE + (DRAWING_WIDTH - 2 * DRAWING_EDGE) * (scale(value) - low) / width:.1f}"

    first, second = (Stretch(at(band["low"]), at(band["median"]), at(band["high"])) for band in (books, now))
    return first, second


def _half(band: Told) -> float:
    return 0.5 * float(band["high"] - band["low"])


def _heat_bias(add_K: float, _books: Told, showing: Showing) -> str:
    """Word what must be added to a reading: a thermometer that reads low needs something added."""
    if abs(add_K) < LEAST_BIAS_K:
        return "reads true"
    return f"reads {degrees(add_K, showing)} {'low' if add_K > 0 else 'high'}"


def _heat_doubt(now: Told, _books: Told, showing: Showing) -> str:
    return give_or_take(_half(now), showing)


def _oven(offset_K: float, _books: Told, showing: Showing) -> str:
    return oven_in_words(offset_K, showing)


def _tester_bias(bias: float, _books: Told, _showing: Showing) -> str:
    if abs(bias) < LEAST_BIAS_HRC:
        return "reads true"
    return f"reads {abs(bias):.1f} points {'high' if bias > 0 else 'low'}"


def _tester_doubt(now: Told, _books: Told, _showing: Showing) -> str:
    return f"give or take {_half(now):.1f}"


def _rockwell(hardness: float, _books: Told, _showing: Showing) -> str:
    return f"reads {hardness:.1f} HRC"


def _pace(transfer: float, books: Told, _showing: Showing) -> str:
    """Word how fast a pack gives, or how hard a bath bites, against what the books have for it."""
    return f"{_share(transfer, books)} ×"


def _pace_doubt(now: Told, books: Told, _showing: Showing) -> str:
    return f"{_share(now['low'], books)} to {_share(now['high'], books)} ×"


def _share(transfer: float, books: Told) -> str:
    share = transfer / books["median"]
    return f"{share:.1f}" if share >= 1.0 else f"{share:.2f}"


def _minutes(seconds: float, _books: Told, _showing: Showing) -> str:
    return say_duration(round(seconds / (5 * MINUTE_s)) * 5 * MINUTE_s if seconds > HOUR_s / 2 else seconds)


def _minutes_doubt(now: Told, books: Told, showing: Showing) -> str:
    return " to ".join(_minutes(now[end], books, showing) for end in ("low", "high"))


def _carbon(carbon_wt: float, _books: Told, _showing: Showing) -> str:
    return f"{carbon_wt:.2f}\u00a0% carbon"


def _carbon_doubt(now: Told, _books: Told, _showing: Showing) -> str:
    return f"{now['low']:.2f} to {now['high']:.2f}\u00a0%"


TABLE_OF = {
    "temperature_bias": "instrument",
    "tester": "instrument",
    "transfer": "mix",
    "lag": "box",
    "bar_carbon": "bar",
    "hard_case": "instrument",
    "hardenability": "bar",
    "bath": "bath",
    "oven": "instrument",
}
KINDS = {
    "transfer": _Kind("how fast it gives", _pace, _pace_doubt, "pack", by_factor=True),
    "richness": _Kind("how rich the pack makes a skin, at most", _carbon, _carbon_doubt, "pack"),
    "temperature_bias": _Kind("", _heat_bias, _heat_doubt, "heat"),
    "lag": _Kind("warm-up", _minutes, _minutes_doubt, "heat", by_factor=True),
    "rim_carbon": _Kind("where an eye sees the case end", _carbon, _carbon_doubt, "reading"),
    "tester": _Kind("", _tester_bias, _tester_doubt, "reading"),
    "oven": _Kind("", _oven, _heat_doubt, "oven"),
    "bath": _Kind("how hard it bites", _pace, _pace_doubt, "bath", by_factor=True),
    "hard_case": _Kind("a good case in water", _rockwell, _tester_doubt, "reading"),
    "bar_carbon": _Kind("its own carbon", _carbon, _carbon_doubt, "steel"),
    "hardenability": _Kind("time it gives in the quench", _pace, _pace_doubt, "steel", by_factor=True),
    "retained": _Kind("soft austenite in a case", _pace, _pace_doubt, "steel", by_factor=True),
}
