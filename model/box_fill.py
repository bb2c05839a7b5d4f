"""What a box is filled with, for its heat: damp charcoal and steel, and how they hold and pass on heat.

Heat contents are per volume, above 0 C, as tables that can be read both ways: water leaves the charcoal at
100 C, where heat goes in and nothing grows hotter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.ranges import BULK_KG_PER_M3, GRAIN_MM, Range, check
from model.steel_heat import PRODUCT, TRANSFORMATION_HEAT_J_PER_KG
from model.units import STEFAN_BOLTZMANN, ZERO_CELSIUS_K

Array = NDArray[np.float64]

WATER_HEAT_J_PER_KG: Final = 2.26e6
"""Heat that boils water off at 100 C [J/kg]; handbook value."""
DRYING_K: Final = (368.0, 378.0)
"""Temperatures over which the water leaves [K]: 100 C, spread so that it can be solved; own choice."""
STEEL_CHANGES_K: Final = (993.0, 1113.0)
"""Temperatures over which steel becomes austenite [K]: 720 to 840 C, low-carbon bar; spread evenly."""
GRAIN_EMISSIVITY: Final = 0.9
"""Of charcoal [-]; value from memory."""
COLD_CONDUCTIVITY: Final = 0.08
"""Of a dry charcoal bed at room temperature [W/m K]: fine 0.05-0.07, crushed 0.08-0.12; memory."""
WATER_SHARE: Final = Range(0.0, 0.6, "", "Charcoal kept dry holds 0.03 to 0.08 of its weight as water.")
_KELVIN: Final = np.linspace(250.0, 1600.0, 541)


@dataclass(frozen=True)
class Bed:
    """A bed of charcoal and what is mixed into it.

    bulk_kg_per_m3 : of the whole mix, `BULK_KG_PER_M3`; grain_m : of the charcoal, `GRAIN_MM`
    water : by weight of the mix, `WATER_SHARE` [-]; conducts : factor on its conductivity, for its doubt
    """

    bulk_kg_per_m3: float = 300.0
    grain_m: float = 4.5e-3
    water: float = 0.05
    conducts: float = 1.0

    def __post_init__(self) -> None:
        """Refuse numbers that no bed has."""
        check("bulk_kg_per_m3", self.bulk_kg_per_m3, BULK_KG_PER_M3)
        check("grain_m", self.grain_m * 1e3, GRAIN_MM)
        check("water", self.water, WATER_SHARE)


@dataclass(frozen=True)
class HeatTable:
    """Heat content against temperature of one filling: kelvin and joules_per_m3, (k,) each, both rising."""

    kelvin: Array
    joules_per_m3: Array

    def heat(self, kelvin: Array) -> Array:
        """Return the heat content at temperatures [K]."""
        return np.interp(kelvin, self.kelvin, self.joules_per_m3)

    def temperature(self, joules_per_m3: Array) -> Array:
        """Return the temperature [K] at heat contents."""
        return np.interp(joules_per_m3, self.joules_per_m3, self.kelvin)


def char_specific_heat_larfeldt_2000(kelvin: Array) -> Array:
    """Specific heat of wood char.

    kelvin : 250 to 1600 [K]; fitted up to about 1200
    Returns [J/kg K]. Source: Larfeldt, Leckner & Melaaen, Biomass Bioenergy 18 (2000) 507, from memory.
    """
    return 420.0 + 2.09 * kelvin - 6.85e-4 * kelvin**2


def bed_conductivity(kelvin: Array, bed: Bed) -> Array:
    """Conductivity of a bed with the radiation between its grains.

    kelvin : [K]; bed : the bed
    Returns [W/m K]. Source: cold value from memory; radiation 4 e sigma T^3 d, Damkoehler's term (memory).
    Weak: published beds differ by a factor of two, which `conducts` is for.
    """
    radiation = 4.0 * GRAIN_EMISSIVITY * STEFAN_BOLTZMANN * kelvin**3 * bed.grain_m
    return bed.conducts * (COLD_CONDUCTIVITY + radiation)


def steel_conductivity(kelvin: Array) -> Array:
    """Return the conductivity of the work and the box [W/m K]; of no weight beside the bed's."""
    return np.maximum(PRODUCT.conductivity + PRODUCT.conductivity_slope * (kelvin - ZERO_CELSIUS_K), 25.0)


@cache
def bed_heat(bed: Bed) -> HeatTable:
    """Return the heat content of a bed; carbonate in it is counted as char, which is near enough."""
    dry = bed.bulk_kg_per_m3 * (1.0 - bed.water) * char_specific_heat_larfeldt_2000(_KELVIN)
    water_J = bed.bulk_kg_per_m3 * bed.water * WATER_HEAT_J_PER_KG
    return _table(dry, water_J, DRYING_K)


@cache
def steel_heat() -> HeatTable:
    """Return the heat content of steel, the change to austenite in it."""
    specific = PRODUCT.specific_heat + PRODUCT.specific_heat_slope * (_KELVIN - ZERO_CELSIUS_K)
    capacity = PRODUCT.density * np.minimum(
        specific, PRODUCT.specific_heat + PRODUCT.specific_heat_slope * 700.0
    )
    return _table(capacity, PRODUCT.density * TRANSFORMATION_HEAT_J_PER_KG, STEEL_CHANGES_K)


def _table(capacity: Array, latent_J_per_m3: float, between_K: tuple[float, float]) -> HeatTable:
    """Return the heat content of a heat capacity, with a latent heat spread over a stretch of temperature."""
    low, high = between_K
    change = latent_J_per_m3 * np.clip((_KELVIN - low) / (high - low), 0.0, 1.0)
    steps = 0.5 * (capacity[1:] + capacity[:-1]) * np.diff(_KELVIN)
    content = np.concatenate([[0.0], np.cumsum(steps)]) + change
    return HeatTable(_KELVIN, content - np.interp(ZERO_CELSIUS_K, _KELVIN, content))
