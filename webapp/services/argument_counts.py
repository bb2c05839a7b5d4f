"""What is counted of an argument besides the fit: leaks, cracks, bows, and what a temper takes off."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

from model.argument_trial import HALF_BAND_SDS
from model.hardness_scales import SCALES
from model.level_difference import Level, level_difference
from model.rates import Rate, jeffreys_rate, rate_difference, times_needed
from webapp.forms.shop import SEALS
from webapp.services.argument_book import BatchFacts, PieceFacts, leaks, leaks_by_seal, on_sides, pieces_on
from webapp.services.argument_list import Argument
from webapp.services.argument_sides import FIRST, SECOND
from webapp.services.showing import Showing, plural
from webapp.services.words import label_of, length_text, range_text

Facts = Sequence[BatchFacts]

WANTED_SHARE: Final = 0.15


@dataclass(frozen=True)
class CountView:
    """One thing counted: its label, a line for each way, what may be said of both, what it would take.

    `differs` says how sure a difference is: likely, may_be, or blank where none is seen.
    """

    label: str
    lines: tuple[str, ...]
    words: str = ""
    needed: str = ""
    differs: str = ""


@dataclass(frozen=True)
class SealView:
    """How often one kind of seal leaked."""

    seal: str
    counted: str
    share: str
    band: str


def view_counts(argument: Argument, facts: Facts, showing: Showing) -> tuple[CountView, ...]:
    """Return what is counted of an argument, each only where something was."""
    makers: dict[str, Callable[[], CountView | None]] = {
        "seal": lambda: _leaks(argument, facts),
        "cracks": lambda: _cracks(argument, facts),
        "bow": lambda: _bows(argument, facts, showing),
        "pairs": lambda: _pairs(facts),
    }
    found = (makers[name]() for name in argument.counts)
    return tuple(one for one in found if one is not None)


def view_seals(facts: Facts) -> tuple[SealView, ...]:
    """Return how often each kind of seal leaked, the commonest first."""
    rates = {seal: jeffreys_rate(*counted) for seal, counted in leaks_by_seal(facts).items() if counted[1]}
    return tuple(
        SealView(
            label_of(SEALS, seal),
            f"{rate.happened} of {rate.times}",
            f"{100 * rate.happened / rate.times:.0f}\u00a0%",
            f"{100 * rate.low:.0f} to {100 * rate.high:.0f}\u00a0%",
        )
        for seal, rate in rates.items()
    )


def _leaks(argument: Argument, facts: Facts) -> CountView | None:
    counted = [leaks(side) for side in on_sides(facts, argument.key)]
    rates = [jeffreys_rate(*one) for one in counted]
    return _shares("Seals that leaked", "box", "boxes", argument, rates)


def _cracks(argument: Argument, facts: Facts) -> CountView | None:
    rates = []
    for side in (FIRST, SECOND):
        known = [one.cracked for one in pieces_on(facts, argument.key, side) if one.cracked is not None]
        rates.append(jeffreys_rate(sum(known), len(known)))
    return _shares("Cracks or chips, where looked for", "piece", "pieces", argument, rates)


def _shares(label: str, one: str, many: str, argument: Argument, rates: Sequence[Rate]) -> CountView | None:
    if not any(rate.times for rate in rates):
        return None
    lines = tuple(f"{way}: {_share(rate, one, many)}" for way, rate in zip(argument.ways, rates, strict=True))
    first, second = rates
    if not first.times or not second.times:
        return CountView(label, lines)
    needed = times_needed(first, second, WANTED_SHARE)
    words, differs = _difference(argument, first, second)
    return CountView(
        label,
        lines,
        words,
        f"To know the difference to give or take {100 * WANTED_SHARE:.0f} in 100, see each way about "
        f"{plural(needed, 'time')} in all.",
        differs,
    )


def _share(rate: Rate, one: str, many: str) -> str:
    if not rate.times:
        return f"no {one} yet"
    counted = f"{rate.happened} of {plural(rate.times, one, many)}"
    return f"{counted}, so {100 * rate.low:.0f} to {100 * rate.high:.0f} in 100"


def _difference(argument: Argument, first: Rate, second: Rate) -> tuple[str, str]:
    found = rate_difference(first, second)
    if found.low > 0.0 or found.high < 0.0:
        more = "oftener" if found.middle > 0.0 else "more seldom"
        return f"There may be a difference: {more} with {argument.ways[1]}.", "may_be"
    fewer, more_of = max(0.0, -found.low), max(0.0, found.high)
    words = (
        f"No difference seen: with {argument.ways[1]} it may be anything from {100 * fewer:.0f} fewer to "
        f"{100 * more_of:.0f} more in 100."
    )
    return words, ""


def _bows(argument: Argument, facts: Facts, showing: Showing) -> CountView | None:
    lines = tuple(_bow_lines(argument, facts, showing))
    if not lines:
        return None
    label = "Bow after the quench"
    found = level_difference(list(_levels(argument, facts)))
    if found is None:
        return CountView(
            label, lines, needed="No part of one size was quenched both ways, so nothing is compared."
        )
    low, high = (length_text(showing, abs(end)) for end in (found.low_m, found.high_m))
    if found.low_m > 0.0 or found.high_m < 0.0:
        more = "more" if found.middle_m > 0.0 else "less"
        ends = " to ".join(sorted((low, high)))
        words = f"There may be a difference: {argument.ways[1]} bows {more} ({ends}), like part against like."
        return CountView(label, lines, words, differs="may_be")
    words = f"No difference seen, part against like part: {low} less to {high} more with {argument.ways[1]}."
    return CountView(label, lines, words)


def _levels(argument: Argument, facts: Facts) -> Iterator[Level]:
    """Yield the mean bow of each part in each batch, by the side it was on."""
    for one in facts:
        for piece in one.pieces:
            side = piece.sides.get(argument.key)
            if piece.bows_m and side is not None:
                yield Level(piece.part, side, sum(piece.bows_m) / len(piece.bows_m))


def _bow_lines(argument: Argument, facts: Facts, showing: Showing) -> Iterator[str]:
    for side, way in enumerate(argument.ways):
        bows = [bow for one in pieces_on(facts, argument.key, side) for bow in one.bows_m]
        if bows:
            yield f"{way}: {range_text(showing, min(bows), max(bows))} ({plural(len(bows), 'piece')})"


def _pairs(facts: Facts) -> CountView | None:
    """Tell what tempers took off pieces that were read before and after on one tester."""
    every: list[PieceFacts] = [piece for one in facts for piece in one.pieces]
    taken = [-piece.softened_HRC for piece in every if piece.softened_HRC is not None]
    if not taken:
        return None
    mean = sum(taken) / len(taken)
    half = HALF_BAND_SDS * SCALES["HRC"].sd * sqrt(2.0 / len(taken))
    low, high = mean - half, mean + half
    words = f"The temper took {mean:.1f} HRC off ({low:.1f} to {high:.1f})."
    if low <= 0.0 <= high:
        words = f"No softening seen yet: {low:.1f} to {high:.1f} HRC taken off."
    return CountView(
        "Hardness, the same piece before and after",
        (f"{plural(len(taken), 'piece')} read both ways on one tester",),
        words,
        differs="likely" if low > 0.0 else "",
    )
