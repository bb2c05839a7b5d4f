"""What a steel is made of while hot, and what a full quench makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.austenite import cementite_saturation_wt
from model.steels import (
    Composition,
    ac1_andrews_1965,
    ac3_andrews_1965,
    koistinen_rate_van_bohemen_2012,
    ms_van_bohemen_2012,
)
from model.units import celsius_to_kelvin, kelvin_to_celsius

Array = NDArray[np.float64]

CEMENTITE_CARBON_WT: Final = 6.67
"""Carbon in Fe3C [wt%]; from the atomic weights."""
FERRITE_CARBON_WT: Final = 0.02
"""Carbon that ferrite holds near Ac1 [wt%]; Fe-C diagram, value from memory."""
ANDREWS_CARBON_K: Final = 203.0
"""Fall of Ac3 with the square root of carbon [K]; Andrews 1965, as in `ac3_andrews_1965`."""


@dataclass(frozen=True)
class Hot:
    """What a hot steel is made of; every field has one shape, and the three shares sum to 1.

    austenite, ferrite, carbide : shares by weight [-]; below Ac1 all of it counts as ferrite (and pearlite)
    austenite_carbon_wt : carbon dissolved in the austenite [wt%], 0 where there is none
    """

    austenite: Array
    ferrite: Array
    carbide: Array
    austenite_carbon_wt: Array


def saturation_wt(temperature_K: Array, alloy_factor: Array | float) -> Array:
    """Carbon that a steel's austenite holds before cementite forms.

    temperature_K : any shape [K], 1000 to 1420; alloy_factor : of `alloy_factor_gunn_1967`, broadcasting
    Returns the broadcast shape [wt%].
    Source: the cementite line of iron-carbon over Gunn's factor; carbide formers in truth lower the
    line where the factor raises it, so alloy steels may show carbide sooner.
    """
    return np.asarray(cementite_saturation_wt(temperature_K) / alloy_factor, dtype=float)


def hot_phases(carbon_wt: Array, temperature_K: Array, composition: Composition, alloy_factor: Array) -> Hot:
    """Austenite, ferrite and free carbide in balance at a temperature.

    carbon_wt : (..., n) total carbon [wt%], 0 to 2.1; temperature_K : broadcasting, 300 to 1420 [K]
    composition, alloy_factor : of the steel
    Returns `Hot`. Above saturation the rest is carbide; between Ac1 and Ac3 ferrite by the lever rule;
    at or below Ac1 no austenite.
    Source: lever rule on the cementite line and on Andrews' Ac3 (long form), full balance assumed.
    """
    ac1_K = celsius_to_kelvin(ac1_andrews_1965(composition))
    limit = saturation_wt(np.maximum(temperature_K, ac1_K), alloy_factor)
    no_carbon_C = ac3_andrews_1965(np.zeros(1), composition, long_form=True)
    below_K = np.maximum(no_carbon_C - kelvin_to_celsius(temperature_K), 0.0)
    least = np.minimum((below_K / ANDREWS_CARBON_K) ** 2, limit)
    carbide = np.clip((carbon_wt - limit) / (CEMENTITE_CARBON_WT - limit), 0.0, 1.0)
    ferrite = np.clip((least - carbon_wt) / np.maximum(least - FERRITE_CARBON_WT, 1e-3), 0.0, 1.0)
    cold = np.broadcast_to(temperature_K <= ac1_K, carbon_wt.shape)
    ferrite, carbide = np.where(cold, 1.0, ferrite), np.where(cold, 0.0, carbide)
    dissolved = np.where(cold, 0.0, np.clip(carbon_wt, least, limit))
    return Hot(1.0 - ferrite - carbide, ferrite, carbide, dissolved)


def retained_share_koistinen_marburger_1959(
    ms_C: Array, rate_per_K: Array | float, lowest_C: Array | float
) -> Array:
    """Share of austenite that a quench leaves.

    ms_C : martensite start [C], any shape; rate_per_K : 0.011 in the paper [1/K]
    lowest_C : lowest temperature reached [C]
    Returns the broadcast shape [-], 0 to 1.
    Source: Koistinen & Marburger, Acta Metall. 7 (1959) 59, from memory.
    """
    return np.asarray(np.exp(-rate_per_K * np.maximum(ms_C - lowest_C, 0.0)), dtype=float)


def retained_share(
    austenite_carbon_wt: Array, composition: Composition, lowest_K: Array, factor: Array | float
) -> Array:
    """Share of the austenite that is still austenite after the quench and any deeper cold.

    austenite_carbon_wt : any shape [wt%], 0.1 to 1.9; composition : of the steel
    lowest_K : lowest temperature reached [K], broadcasting; factor : the shop's own multiplier [-]
    Returns the broadcast shape [-], 0 to 1.
    Source: Koistinen & Marburger with Ms and rate of van Bohemen 2012, chosen because both bend with
    carbon and so hold in the case, where Ms agrees with Barbier 2014 within 2 K while less austenite
    is left at 0.4-0.6 %C, as measured there; at 1.1-1.2 %C it looks too high (hence the factor).
    """
    share = retained_share_koistinen_marburger_1959(
        ms_van_bohemen_2012(austenite_carbon_wt, composition),
        koistinen_rate_van_bohemen_2012(austenite_carbon_wt, composition),
        kelvin_to_celsius(lowest_K),
    )
    return np.clip(share * factor, 0.0, 1.0)
