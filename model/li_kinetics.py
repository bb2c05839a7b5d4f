"""Isothermal times after Li, Niebuhr, Meekisho and Atteridge, for comparison only.

Metall. Mater. Trans. B 29 (1998) 661; ferrite's factor seen, the rest from memory. It puts the nose of
plain eutectoid steel right and its finish far too late, so that a case would come out much too hard.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.kirkaldy import FERRITE_ENERGY, GAS_CONSTANT_CAL, PEARLITE_ENERGY
from model.progress_integral import LI_EXPONENT, progress_integral
from model.steels import Composition
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]

FERRITE_GRAIN: Final = 0.41
PEARLITE_GRAIN: Final = 0.32
BAINITE_GRAIN: Final = 0.29


def ferrite_factor_li_1998(composition: Composition) -> float:
    """Factor FC of ferrite's time [s K3]."""
    c = composition
    alloy = 1.78 * c.Mn + 0.31 * c.Si + 1.12 * c.Ni + 2.70 * c.Cr + 4.06 * c.Mo
    return float(np.exp(1.00 + 6.31 * c.C + alloy))


def pearlite_factor_li_1998(composition: Composition) -> float:
    """Factor PC of pearlite's time [s K3]."""
    c = composition
    alloy = 4.36 * c.Mn + 0.44 * c.Si + 1.71 * c.Ni + 3.33 * c.Cr + 5.19 * np.sqrt(c.Mo)
    return float(np.exp(-4.25 + 4.12 * c.C + alloy))


def bainite_factor_li_1998(composition: Composition) -> float:
    """Factor BC of bainite's time [s K2]."""
    c = composition
    alloy = 0.85 * c.Mn + 0.55 * c.Ni + 0.90 * c.Cr + 0.36 * c.Mo
    return float(np.exp(-10.23 + 10.18 * c.C + alloy))


def bainite_start_li_1998(composition: Composition) -> float:
    """Bainite start [C]."""
    c = composition
    return 637.0 - 58.0 * c.C - 35.0 * c.Mn - 15.0 * c.Ni - 34.0 * c.Cr - 41.0 * c.Mo


def _seconds(factor: float, share: Array | float, grain: float, driving: Array, energy: Array) -> Array:
    integral = progress_integral(share, LI_EXPONENT)
    return np.asarray(factor * integral / (2.0**grain * driving * np.exp(-energy)))


def ferrite_seconds_li_1998(
    share: Array | float, temperature_C: Array, composition: Composition, grain_number: float, ae3_C: float
) -> Array:
    """Time at one temperature to a share of the ferrite that can form.

    share : 0 to 1 [-]; temperature_C : below Ae3 [C]; both broadcasting; grain_number : ASTM
    Returns the broadcast shape [s].
    Source: Li et al. 1998, factor seen, rest from memory.
    """
    energy = FERRITE_ENERGY / (GAS_CONSTANT_CAL * celsius_to_kelvin(temperature_C))
    driving = (ae3_C - temperature_C) ** 3
    return _seconds(ferrite_factor_li_1998(composition), share, FERRITE_GRAIN * grain_number, driving, energy)


def pearlite_seconds_li_1998(
    share: Array | float, temperature_C: Array, composition: Composition, grain_number: float, ae1_C: float
) -> Array:
    """Time at one temperature to a share of pearlite; parameters as ferrite's, below Ae1."""
    energy = PEARLITE_ENERGY / (GAS_CONSTANT_CAL * celsius_to_kelvin(temperature_C))
    driving = (ae1_C - temperature_C) ** 3
    return _seconds(
        pearlite_factor_li_1998(composition), share, PEARLITE_GRAIN * grain_number, driving, energy
    )


def bainite_seconds_li_1998(
    share: Array | float, temperature_C: Array, composition: Composition, grain_number: float
) -> Array:
    """Time at one temperature to a share of bainite; parameters as ferrite's, below its start."""
    energy = PEARLITE_ENERGY / (GAS_CONSTANT_CAL * celsius_to_kelvin(temperature_C))
    driving = (bainite_start_li_1998(composition) - temperature_C) ** 2
    return _seconds(bainite_factor_li_1998(composition), share, BAINITE_GRAIN * grain_number, driving, energy)
