"""How far off a heat or an oven is, in words."""

from __future__ import annotations

from model.units import Kind
from webapp.forms.numbers import amount
from webapp.services.showing import Showing

LEAST_BIAS_K = 0.5


def degrees(kelvin: float, showing: Showing) -> str:
    """Return the size of a difference of temperature."""
    kind: Kind = "temperature difference"
    unit = showing.temperature_unit
    return f"{float(amount(abs(kelvin), unit, kind)):.0f}\u00a0°{unit}"


def give_or_take(kelvin: float, showing: Showing) -> str:
    """Return half of a band."""
    return f"give or take {degrees(kelvin, showing)}"


def oven_in_words(offset_K: float, showing: Showing) -> str:
    """Word what an oven truly is less its dial."""
    if abs(offset_K) < LEAST_BIAS_K:
        return "runs true"
    return f"runs about {degrees(offset_K, showing)} {'hot' if offset_K > 0 else 'cool'}"
