"""What goes into the box with the work: charcoal and carbonate by weight, their gas and their carbon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from model.energizers import gas_litres_per_100_g
from model.errors import NotPossible
from model.ranges import BULK_KG_PER_M3, CARBONATE_PERCENT, GRAIN_MM, Range, check
from model.units import OUNCE_kg

CHARCOAL_KG_PER_M3: Final = ((1.0e-3, 320.0), (4.5e-3, 260.0), (25e-3, 215.0))
"""Bulk density by grain [m, kg/m3]: fine 280-350, crushed 3-6 mm 220-300, lump 180-250; memory."""
BULK_DOUBT: Final = 0.2
"""Share by which an unmeasured bulk density may be off either way [-]; half the width of those ranges."""
FIXED_CARBON: Final = 0.85
"""Carbon in dry charcoal by weight [-], 0.75 to 0.90; value from memory."""
FEEDS_SHARE: Final = 0.1
"""Share of the charcoal's carbon that may go before the pack counts as spent [-]; judgement."""
VOLUME_L: Final = Range(
    0.01, 500.0, "L", "Inside of the box less the work in it; a box must be larger than its work."
)


@dataclass(frozen=True)
class PackWeights:
    """A box full of mix.

    mix_kg, charcoal_kg, carbonate_kg : weights [kg]; doubt : share by which they may be off [-]
    hot_gas_L : gas the carbonate can make, as hot as the box [L]; fills : how often that fills the free space
    """

    mix_kg: float
    charcoal_kg: float
    carbonate_kg: float
    doubt: float
    hot_gas_L: float
    fills: float


@dataclass(frozen=True)
class CarbonBalance:
    """Carbon the steel takes up and the charcoal holds [kg]; enough : the pack can give it."""

    needed_kg: float
    present_kg: float
    enough: bool


@dataclass(frozen=True)
class TopUp:
    """What is added to an old pack [kg]: charcoal and carbonate; fresh_share : of the whole mix then [-]."""

    charcoal_kg: float
    carbonate_kg: float
    fresh_share: float


def charcoal_bulk_density(grain_m: float) -> float:
    """Return the bulk density of dry charcoal [kg/m3]; grain_m : `GRAIN_MM`; Raises: OutOfRange."""
    check("grain_m", grain_m * 1e3, GRAIN_MM)
    grains, densities = zip(*CHARCOAL_KG_PER_M3, strict=True)
    return float(np.interp(np.log(grain_m), np.log(grains), densities))


def pack_weights(
    free_m3: float,
    carbonate_percent: float,
    carbonate: str,
    grain_m: float,
    measured_kg_per_m3: float | None = None,
    temperature_K: float = 1198.15,
) -> PackWeights:
    """Weights of a mix that fills the free space of a box.

    free_m3 : inside less the work, `VOLUME_L`; carbonate_percent : by weight of the mix, 0 to 60 [%]
    carbonate : formula, "" for none; grain_m : of the charcoal, `GRAIN_MM`
    measured_kg_per_m3 : bulk density of this mix, weighed, `BULK_KG_PER_M3`; temperature_K : of the gas [K]
    Returns `PackWeights`. Raises OutOfRange.
    Source: weights by volume; without a tin the carbonate is taken to lie between the grains, adding weight
    and no volume (judgement). Gas by stoichiometry, all of it: an upper end.
    """
    check("free_m3", free_m3 * 1e3, VOLUME_L)
    share = check("carbonate_percent", carbonate_percent, CARBONATE_PERCENT) / 100.0
    if measured_kg_per_m3 is None:
        bulk, doubt = charcoal_bulk_density(grain_m) / (1.0 - share), BULK_DOUBT
    else:
        bulk, doubt = check("measured_kg_per_m3", measured_kg_per_m3, BULK_KG_PER_M3), 0.0
    mix_kg = bulk * free_m3
    gas_L = 10.0 * share * mix_kg * gas_litres_per_100_g(carbonate, temperature_K) if carbonate else 0.0
    return PackWeights(mix_kg, mix_kg * (1.0 - share), mix_kg * share, doubt, gas_L, gas_L / (1e3 * free_m3))


def carbon_balance(area_m2: float, gain_kg_per_m2: float, charcoal_kg: float) -> CarbonBalance:
    """Carbon wanted by the steel against carbon in the pack.

    area_m2 : fed faces of all the work [m2]; gain_kg_per_m2 : carbon they take up, from the forecast [kg/m2]
    charcoal_kg : dry [kg], each 0 or more
    Returns `CarbonBalance`; a tenth of the charcoal's carbon may go before the pack counts as spent.
    Source: balance; shares as the constants say.
    """
    needed, present = area_m2 * gain_kg_per_m2, charcoal_kg * FIXED_CARBON
    return CarbonBalance(needed, present, needed <= FEEDS_SHARE * present)


def top_up(whole: PackWeights, old_kg: float, old_carbonate_percent: float) -> TopUp:
    """Weights that bring an old, sifted pack to what a box wants.

    whole : what the box wants; old_kg : old pack as weighed, 0 to the whole [kg]
    old_carbonate_percent : what of it is still carbonate [%]; 0 is the safe word for one that was used often
    Returns `TopUp`; where the old pack holds more carbonate than wanted none is added.
    Raises NotPossible for more old pack than the box holds, OutOfRange for the percent.
    Source: balance of weights.
    """
    check("old_carbonate_percent", old_carbonate_percent, CARBONATE_PERCENT)
    if not 0.0 <= old_kg <= whole.mix_kg:
        what = f"{_both(old_kg)} of old pack do not go into a box that holds {_both(whole.mix_kg)}"
        raise NotPossible("old_kg", what, "Use less of the old pack.")
    fresh = whole.mix_kg - old_kg
    carbonate = min(max(whole.carbonate_kg - old_kg * old_carbonate_percent / 100.0, 0.0), fresh)
    return TopUp(fresh - carbonate, carbonate, fresh / whole.mix_kg)


def _both(mass_kg: float) -> str:
    return f"{mass_kg:.2f} kg ({mass_kg / (16.0 * OUNCE_kg):.2f} lb)"
