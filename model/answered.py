"""Which local inputs, and which numbers of a sketch, a kind of reading can hang on at all."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.depth_readings import DepthReading, NoHardSkin
from model.inputs import FITTED_INPUTS, LOCAL_INPUTS
from model.sight import Reading
from model.sketch import CARBON_SKETCHED, SKETCHED

Mask = NDArray[np.bool_]

OF_CARBON: Final = (
    "temperature_K",
    "ln_transfer",
    "activity_logit",
    "ln_lag",
    "bar_quantile",
    "activation_J_per_mol",
)
BY_EYE: Final = (*OF_CARBON, "rim_carbon_wt")
OF_TEMPER: Final = ("oven_offset_K", "ln_temper_loss")


def answered_by(reading: Reading) -> Mask:
    """Return which of the inputs that are learnt a reading can hang on, (inputs,)."""
    if goes_by_carbon(reading):
        return _among(BY_EYE)
    not_seen = ("rim_carbon_wt", *(() if getattr(reading, "after", "") == "temper" else OF_TEMPER))
    return ~_among(not_seen)


def sketch_answered_by(reading: Reading) -> Mask:
    """Return which numbers of a sketch a reading can hang on, (SKETCHED,)."""
    return (np.arange(SKETCHED) < CARBON_SKETCHED) | (not goes_by_carbon(reading))


def goes_by_carbon(reading: Reading) -> bool:
    """Tell whether an eye or an etch sees it, whatever was quenched."""
    if isinstance(reading, DepthReading):
        return reading.how in ("break", "etch")
    return isinstance(reading, NoHardSkin)


def _among(names: tuple[str, ...]) -> Mask:
    return np.isin(LOCAL_INPUTS[:FITTED_INPUTS], names)
