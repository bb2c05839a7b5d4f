"""Words for stored keys, and numbers without idle zeros."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from model.units import Kind, OUNCE_kg
from webapp.forms.ask import Choice
from webapp.forms.numbers import amount
from webapp.services.showing import Showing

LARGE_kg: Final = 1.0
TEN_GRAMS_kg: Final = 10e-3
POUND_kg: Final = 16.0 * OUNCE_kg


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


def weigh(mass_kg: float, showing: Showing) -> str:
    """Return a weight as a kitchen balance shows it, in ounces where the shop measures in inches."""
    if showing.length_unit == "in":
        return f"{amount(mass_kg, 'oz', 'mass')} oz"
    if mass_kg >= LARGE_kg:
        return f"{mass_kg:.2f} kg"
    return f"{1e3 * mass_kg:.0f} g" if mass_kg >= TEN_GRAMS_kg else f"{1e3 * mass_kg:.1f} g"


def heavy(mass_kg: float, showing: Showing, digits: int = 1) -> str:
    """Return a weight as large scales show it, in pounds where the shop measures in inches."""
    if showing.length_unit == "in":
        return f"{mass_kg / POUND_kg:.{digits}f} lb"
    return f"{mass_kg:.{digits}f} kg"
