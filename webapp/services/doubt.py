"""How far a number that was only roughly known may be off: the doubt that goes into the fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# One standard deviation each. Our judgement, no published source.
ABOUT_SHARE, UNKNOWN_SHARE = 0.10, 0.40
ABOUT_K, UNKNOWN_K = 20.0, 40.0
USUAL_SOAK_K, USUAL_SOAK_S = 1183.15, 4 * 3600.0
USUAL_REHEAT_K, USUAL_REHEAT_S = 1073.15, 900.0
USUAL_TEMPER_K, USUAL_TEMPER_S = 453.15, 3600.0

Sure = Literal["sure", "about", "unknown"]


@dataclass(frozen=True)
class Rough:
    """A number with its give or take."""

    value: float
    spread: float


def rough_seconds(value: float | None, sure: Sure, usual_s: float) -> Rough:
    """Return a length of time with its give or take; the usual one where nobody knows."""
    seconds = usual_s if value is None else value
    share = {"sure": 0.0, "about": ABOUT_SHARE, "unknown": UNKNOWN_SHARE}[sure]
    return Rough(seconds, share * seconds)


def rough_temperature(value: float | None, sure: Sure, usual_K: float) -> Rough:
    """Return a temperature with its give or take, beside that of the instrument."""
    return Rough(
        usual_K if value is None else value, {"sure": 0.0, "about": ABOUT_K, "unknown": UNKNOWN_K}[sure]
    )


def how_sure(spread: float, about: float) -> Sure:
    """Return the word for a stored give or take, by what "about" would have stored."""
    if spread <= 0:
        return "sure"
    return "about" if spread <= 1.5 * about else "unknown"
