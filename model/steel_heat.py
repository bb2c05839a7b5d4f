"""How steel carries, holds and gives off heat: what a quench needs to know of the metal, and no more."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Metal:
    """Thermal properties of a metal, straight lines of its temperature in Celsius.

    conductivity : at 0 C [W/m K], conductivity_slope : its change [W/m K2]
    specific_heat : at 0 C [J/kg K], specific_heat_slope : its change [J/kg K2]
    density : [kg/m3], held
    """

    conductivity: float
    conductivity_slope: float
    specific_heat: float
    specific_heat_slope: float
    density: float


AUSTENITE: Final = Metal(16.0, 0.0115, 520.0, 0.14, 7650.0)
"""Plain and low-alloy steel while it is austenite, 20 to 950 C; values from memory, +-10 %."""
PRODUCT: Final = Metal(50.0, -0.032, 450.0, 0.32, 7650.0)
"""The same steel as ferrite, pearlite, bainite or martensite, 20 to 700 C; values from memory, +-15 %
(martensite conducts less than pearlite; the peak of the specific heat near 750 C is left out)."""
ALLOY_600: Final = Metal(14.3, 0.0160, 443.0, 0.22, 8430.0)
"""Nickel alloy 600 of the quench probes of ISO 9950 and ASTM D6200; mill data sheet, from memory, +-5 %."""

TRANSFORMATION_HEAT_J_PER_KG: Final = 80.0e3
"""Heat given off when austenite becomes anything else [J/kg]; 75-90 for pearlite, value from memory."""


def _numbers(metal: Metal) -> Array:
    """Return heat capacity per volume, its slope, conductivity and its slope, as (4, 1, 1)."""
    of_capacity = metal.density * metal.specific_heat, metal.density * metal.specific_heat_slope
    return np.array([*of_capacity, metal.conductivity, metal.conductivity_slope])[:, None, None]


class Mixture(NamedTuple):
    """Heat capacity and conductivity of a mixture by cell, each broadcasting to (M, n).

    capacity : per volume at 0 C [J/m3 K], capacity_slope : [J/m3 K2]
    conductivity : at 0 C [W/m K], conductivity_slope : [W/m K2]
    """

    capacity: Array
    capacity_slope: Array
    conductivity: Array
    conductivity_slope: Array

    @classmethod
    def of(cls, hot: Metal, cold: Metal, hot_share: Array) -> Mixture:
        """Return the mixture of `hot_share` of the hot metal with the cold one.

        hot_share : (M, n) or broadcasting, 0 to 1 [-]
        Source: mixture by share, which is exact for the heat and a mean for the conductivity.
        """
        return Metals(hot, cold).mixed(hot_share)

    def holds(self, temperature_C: Array) -> Array:
        """Heat capacity at a temperature, (M, n) [J/m3 K]."""
        return self.capacity + self.capacity_slope * temperature_C

    def rise(self, capacity: Array, heat: Array) -> Array:
        """Rise of temperature by an amount of heat, from where the capacity is as given, each (M, n).

        capacity : [J/m3 K]; heat : [J/m3], below 0 where it is taken away
        Returns the rise [K]: exact, as the capacity is a straight line of the temperature.
        """
        doubled = heat + heat
        # in a wild trial step the square may fall below nothing: its size keeps it finite
        after = np.sqrt(np.abs(capacity * capacity + self.capacity_slope * doubled))
        return np.asarray(doubled / (capacity + after))

    def conducts(self, temperature_C: Array) -> Array:
        """Conductivity at a temperature, (M, n) [W/m K]."""
        return self.conductivity + self.conductivity_slope * temperature_C


@dataclass(frozen=True)
class Metals:
    """The metal of a section as it goes in, and what it turns into."""

    hot: Metal = AUSTENITE
    cold: Metal = PRODUCT

    def mixed(self, hot_share: Array) -> Mixture:
        """Return a mixture with so much of the hot metal; as `Mixture.of`."""
        of_cold, to_hot = self._ends
        return Mixture(*(of_cold + to_hot * hot_share))

    @cached_property
    def _ends(self) -> tuple[Array, Array]:
        """Numbers of the cold metal, and how far they are from those of the hot one, (4, 1, 1) each."""
        of_cold = _numbers(self.cold)
        return of_cold, _numbers(self.hot) - of_cold
