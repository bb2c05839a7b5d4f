"""Bands over draws: of any figure, and of hardness as the skin has it and as a Rockwell test reads it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.conversion import rockwell_c_continued
from model.traverse import rockwell_c_reading
from webapp.services.plan_face import Face
from webapp.services.plan_figures import Spread

Array = NDArray[np.float64]

BAND = (0.05, 0.95)
BAND_SDS = 1.64  # nine in ten lie within so many sd to either side

HardnessSpreads = tuple[Spread | None, Spread | None, Spread | None]


def spread(draws: Array, middle: float | None = None) -> Spread:
    """Return the band of draws about their middle, or about one that is known better."""
    low, high = (float(end) for end in np.quantile(draws, BAND))
    at = float(np.median(draws)) if middle is None else float(middle)
    return Spread(min(low, at), at, max(high, at))


def hardness_spreads(middle: Face, drawn: Face) -> HardnessSpreads:
    """Return hardness at the finished skin [HV], what a Rockwell C test shows there, and the core [HV]."""
    if drawn.hardness_HV is None or middle.hardness_HV is None:
        return None, None, None
    skin = spread(drawn.hardness_HV[:, 0], middle.hardness_HV[0, 0])
    shown, doubt = rockwell_c_reading(middle.depth_m, middle.hardness_HV)
    draws, _ = rockwell_c_reading(drawn.depth_m, drawn.hardness_HV)
    band = spread(draws, shown[0])
    # the doubt of the reading itself joins the doubt of the case
    low, high = (np.hypot(end - band.middle, BAND_SDS * doubt[0]) for end in (band.low, band.high))
    reading = Spread(band.middle - float(low), band.middle, band.middle + float(high))
    core = (
        None if drawn.core_HV is None or middle.core_HV is None else spread(drawn.core_HV, middle.core_HV[0])
    )
    return skin, reading, core


def in_rockwell(hardness: Spread | None) -> Spread | None:
    """Return a hardness [HV] in HRC."""
    if hardness is None:
        return None
    low, at, high = (
        float(rockwell_c_continued(value)) for value in (hardness.low, hardness.middle, hardness.high)
    )
    return Spread(low, at, high)
