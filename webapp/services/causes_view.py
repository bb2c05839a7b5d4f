"""The readings of a piece beside their forecasts, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import Final
from urllib.parse import urlencode

from model.causes import Candidate, Explained, Telling
from model.foretelling import Place
from webapp.services.cause_words import CAUSES, TESTS, WAYS
from webapp.services.cautions import cautions_for
from webapp.services.reading_words import KIND_WORDS, say_reading, say_where
from webapp.services.showing import Showing
from webapp.store.tables import Item, Reading

MOST_CAUSES: Final = 3
ROCKWELL_ENDS: Final = (20.0, 68.0)
# Least share of the odds of all causes, and the word for it.
ODDS_WORDS: Final = ((0.6, "most likely"), (0.3, "likely"), (0.1, "possible"), (0.0, "less likely"))
CHANCE_FROM: Final = 0.15
ONLY_KEPT: Final = ("spark", "soft_spots", "chips", "cracks", "size")
NO_RIM: Final = "no rim"
SIDES: Final = {"depth": ("shallower", "deeper"), "bend": ("bends further", "cracks sooner")}


@dataclass(frozen=True)
class Judged:
    """A reading with its place in the forecast."""

    row: Reading
    place: Place


@dataclass(frozen=True)
class PlaceView:
    """One reading beside its forecast."""

    kind: str
    where: str
    foretold: str
    read: str
    verdict: str
    is_odd: bool
    aside_href: str


@dataclass(frozen=True)
class CauseView:
    """One cause: what, how it came about, its odds, what would tell."""

    name: str
    way: str
    odds: str
    test: str


@dataclass(frozen=True)
class CausesView:
    """The readings of a piece beside what was foretold, and the likeliest causes of a disagreement."""

    title: str
    item_href: str
    source: str
    places: tuple[PlaceView, ...]
    causes: tuple[CauseView, ...]
    chance: str
    telling: str
    cautions: tuple[str, ...]
    missing: tuple[str, ...]
    only_kept: str

    @property
    def any_odd(self) -> bool:
        """True where a reading lies outside its forecast."""
        return any(place.is_odd for place in self.places)


def view_causes(
    item: Item,
    judged: Sequence[Judged],
    found: Explained | None,
    skipped: Sequence[tuple[Reading, str]],
    showing: Showing,
    coupons: int = 0,
) -> CausesView:
    """Return a piece's readings beside their forecasts, in words."""
    named = found.candidates[:MOST_CAUSES] if found else ()
    likeliest = CAUSES[named[0].cause].within if named else ""
    is_rim_read = any(one.row.kind == "depth" for one in judged)
    kept = dict.fromkeys(KIND_WORDS[row.kind].lower() for row, _ in skipped if row.kind in ONLY_KEPT)
    missing = dict.fromkeys(
        f"{KIND_WORDS[row.kind]}, {say_reading(row, showing)}: {why.rstrip('.')}."
        for row, why in skipped
        if row.kind not in ONLY_KEPT
    )
    return CausesView(
        title=f"{item.mark} {item.name}".strip(),
        item_href=f"/items/{item.id}",
        source=_source(coupons),
        places=tuple(_place_view(one, likeliest, showing) for one in judged),
        causes=tuple(_cause_view(one, is_rim_read) for one in named),
        chance=_say_chance(found) if found else "",
        telling=_say_telling(found.telling, named, showing) if found and found.telling else "",
        cautions=cautions_for("break") if _asks_to_break(named, found) else (),
        missing=tuple(missing),
        only_kept=", ".join(kept),
    )


def _asks_to_break(named: Sequence[Candidate], found: Explained | None) -> bool:
    """Tell whether a test of these causes breaks the piece."""
    by_telling = found is not None and found.telling is not None and found.telling.test == "break"
    return by_telling or any(one.cause == "thin_case" for one in named)


def _source(coupons: int) -> str:
    if not coupons:
        return "Foretold from the books alone: this forge has learnt nothing yet."
    return "Foretold from your other fires, as if this one had not been read. Nine in ten lie in the range."


