"""Hardness of what the quench leaves, and what a low temper takes away again."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from model.conversion import rockwell_c_continued, vickers_continued
from model.curves import Curve, monotone_curve
from model.steels import Composition

Array = NDArray[np.float64]

A255_CARBON_WT: Final = (0.10, 0.70)
"""Carbon range of the two ASTM A255 polynomials [wt%]; above it they turn over."""
_FULL_MARTENSITE: Final = Polynomial([35.395, 6.990, 312.33, -821.74, 1015.48, -538.34])
_HALF_MARTENSITE: Final = Polynomial([22.974, 6.214, 356.364, -1091.488, 1464.880, -750.441])

A255_USED_TO_WT: Final = 0.50
"""Carbon up to which martensite takes its hardness from A255 [wt%]; above it austenite is retained
in the specimens the polynomial was made from, so that it is no longer the hardness of martensite."""
_PLATEAU: Final = {0.60: 815.0, 0.70: 875.0, 0.80: 920.0, 0.90: 950.0, 1.00: 965.0}
"""Hardness of martensite alone [HV] by carbon [wt%]: *tuned* once on published as-quenched small
specimens of 0.3-1.15 %C, so those specimens are no check of it; doubt +-30 HV."""
_SHIFT_FULL_WT: Final = 0.60
"""Carbon from which a shop's martensite shift acts in full [wt%]; judgement, the plateau's first row."""

RETAINED_AUSTENITE_HV: Final = 225.0
"""Hardness of retained austenite [HV]; 200-250 in the textbooks, value from memory."""
CARBIDE_HV: Final = 1000.0
"""Hardness of cementite [HV]; value from memory."""
FERRITE_HV: Final = 115.0
"""Hardness of ferrite left by a reheat below Ac3 [HV]; 110-120, value from memory."""

TEMPER_RANGE_K: Final = (373.15, 593.15)
"""Tempering temperatures the loss formula is used for [K], 100 to 320 C."""
TEMPER_CONSTANT: Final = 12.86
_TEMPER_ONSET: Final = 5.03
_TEMPER_POWER: Final = 1.08
_TEMPER_CARBON_LIMIT_WT: Final = 0.60

_MAYNIER_CARBON_LIMIT_WT: Final = 0.80
"""Carbon at which the ferrite-pearlite hardness is held [wt%]; the source stops at 0.5, and steel
of more than about 0.8 is all pearlite."""


def martensite_rockwell_a255(carbon_wt: Array | float) -> Array:
    """Rockwell C of steel quenched to 99.9 % martensite.

    carbon_wt : any shape [wt%], 0.10 to 0.70; held at 0.70 above, continued to 0 below
    Returns the same shape [HRC].
    Source: ASTM A255 (SAE J406), H100; coefficients from memory, crossed with Hodge & Orehoski 1946.
    """
    carbon = np.clip(np.asarray(carbon_wt, dtype=float), 0.0, A255_CARBON_WT[1])
    return np.asarray(_FULL_MARTENSITE(carbon), dtype=float)


def half_martensite_rockwell_a255(carbon_wt: Array | float) -> Array:
    """Rockwell C of steel quenched to 50 % martensite.

    carbon_wt : any shape [wt%], 0.10 to 0.70; held at 0.70 above, continued to 0 below
    Returns the same shape [HRC].
    Source: ASTM A255 (SAE J406), H50; coefficients from memory, crossed with Hodge & Orehoski 1946.
    """
    carbon = np.clip(np.asarray(carbon_wt, dtype=float), 0.0, A255_CARBON_WT[1])
    return np.asarray(_HALF_MARTENSITE(carbon), dtype=float)


@cache
def _martensite_curve() -> Curve:
    """Return the monotone curve of martensite hardness: A255 to 0.50 %C, then the plateau."""
    low = np.arange(0.0, A255_USED_TO_WT + 0.01, 0.05)
    carbon = np.concatenate([low, list(_PLATEAU)])
    hardness = np.concatenate([vickers_continued(martensite_rockwell_a255(low)), list(_PLATEAU.values())])
    return monotone_curve(carbon, hardness)


def martensite_vickers(carbon_wt: Array | float, shift_HV: Array | float = 0.0) -> Array:
    """Vickers hardness of untempered martensite alone.

    carbon_wt : carbon dissolved in it, any shape [wt%], 0 to 2.1; flat above 1.0
    shift_HV : shift of high-carbon martensite [HV], nothing at 0.50 %C, in full from 0.60 %C
    Returns the broadcast shape [HV].
    Source: ASTM A255 H100 through E140 up to 0.50 %C; above, our own tuned plateau (see `_PLATEAU`).
    """
    carbon = np.clip(np.asarray(carbon_wt, dtype=float), 0.0, max(_PLATEAU))
    share = np.clip((carbon - A255_USED_TO_WT) / (_SHIFT_FULL_WT - A255_USED_TO_WT), 0.0, 1.0)
    return np.asarray(_martensite_curve()(carbon) + share * shift_HV, dtype=float)


def ferrite_pearlite_vickers_maynier_1978(
    composition: Composition, carbon_wt: Array | float, cooling_rate_K_per_h: Array | float
) -> Array:
    """Vickers hardness of ferrite and pearlite formed on slow cooling.

    composition : the steel; its own carbon is not used
    carbon_wt : any shape [wt%], 0.1 to 0.5; held above 0.80
    cooling_rate_K_per_h : rate at 700 C [K/h], above 0
    Returns the shape of `carbon_wt` [HV].
    Source: Maynier, Jungmann & Dollet, Hardenability Concepts, AIME (1978) 518, from memory.
    """
    carbon = np.minimum(np.asarray(carbon_wt, dtype=float), _MAYNIER_CARBON_LIMIT_WT)
    steel = composition
    base = 42.0 + 53.0 * steel.Si + 30.0 * steel.Mn + 12.6 * steel.Ni + 7.0 * steel.Cr + 19.0 * steel.Mo
    slope = 10.0 - 19.0 * steel.Si + 4.0 * steel.Ni + 8.0 * steel.Cr + 130.0 * steel.V
    return np.asarray(base + 223.0 * carbon + slope * np.log10(cooling_rate_K_per_h), dtype=float)


def true_temper_K(dial_K: Array | float, oven_offset_K: Array | float) -> Array:
    """Return what work in an oven is at.

    dial_K, oven_offset_K : any shapes that broadcast [K]; the offset is true less dial
    Returns the broadcast shape [K], held within the range of the loss formula.
    """
    return np.asarray(np.clip(dial_K + oven_offset_K, *TEMPER_RANGE_K), dtype=float)


def temper_parameter(tempers: Sequence[tuple[Array | float, float]]) -> Array:
    """Tempering parameter of one or more tempers in a row.

    tempers : (temperature [K], any one shape, and seconds) of each, in order; an earlier temper counts as
        the time at the next temperature that would have tempered as far
    Returns T (12.86 + log10 hours) / 1000 of the whole, T in kelvin, the shape of the temperatures.
    Source: the form is Hollomon & Jaffe, Trans. AIME 162 (1945) 223; the constant 12.86 goes with
    `temper_loss_rockwell` only.
    """
    parameter = np.zeros(())
    for temperature_K, seconds in tempers:
        exponent = 1000.0 * parameter / temperature_K - TEMPER_CONSTANT
        earlier_hours = np.where(parameter > 0.0, 10.0 ** np.minimum(exponent, 12.0), 0.0)
        hours = seconds / 3600.0 + earlier_hours
        parameter = np.asarray(temperature_K * (TEMPER_CONSTANT + np.log10(hours)) / 1000.0)
    return parameter


def temper_loss_rockwell(carbon_wt: Array | float, parameter: Array | float) -> Array:
    """Rockwell C points that martensite loses in a low temper.

    carbon_wt : carbon dissolved in it, any shape [wt%], 0 to 0.70; held above 0.60
    parameter : of `temper_parameter`, broadcasting with it, for tempers of 100 to 320 C
    Returns the same shape [HRC], 0 or more, +-1.
    Source: fitted for this project on published rows of Hollomon & Jaffe (1945) and Grange & Baughman
    (1956) with less than 0.70 %C and up to 316 C, so those rows are no check; alloy steels come out
    too soft from about 250 C.
    """
    carbon = np.minimum(np.asarray(carbon_wt, dtype=float), _TEMPER_CARBON_LIMIT_WT)
    strength = np.maximum(0.0, -0.82 + 8.71 * carbon)
    return np.asarray(strength * np.maximum(0.0, parameter - _TEMPER_ONSET) ** _TEMPER_POWER, dtype=float)


def tempered_vickers(
    hardness_HV: Array,
    carbon_wt: Array,
    martensite: Array,
    parameter: Array | float,
    loss_factor: Array | float = 1.0,
) -> Array:
    """Vickers hardness after low tempers.

    hardness_HV : as quenched [HV]; carbon_wt : dissolved in the martensite [wt%]
    martensite : its share [-]; only martensite softens here
    parameter : of `temper_parameter`, for tempers of 100 to 320 C
    loss_factor : what is lost over what the formula says [-], about 1
    Returns the shape of `hardness_HV` [HV], never harder than before.
    Source: `temper_loss_rockwell`; the loss in proportion to the martensite is our own.
    """
    loss = loss_factor * temper_loss_rockwell(carbon_wt, parameter) * martensite
    return np.minimum(hardness_HV, vickers_continued(rockwell_c_continued(hardness_HV) - loss))
