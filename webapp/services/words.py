"""Words for stored keys, and numbers without idle zeros."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from model.units import Kind
from webapp.forms.ask import Choice
from webapp.forms.numbers import amount
from webapp.services.showing import Showing


def label_of(choices: Iterable[Choice], key: str) -> str:
    """Return the label of a stored key; the key itself if the list no longer has it."""
    return next((choice.label for choice in choices if choice.value == key), key)


def labels_of(choices: Iterable[Choice], keys: Iterable[str]) -> str:
    """Return the labels of several stored keys as a list in words."""
    known = tuple(choices)
    return ", ".join(label_of(known, key) for key in keys)


def length_text(showing: Showing, length_m: float) -> str:
    """Return a length as 12 mm or 0.5 in."""
    return f"{amount(length_m, showing.length_unit, 'length')} {showing.length_unit}"


def sizes_text(showing: Showing, sizes_m: Sequence[float]) -> str:
    """Return sizes as 200 × 80 × 80 mm."""
    numbers = (amount(size, showing.length_unit, "length") for size in sizes_m)
    return f"{' × '.join(numbers)} {showing.length_unit}"


def range_text(showing: Showing, low_m: float, high_m: float) -> str:
    """Return a range of lengths as 0.4 to 0.8 mm."""
    low, high = (amount(end, showing.length_unit, "length") for end in (low_m, high_m))
    return f"{low} {showing.length_unit}" if low == high else f"{low} to {high} {showing.length_unit}"


def give_or_take(showing: Showing, spread: float, is_hardness: bool) -> str:
    """Return a give or take in the shop's degrees, or in HRC."""
    if is_hardness:
        return f"{amount(spread, '', 'number')} HRC"
    kind: Kind = "temperature difference"
    return f"{amount(spread, showing.temperature_unit, kind)} °{showing.temperature_unit}"
