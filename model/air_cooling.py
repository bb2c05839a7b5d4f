"""Heat that hot steel loses to air: by radiation, by its own draught, and to a fan.

Air's properties are powers of temperature fitted on handbook tables (value from memory, +-3 %, 300 to
1100 K); the correlations are checked against the `ht` library.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.units import STEFAN_BOLTZMANN

Array = NDArray[np.float64]

OXIDISED_EMISSIVITY: Final = 0.8
"""Emissivity of oxidised steel [-]; 0.8 to 0.9 in handbooks, value from memory."""
GRAVITY: Final = 9.81
PRANDTL: Final = 0.70
PLATE_HEIGHT_m: Final = 0.05
"""Height taken for a plate, of which only the thickness is known [m]; it counts by its fourth root."""
FAN_M_PER_S: Final = {"still": 0.0, "mild": 1.0, "moderate": 3.0, "strong": 8.0}
"""Air speed of our four words [m/s]; own choice: waved about, a fan, a blower."""
_REFERENCE_K: Final = 300.0
_LEAST_DIFFERENCE_K: Final = 1e-3


def air_conductivity(film_K: Array) -> Array:
    """Conductivity of air, any shape [K] to the same [W/m K]; handbook tables, from memory."""
    return np.asarray(0.0263 / _REFERENCE_K**0.80 * film_K**0.80)


def air_viscosity(film_K: Array) -> Array:
    """Kinematic viscosity of air at 1 atm, any shape [K] to the same [m2/s]; handbook tables, from memory."""
    return np.asarray(1.59e-5 / _REFERENCE_K**1.70 * film_K**1.70)


def nusselt_cylinder_churchill_chu_1975(rayleigh: Array) -> Array:
    """Nusselt number of a lying cylinder in still air.

    rayleigh : on the diameter, any shape, 0 to 1e12 [-]
    Returns the same shape [-].
    Source: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, from memory; Pr of air.
    """
    return np.asarray((0.60 + _CYLINDER * rayleigh ** (1.0 / 6.0)) ** 2)


def nusselt_plate_churchill_chu_1975(rayleigh: Array) -> Array:
    """Nusselt number of a standing plate in still air.

    rayleigh : on the height, any shape, 0 to 1e12 [-]
    Returns the same shape [-].
    Source: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, from memory; Pr of air.
    """
    return np.asarray((0.825 + _PLATE * rayleigh ** (1.0 / 6.0)) ** 2)


_CYLINDER: Final = 0.387 / (1.0 + (0.559 / PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)
_PLATE: Final = 0.387 / (1.0 + (0.492 / PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)
_CROSSFLOW: Final = 0.62 * PRANDTL ** (1.0 / 3.0) / (1.0 + (0.4 / PRANDTL) ** (2.0 / 3.0)) ** 0.25


def nusselt_crossflow_churchill_bernstein_1977(reynolds: Array) -> Array:
    """Nusselt number of a cylinder in a cross wind.

    reynolds : on the diameter, any shape, 0 to 1e6 [-]
    Returns the same shape [-].
    Source: Churchill & Bernstein, J. Heat Transfer 99 (1977) 300, from memory; Pr of air.
    """
    slow = _CROSSFLOW * np.sqrt(reynolds)
    return np.asarray(0.3 + slow * (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8)


def air_flux(surface_K: Array, air_K: Array, size_m: Array, round_bar: Array, wind_m_per_s: Array) -> Array:
    """Heat that a surface loses to air and surroundings of one temperature.

    surface_K, air_K : 250 to 1500 [K]; size_m : diameter of a round bar, height of a plate [m]
    round_bar : 1 for a rod or tube, 0 for a plate; wind_m_per_s : of a fan [m/s]; all broadcasting
    Returns the broadcast shape [W/m2].
    Source: grey body, the correlations above at the film's temperature, and the third-power sum of draught
    and wind (Churchill 1977, from memory).
    """
    return Around.of(air_K, size_m, round_bar, wind_m_per_s).flux(surface_K)


@dataclass(frozen=True)
class Around:
    """Air about work, with what does not change as the work cools worked out; fields of any one shape.

    air_K : and its fourth power; size_m, is_round : of the work
    lift : gravity, Prandtl number and size of the Rayleigh number; blown_m2_per_s : wind times size
    Source: as `air_flux`.
    """

    air_K: Array
    air_K4: Array
    size_m: Array
    lift: Array
    is_round: NDArray[np.bool_]
    blown_m2_per_s: Array

    @classmethod
    def of(cls, air_K: Array, size_m: Array, round_bar: Array, wind_m_per_s: Array) -> Around:
        """Return the air; parameters as `air_flux`."""
        lift = GRAVITY * PRANDTL * size_m**3
        return cls(air_K, air_K**4, size_m, lift, np.asarray(round_bar > 0.0), wind_m_per_s * size_m)

    @cached_property
    def _alike(self) -> tuple[bool, bool]:
        """Whether all work is round, and whether none of it is."""
        return bool(self.is_round.all()), not self.is_round.any()

    @cached_property
    def _blown(self) -> bool:
        """Whether any work is in a wind."""
        return bool(self.blown_m2_per_s.any())

    def flux(self, surface_K: Array) -> Array:
        """Heat lost at a surface temperature, broadcasting [K] to [W/m2]."""
        film_K = 0.5 * (surface_K + self.air_K)
        difference = surface_K - self.air_K
        viscosity = air_viscosity(film_K)
        driven = self.lift * np.maximum(np.abs(difference), _LEAST_DIFFERENCE_K)
        nusselt = self._still(driven / (film_K * viscosity * viscosity))
        if self._blown:
            blown = nusselt_crossflow_churchill_bernstein_1977(self.blown_m2_per_s / viscosity)
            together = np.cbrt(nusselt * nusselt * nusselt + blown * blown * blown)
            nusselt = np.where(self.blown_m2_per_s > 0.0, together, nusselt)
        transfer = nusselt * air_conductivity(film_K) / self.size_m
        squared = surface_K * surface_K
        radiation = OXIDISED_EMISSIVITY * STEFAN_BOLTZMANN * (squared * squared - self.air_K4)
        return np.asarray(transfer * difference + radiation)

    def _still(self, rayleigh: Array) -> Array:
        """Return the Nusselt number in still air, each member's by its shape."""
        all_round, none_round = self._alike
        if all_round:
            return nusselt_cylinder_churchill_chu_1975(rayleigh)
        plate = nusselt_plate_churchill_chu_1975(rayleigh)
        if none_round:
            return plate
        return np.where(self.is_round, nusselt_cylinder_churchill_chu_1975(rayleigh), plate)
