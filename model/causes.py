"""Why a reading came out otherwise than foretold: causes by their odds, and what would tell them apart.

Every way of `data/causes.csv` is forecast afresh; a cause's odds are the sum over its ways of how often it
happens times how likely it makes all readings of the piece together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief
from model.cause_changes import AS_TOLD, Version, Way, is_by_eye, versions_of, ways
from model.drawn_piece import DrawnPiece, draw_piece
from model.errors import NotPossible
from model.foretelling import Place, places_of
from model.look import Look
from model.look import look as look_by_forecast
from model.readings import DepthReading, HardnessReading, Observation
from model.sight import Reading

Array = NDArray[np.float64]

DRAWS_AS_TOLD: Final = 64
DRAWS: Final = 24
"""Draws at each level of a way: the same ones for all, so that ways differ by what they change alone."""
ODDS_AS_TOLD: Final = 100.0
"""The odds of the table are for each 100 coupons with nothing wrong."""
LEAST_GAIN: Final = 1.3
"""A cause is only named if it makes the readings likelier than nothing wrong does, by this factor."""
TELLS_FROM: Final = 1.0
"""Distance of two predictions, in sds of both and of the reading, from which a test parts them."""

TestKind = Literal["break", "ground_1", "ground_3"]
TESTS: Final[dict[TestKind, Reading]] = {
    "break": DepthReading("break", 0.5e-3),
    "ground_1": HardnessReading("HRC", 60.0, surface_removed_m=0.1e-3),
    "ground_3": HardnessReading("HRC", 60.0, surface_removed_m=0.3e-3),
}


@dataclass(frozen=True)
class Candidate:
    """A cause: its likeliest way, and its share of the odds of all causes together [-], 0 to 1."""

    cause: str
    way: str
    share: float


@dataclass(frozen=True)
class Telling:
    """A further observation that parts the first two causes: what each foretells, in SI or HRC."""

    test: TestKind
    first: float
    second: float


@dataclass(frozen=True)
class Explained:
    """What may lie behind the readings of one piece.

    places : every reading beside its forecast; candidates : causes that explain all of them, likeliest first
    chance : odds that nothing was wrong, against all causes together [-], 0 to 1; 1 if nothing is odd
    telling : what would part the first two, None where no test of `TESTS` does
    """

    places: tuple[Place, ...]
    candidates: tuple[Candidate, ...] = ()
    chance: float = 1.0
    telling: Telling | None = None

    @property
    def is_odd(self) -> bool:
        """True where any of the readings lies outside its forecast."""
        return any(place.is_odd for place in self.places)


@dataclass(frozen=True)
class _Tried:
    """One way, forecast: its pieces at each level, its odds before, and the likelihood (levels, draws)."""

    way: Way
    pieces: tuple[DrawnPiece, ...]
    odds_before: float
    like: Array

    @property
    def likelihood(self) -> float:
        return float(self.like.mean())

    @property
    def odds(self) -> float:
        return self.odds_before * self.likelihood

    @property
    def weight(self) -> Array:
        return self.odds_before * self.like / self.like.size


def explain(
    observations: Sequence[Observation],
    belief: ShopBelief,
    noted: Mapping[str, float] = MappingProxyType({}),
    *,
    look: Look = look_by_forecast,
    seed: int = 0,
) -> Explained:
    """Hold the readings of one piece against what was foretold, and say what may lie behind the odd ones.

    observations : readings of one piece that the model can foretell (`usable.why_not_used`), 1 or more
    belief : of the shop, best without this piece's own fire (`fire_left_out.without_fire`)
    noted : factors on the odds of ways, by name, for what was noted of this piece: a seal that cracked
    look : what can be seen of processes; another one only in tests
    Returns the places of all readings, and causes where one of them is odd.
    Raises NotPossible where the piece as told cannot be forecast.
    Source: Bayes' rule over the stated odds of the table.
    """
    told = draw_piece(observations, [AS_TOLD], belief, look, DRAWS_AS_TOLD, seed)
    if not told:
        raise NotPossible("piece", "its forecast is outside what the model can do", "Look at its steps.")
    places = places_of(told[0], observations)
    sides = {"soft" if place.side < 0 else "hard" for place in places if place.is_odd}
    if not sides:
        return Explained(places)
    tried = _try_all(observations, belief, look, sides, seed)
    none = told[0].log_likelihood(observations)
    top = max(float(none.max()), max((float(log.max()) for _, _, log in tried), default=-np.inf))
    as_told = ODDS_AS_TOLD * float(np.exp(none - top).mean())
    weighed = [
        _Tried(way, pieces, noted.get(way.name, 1.0) * way.odds, np.exp(log - top))
        for way, pieces, log in tried
    ]
    return _ranked(places, observations, weighed, as_told)


def _try_all(
    observations: Sequence[Observation], belief: ShopBelief, look: Look, sides: set[str], seed: int
) -> list[tuple[Way, tuple[DrawnPiece, ...], Array]]:
    """Forecast every way that shows so; with it the log likelihood, (levels, draws)."""
    fullest = max((observation.process for observation in observations), key=lambda one: len(one.steps))
    readings = [cast(Reading, observation.reading) for observation in observations]
    asked: list[tuple[Way, Version]] = [
        (way, version)
        for way in ways()
        if sides.intersection(way.shows)
        for version in versions_of(way, fullest, readings)
    ]
    drawn = draw_piece(observations, [version for _, version in asked], belief, look, DRAWS, seed)
    found = []
    for way in dict.fromkeys(way for way, _ in asked):
        own = {version for of, version in asked if of is way}
        pieces = tuple(piece for piece in drawn if piece.version in own)
        if pieces:
            found.append((way, pieces, np.stack([piece.log_likelihood(observations) for piece in pieces])))
    return found


def _ranked(
    places: tuple[Place, ...], observations: Sequence[Observation], tried: list[_Tried], as_told: float
) -> Explained:
    """Add ways up to causes and put them in order."""
    by_cause: dict[str, list[_Tried]] = {}
    for one in tried:
        if one.likelihood > LEAST_GAIN * as_told / ODDS_AS_TOLD:
            by_cause.setdefault(one.way.cause, []).append(one)
    total = sum(one.odds for group in by_cause.values() for one in group)
    order = sorted(by_cause.values(), key=lambda group: -sum(one.odds for one in group))
    candidates = tuple(
        Candidate(
            group[0].way.cause,
            max(group, key=lambda one: one.odds).way.name,
            sum(one.odds for one in group) / total,
        )
        for group in order
    )
    telling = _telling(observations, order[0], order[1]) if len(order) > 1 else None
    return Explained(places, candidates, as_told / (as_told + total), telling)


def _telling(
    observations: Sequence[Observation], first: list[_Tried], second: list[_Tried]
) -> Telling | None:
    """Return the test that parts two causes best, of those not made yet."""
    tester = next((key for one in observations if (key := cast(Reading, one.reading).tester[0])), "")
    best, parted = None, TELLS_FROM
    for test, asked in TESTS.items():
        if any(_is_made(cast(Reading, one.reading), asked) for one in observations):
            continue
        reading = _with_tester(asked, tester)
        sides = [_foretold(group, reading, observations) for group in (first, second)]
        (one, one_sd), (other, other_sd) = sides
        distance = abs(one - other) / float(np.hypot(one_sd, other_sd))
        if distance > parted:
            best, parted = Telling(test, one, other), distance
    return best


def _is_made(reading: Reading, asked: Reading) -> bool:
    if isinstance(asked, DepthReading):
        return is_by_eye(reading)
    return (
        isinstance(reading, HardnessReading)
        and isinstance(asked, HardnessReading)
        and reading.surface_removed_m >= asked.surface_removed_m
    )


def _with_tester(asked: Reading, tester: str) -> Reading:
    """Return the test as made with the shop's own tester, if that reads Rockwell."""
    if isinstance(asked, HardnessReading) and tester.startswith("rockwell"):
        return HardnessReading("HRC", asked.value, tester, surface_removed_m=asked.surface_removed_m)
    return asked


def _foretold(
    group: list[_Tried], reading: Reading, observations: Sequence[Observation]
) -> tuple[float, float]:
    """Return what a cause foretells of a test given all that was read: its mean, and its sd with scatter."""
    process = observations[-1].process
    values, weights, spreads = [], [], []
    for tried in group:
        for place, piece in enumerate(tried.pieces):
            found = piece.shows(process, reading)
            values.append(found.value[:, 0])
            spreads.append(reading.spread(found.value, found.doubt)[:, 0])
            weights.append(tried.weight[place])
    value, weight, spread = (np.concatenate(one) for one in (values, weights, spreads))
    mean = float(np.average(value, weights=weight))
    variance = float(np.average((value - mean) ** 2 + spread**2, weights=weight))
    return mean, variance**0.5
