"""At what strain, or from what flaw, steel of a hardness breaks."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EDGE_CRACK: Final = 1.12
"""Shape factor of a shallow edge crack [-]; Tada, Paris & Irwin, Stress Analysis of Cracks, from memory."""
CORE_HV: Final = 400.0
CASE_HV: Final = 650.0
"""Hardness of the core and of the case that the two anchors of ductility and toughness stand for [HV]."""
STRAIN_SLOPE: Final = 1.0
TOUGHNESS_SLOPE: Final = 2.0
"""Rise of breaking strain and of toughness below 400 HV, as powers of the hardness; judgement."""
MILD_HV: Final = 250.0
MILD_STRAIN_SLOPE: Final = 0.66
"""Further rise of the breaking strain below 250 HV: structural bar of about 135 HV must bend flat round half
its thickness, an outer strain of 2/3 (ASTM A36, supplementary bend test to 3/4 in, value from memory)."""
FOLDED_STRAIN: Final = 1.0
"""Outer strain of a bar folded flat upon itself [-]: geometry, no bend asks for more."""


def flaw_stress(toughness: Array | float, flaw_m: Array | float) -> Array:
    """Stress at which a shallow surface flaw runs, K / (1.12 sqrt(pi a)) [Pa].

    toughness : [Pa m^0.5]; flaw_m : its depth [m], broadcasting. Source: linear elastic fracture mechanics.
    """
    return np.asarray(toughness / (EDGE_CRACK * np.sqrt(np.pi * np.asarray(flaw_m))))


def _between(hardness_HV: Array, at_core: Array, at_case: Array, slope: float) -> Array:
    """Return a property by hardness: a power from 400 to 650 HV, even above, rising by `slope` below."""
    share = np.clip(np.log(hardness_HV / CORE_HV) / np.log(CASE_HV / CORE_HV), 0.0, 1.0)
    softer = np.maximum(CORE_HV / hardness_HV, 1.0) ** slope
    return np.asarray(at_core ** (1.0 - share) * at_case**share * softer)


def breaking_strain(hardness: Array, own: dict[str, Array]) -> Array:
    """Strain at which steel tears or cracks.

    hardness : (draws, rings), above 0 [HV]; own : fields of `BendingConstants`, (draws, 1) each
    Returns the shape of `hardness` [-], at most that of a bar folded flat.
    Source: anchors at 400 and 650 HV from the constants; the slopes as they say.
    """
    mild = np.maximum(MILD_HV / hardness, 1.0) ** MILD_STRAIN_SLOPE
    strain = _between(hardness, own["core_strain"], own["case_strain"], STRAIN_SLOPE)
    return np.asarray(np.minimum(strain * mild, FOLDED_STRAIN))


def toughness_of_hardness(hardness: Array, own: dict[str, Array]) -> Array:
    """Toughness of steel.

    hardness, own : as `breaking_strain`
    Returns the shape of `hardness` [Pa m^0.5].
    Source: anchors at 400 and 650 HV from the constants; the slope below is judgement.
    """
    return _between(hardness, own["core_toughness"], own["case_toughness"], TOUGHNESS_SLOPE)
