"""Hardness profiles to bend: a case of a depth and a skin of a hardness on a core."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.process import Section, Shape

PLATE = Section(Shape.PLATE, 6e-3)
ROD = Section(Shape.ROD, 6e-3)
DEPTH = np.linspace(0.0, 3e-3, 121)


def cased(case_m: float, core_HV: float, skin_HV: float = 750.0, draws: int = 1) -> NDArray[np.float64]:
    """Return (draws, n) hardness that falls half-way at `case_m`."""
    fall = 1.0 / (1.0 + np.exp((DEPTH - case_m) / (case_m / 8.0)))
    return np.repeat((core_HV + (skin_HV - core_HV) * fall)[None], draws, axis=0)
