"""One warning of a forecast."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from model.units import kelvin_to_celsius

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Warned:
    """One warning: a code for programs, the field it is about, and words for the shop.

    `words` name each heat [K] in braces, so that whoever shows them says it in the reader's own degrees.
    """

    code: str
    path: str
    words: str
    heats_K: Mapping[str, float] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """Return the words with heats in Celsius."""
        return say_heats(self.words, self.heats_K, lambda heat_K: f"{kelvin_to_celsius(heat_K):.0f} C")


def say_heats(words: str, heats_K: Mapping[str, float], say: Callable[[float], str]) -> str:
    """Return words with their heats [K] as `say` puts one."""
    return words.format_map({name: say(heat_K) for name, heat_K in heats_K.items()})


def middle(draws: Array) -> float:
    """Return the median of draws, (draws,): numpy's own, a tenth of its price for few."""
    ordered = np.sort(draws)
    return float(0.5 * (ordered[(len(draws) - 1) // 2] + ordered[len(draws) // 2]))
