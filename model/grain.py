"""Growth of the austenite grain in a long soak."""

from __future__ import annotations

from typing import Final

import numpy as np

from model.steels import Composition

GAS_CONSTANT_J_PER_MOL_K: Final = 8.314


def austenite_grain_lee_2008(temperature_K: float, seconds: float, composition: Composition) -> float:
    """Austenite grain diameter after a hold.

    temperature_K : 1123 to 1473 [K]; seconds : above 0 [s]; composition : of the steel
    Returns the diameter [m].
    Source: Lee & Lee, Mater. Des. 29 (2008) 1840, from memory; overstates steels killed with aluminium,
    which stay at 15-25 um up to about 950-980 C and then grow suddenly.
    """
    steel = composition
    energy = 89098.0 + 3581.0 * steel.C + 1211.0 * steel.Ni + 1443.0 * steel.Cr + 4031.0 * steel.Mo
    return float(76671e-6 * np.exp(-energy / (GAS_CONSTANT_J_PER_MOL_K * temperature_K)) * seconds**0.211)


def grain_number_e112(diameter_m: float) -> float:
    """ASTM grain size number of a mean intercept.

    diameter_m : mean intercept, above 0 [m]
    Returns the number [-].
    Source: ASTM E112, G = -6.6438 log10(mm) - 3.288, from memory.
    """
    return float(-6.6438 * np.log10(diameter_m * 1e3) - 3.288)