def _place_view(one: Judged, likeliest: str, showing: Showing) -> PlaceView:
    place, row = one.place, one.row
    why = {"why": f"odd: most likely {likeliest}"} if likeliest else {}
    return PlaceView(
        kind=KIND_WORDS[row.kind],
        where=say_where(row, showing),
        foretold=_say_foretold(row, place, showing),
        read=_say_read(row, place, showing),
        verdict=_verdict(row, place),
        is_odd=place.is_odd,
        aside_href=f"/readings/{row.id}/set-aside" + (f"?{urlencode(why)}" if why else ""),
    )


def _verdict(row: Reading, place: Place) -> str:
    if not place.is_odd:
        return "as foretold"
    words = SIDES.get(row.kind, ("softer", "harder"))
    return f"{words[place.side > 0]} than foretold"


def _say_foretold(row: Reading, place: Place, showing: Showing) -> str:
    """Return the band in the reading's own unit."""
    if row.kind == "depth":
        return _say_depths(place, showing)
    if row.kind == "bend":
        return f"first crack at {exp(place.low):.0f} to {min(exp(place.high), 180.0):.0f}°"
    if row.kind == "traverse" or row.unit == "HV":
        return f"{_to_five(place.low)} to {_to_five(place.high)} HV{_at_point(row, place, showing)}"
    unit = row.unit or "HRC"
    if unit != "HRC":
        return f"{place.low:.0f} to {place.high:.0f} {unit}"
    low, high = max(place.low, ROCKWELL_ENDS[0]), min(place.high, ROCKWELL_ENDS[1])
    if high <= ROCKWELL_ENDS[0]:
        return f"under {ROCKWELL_ENDS[0]:.0f} HRC"
    return f"{low:.0f} to {high:.0f} HRC"


def _say_depths(place: Place, showing: Showing) -> str:
    """Return a band of depths as 0.39 to 0.54 mm."""
    if place.high <= 0.0:
        return NO_RIM
    low = showing.length(place.low).rpartition(" ")[0] if place.low > 0.0 else NO_RIM
    return f"{low} to {showing.length(place.high)}"


def _say_read(row: Reading, place: Place, showing: Showing) -> str:
    if row.kind == "traverse":
        return f"{place.read_low:.0f} HV{_at_point(row, place, showing)}"
    return say_reading(row, showing)


def _at_point(row: Reading, place: Place, showing: Showing) -> str:
    if row.kind != "traverse":
        return ""
    return f" at {showing.length(row.details['points'][place.point][0])}"


def _to_five(hardness_HV: float) -> str:
    return f"{5 * round(max(hardness_HV, 0.0) / 5):d}"


def _cause_view(one: Candidate, is_rim_read: bool) -> CauseView:
    words = CAUSES[one.cause]
    test = words.again if words.again and is_rim_read else words.test
    named = next(word for least, word in ODDS_WORDS if one.share >= least)
    tenths = round(10 * one.share)
    rough = f"about {tenths} in 10" if 1 <= tenths <= 9 else "9 in 10 and more" if tenths else "under 1 in 10"
    return CauseView(words.named, WAYS[one.way], f"{named}, {rough}", test)


def _say_chance(found: Explained) -> str:
    """Return what is to be said of nothing being wrong at all."""
    if not found.is_odd:
        return ""
    if not found.candidates:
        return "None of the usual causes makes it likelier than chance does. Look for a slip in a number."
    if found.chance >= 0.5:
        return "It may well be chance alone: one reading in ten lies outside its range with nothing wrong."
    if found.chance >= CHANCE_FROM:
        return "It can still be chance: one reading in ten lies outside its range with nothing wrong."
    return "Chance alone hardly explains it."


def _say_telling(telling: Telling, named: Sequence[Candidate], showing: Showing) -> str:
    """Return the test that parts the first two causes, with what each foretells of it."""
    first, second = (CAUSES[one.cause].within for one in named[:2])
    is_depth = telling.test == "break"
    one, other = (
        _say_depth(value, showing) if is_depth else f"about {value:.0f} HRC"
        for value in (telling.first, telling.second)
    )
    return f"{TESTS[telling.test]}: after {first} it shows {one}, after {second} {other}."


def _say_depth(depth_m: float, showing: Showing) -> str:
    return NO_RIM if depth_m <= 0.0 else f"about {showing.length(depth_m)}"
