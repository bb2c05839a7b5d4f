"""Rules of thumb for case depth, shown beside the forecast and never used in it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from model.ranges import Range

Array = NDArray[np.float64]

HARRIS_TEMPERATURE_K = Range(
    1088.0, 1228.0, "K", "Harris's table runs from 1500 to 1750 F (816 to 954 C); say so when it is left."
)
"""Span of the printed table (value from memory); outside it the caller states a warning."""
_INCH_m = 0.0254
_HOUR_s = 3600.0
_TENTH_MILLIMETRE_m = 1.0e-4


def harris_total_depth_1943(temperature_K: Array | float, seconds: Array | float) -> Array:
    """Return the total case depth after Harris: 31.6 sqrt(hours) / 10^(6700 / (F + 460)) inch.

    temperature_K : time at this temperature only, see HARRIS_TEMPERATURE_K [K]
    seconds : time at temperature, 0 or more [s]
    returns : total depth, carbon about 0.07 wt% above the core, for a surface held at saturation [m]
    source : F. E. Harris, Metal Progress 44 (Aug. 1943) 265, inch form; from memory. The handbook form
        660 exp(-8287/T) sqrt(h) mm gives 3 to 6 % more and is not used
    """
    rankine = np.asarray(temperature_K) * 1.8
    # the 460 of the printed formula, not the exact 459.67
    fahrenheit_plus_460 = rankine - 459.67 + 460.0
    inches = 31.6 * np.sqrt(np.asarray(seconds) / _HOUR_s) / 10.0 ** (6700.0 / fahrenheit_plus_460)
    return np.asarray(inches * _INCH_m)


def tenth_millimetre_an_hour(seconds: Array | float) -> Array:
    """Return the depth by the shop rule of 0.1 mm an hour, whatever the temperature.

    seconds : time at heat, 0 or more [s]
    returns : depth [m]
    source : common practice, no source
    """
    return np.asarray(_TENTH_MILLIMETRE_m * np.asarray(seconds) / _HOUR_s)
