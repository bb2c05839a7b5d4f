"""What else differed between the sides of an argument, by name: what it may be instead."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from webapp.services.argument_book import BatchFacts
from webapp.services.argument_list import ARGUMENTS, Argument
from webapp.services.showing import Showing
from webapp.services.words import give_or_take

Batches = Sequence[BatchFacts]

THINGS = {
    "box": "box",
    "mix": "pack mix",
    "heat": "way of telling heat",
    "bath": "bath",
    "bar": "bar",
}
MOSTLY = 0.6  # share of batches that would have to change sides to be alike; own choice
WHOLLY = 1.0 - 1e-9
LONGER = 1.25  # times as long; own choice
HOTTER_K = 8.0  # a fire's usual scatter by thermocouple


@dataclass(frozen=True)
class Differs:
    """One thing that differed: whether the sides never had it alike, and what it may then be instead."""

    key: str
    words: str
    is_always: bool = False
    instead: str = ""


def what_differs(
    argument: Argument, first: Batches, second: Batches, showing: Showing
) -> tuple[Differs, ...]:
    """Return what else differed between two sides that both have batches, the worst first."""
    if not first or not second:
        return ()
    found = [_thing(argument, key, first, second) for key in THINGS]
    found += [_other(argument, other, first, second) for other in ARGUMENTS if other.key != argument.key]
    found += [_hours(first, second), _heat(argument, first, second, showing)]
    return tuple(sorted((one for one in found if one is not None), key=lambda one: not one.is_always))


def _thing(argument: Argument, key: str, first: Batches, second: Batches) -> Differs | None:
    """Tell of another box, mix and so on; for what differs by nature, that there is only one of it."""
    counts = [Counter(one.ran_with[key] for one in side if one.ran_with[key]) for side in (first, second)]
    if not all(counts):
        return None
    word = THINGS[key]
    if key in argument.alike:
        lone = [way for way, count in zip(argument.ways, counts, strict=True) if len(count) == 1]
        words = f"only one {word} is {' and only one is '.join(lone)}: it may be that {word}"
        return Differs(key, words, True, f"that one {word}") if lone else None
    share = _apart(*counts)
    if share >= WHOLLY:
        (one, other) = (count.most_common(1)[0][0] for count in counts)
        words = f"always another {word}: {one} against {other}"
        return Differs(key, words, True, f"the other {word}")
    if share >= MOSTLY:
        return Differs(key, f"mostly another {word}")
    return None


def _other(argument: Argument, other: Argument, first: Batches, second: Batches) -> Differs | None:
    """Tell of another argument that changed with this one."""
    if other.key in argument.implied:
        return None
    counts = [
        Counter(side for one in batches for side in one.sides[other.key]) for batches in (first, second)
    ]
    if not all(counts) or _apart(*counts) < MOSTLY:
        return None
    ways = [other.ways[count.most_common(1)[0][0]] for count in counts]
    always = _apart(*counts) >= WHOLLY
    word = "always" if always else "mostly"
    words = f"{word} {ways[0]} against {ways[1]}"
    return Differs(other.key, words, always, f"{ways[0]} or {ways[1]}")


def _apart(one: Counter[str] | Counter[int], other: Counter[str] | Counter[int]) -> float:
    """Return the share of one side that the other does not have: 0 alike, 1 nothing in common."""
    keys = {*one, *other}
    return 0.5 * sum(abs(one[key] / one.total() - other[key] / other.total()) for key in keys)


def _hours(first: Batches, second: Batches) -> Differs | None:
    one, other = (_mean([batch.hours for batch in side]) for side in (first, second))
    if one is None or other is None or max(one, other) < LONGER * min(one, other):
        return None
    return Differs("hours", f"soaked {one:.1f} h against {other:.1f} h on average")


def _heat(argument: Argument, first: Batches, second: Batches, showing: Showing) -> Differs | None:
    one, other = (_mean([batch.heat_K for batch in side]) for side in (first, second))
    if one is None or other is None or abs(one - other) < HOTTER_K:
        return None
    apart = give_or_take(showing, abs(one - other), is_hardness=False)
    hotter = "hotter" if other > one else "cooler"
    return Differs("kelvin", f"{argument.ways[1]}: {apart} {hotter} on average")


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
