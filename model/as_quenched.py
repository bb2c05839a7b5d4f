"""Structure and hardness right after the quench, from what formed on the way down.

Two published ways meet here. In the case (0.55 %C and more) structure comes from kinetics, and hardness
from its parts; in the core (0.35 %C and less) hardness comes from the place on the end-quench bar that
cooled as fast, and the share of martensite from that hardness. Between them the two are blended.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.conversion import vickers_continued
from model.hardness import (
    CARBIDE_HV,
    FERRITE_HV,
    RETAINED_AUSTENITE_HV,
    ferrite_pearlite_vickers_maynier_1978,
    martensite_vickers,
)
from model.jominy import core_rockwell, jominy_distance
from model.product_hardness import bainite_vickers, pearlite_vickers
from model.steels import Composition
from model.structure import Hot
from model.transformation import Products

Array = NDArray[np.float64]

CORE_TO_WT: Final = 0.35
CASE_FROM_WT: Final = 0.55
"""Carbon in the austenite to which the core's way holds alone, and from which the case's does [wt%]; own
choice about the 0.45 %C of our working notes."""
LEAST_RATE_K_PER_S: Final = 0.01
SECONDS_PER_HOUR: Final = 3600.0
_LEAST: Final = 1e-9


@dataclass(frozen=True)
class AsQuenched:
    """Shares by weight that sum to 1, and hardness; all (M, n)."""

    martensite: Array
    retained: Array
    bainite: Array
    pearlite: Array
    ferrite: Array
    carbide: Array
    hardness_HV: Array


@dataclass(frozen=True)
class _Parts:
    """What the austenite turned into, shares that sum to 1, and its hardness; all (M, n)."""

    martensite: Array
    retained: Array
    bainite: Array
    pearlite: Array
    ferrite: Array
    hardness_HV: Array


def as_quenched(
    hot: Hot,
    products: Products,
    retained: Array,
    rate_K_per_s: Array,
    composition: Composition,
    grain_number: Array | float,
    martensite_shift_HV: Array | float = 0.0,
) -> AsQuenched:
    """Structure and hardness after the quench.

    hot : what the steel was made of in the fire, (M, n); products : of `transformation.transform`, (M, n)
    retained : (M, n) share of the austenite left at martensite's start that stays austenite [-]
    rate_K_per_s : (M, n) cooling rate at 704 C, nan where it never passed it (then it did not harden)
    composition : floats or (M, 1) columns; grain_number, martensite_shift_HV : broadcasting to (M, n)
    Returns `AsQuenched`.
    Source: as the module; linear mixing of HV; the blend is our own.
    """
    rate = np.maximum(np.nan_to_num(rate_K_per_s, nan=0.0), LEAST_RATE_K_PER_S)
    case = _by_kinetics(products, retained, martensite_shift_HV)
    core = _by_end_quench(hot, products, retained, rate, composition, grain_number, martensite_shift_HV)
    weight = np.clip((hot.austenite_carbon_wt - CORE_TO_WT) / (CASE_FROM_WT - CORE_TO_WT), 0.0, 1.0)
    mixed = {
        name: weight * getattr(case, name) + (1.0 - weight) * value for name, value in vars(core).items()
    }
    hardness = mixed.pop("hardness_HV") * hot.austenite + hot.ferrite * FERRITE_HV + hot.carbide * CARBIDE_HV
    shares = {name: share * hot.austenite for name, share in mixed.items()}
    shares["ferrite"] = shares["ferrite"] + hot.ferrite
    return AsQuenched(**shares, carbide=hot.carbide, hardness_HV=hardness)


def _by_kinetics(products: Products, retained: Array, shift_HV: Array | float) -> _Parts:
    """Return the parts as kinetics has them, and their mixed hardness."""
    martensite, stays = products.left * (1.0 - retained), products.left * retained
    carbon = products.carbon_left_wt
    hardness = (
        martensite * martensite_vickers(carbon, shift_HV)
        + stays * RETAINED_AUSTENITE_HV
        + products.bainite * bainite_vickers(products.bainite_K, carbon)
        + products.pearlite * pearlite_vickers(products.pearlite_K)
        + products.ferrite * FERRITE_HV
    )
    return _Parts(martensite, stays, products.bainite, products.pearlite, products.ferrite, hardness)


def _by_end_quench(
    hot: Hot,
    products: Products,
    retained: Array,
    rate_K_per_s: Array,
    composition: Composition,
    grain_number: Array | float,
    shift_HV: Array | float,
) -> _Parts:
    """Return hardness from the end-quench bar, and the parts that it speaks of."""
    carbon = hot.austenite_carbon_wt
    rockwell = core_rockwell(carbon, composition, grain_number, jominy_distance(rate_K_per_s))
    soft = ferrite_pearlite_vickers_maynier_1978(composition, carbon, rate_K_per_s * SECONDS_PER_HOUR)
    full = martensite_vickers(carbon, shift_HV)
    hardness = np.clip(vickers_continued(rockwell), np.minimum(soft, full), full)
    hard = np.clip((hardness - soft) / np.maximum(full - soft, 1.0), 0.0, 1.0)
    formed = np.maximum(products.ferrite + products.pearlite + products.bainite, _LEAST)
    rest = (1.0 - hard) / formed
    none = formed <= _LEAST  # kinetics saw nothing form: call it bainite, which forms last
    bainite = np.where(none, 1.0 - hard, products.bainite * rest)
    pearlite, ferrite = (np.where(none, 0.0, share * rest) for share in (products.pearlite, products.ferrite))
    return _Parts(hard * (1.0 - retained), hard * retained, bainite, pearlite, ferrite, hardness)
