"""Heat that hot steel loses to air: by radiation, by its own draught, and to a fan.

Air's properties are powers of temperature fitted on handbook tables (value from memory, +-3 %, 300 to
1100 K); the correlations are checked against the `ht` library.
"""

from __future__ import annotations

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
    return np.asarray(0.0263 * (film_K / _REFERENCE_K) ** 0.80)


def air_viscosity(film_K: Array) -> Array:
    """Kinematic viscosity of air at 1 atm, any shape [K] to the same [m2/s]; handbook tables, from memory."""
    return np.asarray(1.59e-5 * (film_K / _REFERENCE_K) ** 1.70)


def nusselt_cylinder_churchill_chu_1975(rayleigh: Array) -> Array:
    """Nusselt number of a lying cylinder in still air.

    rayleigh : on the diameter, any shape, 0 to 1e12 [-]
    Returns the same shape [-].
    Source: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, from memory; Pr of air.
    """
    return np.asarray((0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / _PRANDTL_CYLINDER) ** 2)


def nusselt_plate_churchill_chu_1975(rayleigh: Array) -> Array:
    """Nusselt number of a standing plate in still air.

    rayleigh : on the height, any shape, 0 to 1e12 [-]
    Returns the same shape [-].
    Source: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, from memory; Pr of air.
    """
    return np.asarray((0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / _PRANDTL_PLATE) ** 2)


_PRANDTL_CYLINDER: Final = (1.0 + (0.559 / PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)
_PRANDTL_PLATE: Final = (1.0 + (0.492 / PRANDTL) ** (9.0 / 16.0)) ** (8.0 / 27.0)


def nusselt_crossflow_churchill_bernstein_1977(reynolds: Array) -> Array:
    """Nusselt number of a cylinder in a cross wind.

    reynolds : on the diameter, any shape, 0 to 1e6 [-]
    Returns the same shape [-].
    Source: Churchill & Bernstein, J. Heat Transfer 99 (1977) 300, from memory; Pr of air.
    """
    slow = 0.62 * np.sqrt(reynolds) * PRANDTL ** (1.0 / 3.0) / (1.0 + (0.4 / PRANDTL) ** (2.0 / 3.0)) ** 0.25
    return np.asarray(0.3 + slow * (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8)


def air_flux(surface_K: Array, air_K: Array, size_m: Array, round_bar: Array, wind_m_per_s: Array) -> Array:
    """Heat that a surface loses to air and surroundings of one temperature.

    surface_K, air_K : 250 to 1500 [K]; size_m : diameter of a round bar, height of a plate [m]
    round_bar : 1 for a rod or tube, 0 for a plate; wind_m_per_s : of a fan [m/s]; all broadcasting
    Returns the broadcast shape [W/m2].
    Source: grey body, the correlations above at the film's temperature, and the third-power sum of draught
    and wind (Churchill 1977, from memory).
    """
    film_K = 0.5 * (surface_K + air_K)
    difference = surface_K - air_K
    viscosity = air_viscosity(film_K)
    lift = np.maximum(np.abs(difference), _LEAST_DIFFERENCE_K) * GRAVITY / film_K
    rayleigh = lift * size_m**3 * PRANDTL / viscosity**2
    still = np.where(
        round_bar > 0.0,
        nusselt_cylinder_churchill_chu_1975(rayleigh),
        nusselt_plate_churchill_chu_1975(rayleigh),
    )
    blown = nusselt_crossflow_churchill_bernstein_1977(wind_m_per_s * size_m / viscosity)
    windy = np.where(wind_m_per_s > 0.0, blown, 0.0)
    transfer = np.cbrt(still**3 + windy**3) * air_conductivity(film_K) / size_m
    radiation = OXIDISED_EMISSIVITY * STEFAN_BOLTZMANN * (surface_K**4 - air_K**4)
    return np.asarray(transfer * difference + radiation)
