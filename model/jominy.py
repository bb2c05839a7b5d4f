"""Hardness of a core by its equivalent place on the end-quench bar.

For steel below about 0.45 %C published kinetics fail (alloy steels come out far too soft), and a
regression on measured end-quench curves does not: a place is found on the bar that cooled as fast.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.hardness import martensite_rockwell_a255
from model.steels import Composition
from model.tables import read_table

Array = NDArray[np.float64]

RATE_AT_K: Final = 977.15
"""Temperature at which the bar's cooling rates are stated [K], 704 C or 1300 F."""
DISTANCE_RANGE: Final = (0.02, 22.0)
"""Places used [1/16 in]: next to the quenched face, and where the regression stops falling."""
JUST_FROM: Final = 2.0
"""Nearest place the regression is used for [1/16 in]: nearer it lies well below the usual bands of
plain steels, from memory (L)."""


@cache
def _rates() -> tuple[Array, Array]:
    """Return logarithms of the rates, rising, and of the distances."""
    rows = read_table("jominy_rates.csv")
    rate = np.log([float(row["rate_K_per_s"]) for row in rows])[::-1]
    return rate, np.log([float(row["distance"]) for row in rows])[::-1]


def jominy_distance(rate_K_per_s: Array) -> Array:
    """Place on the end-quench bar that cools as fast at 704 C.

    rate_K_per_s : any shape, above 0 [K/s]
    Returns the same shape [1/16 in], held within 0.02 to 22; beyond the table's 1 to 16 the end stretches are
    carried on straight in the logarithms.
    Source: `data/jominy_rates.csv`, from memory.
    """
    rate, distance = _rates()
    wanted = np.log(np.maximum(rate_K_per_s, 1e-3))
    inside = np.interp(wanted, rate, distance)
    fast = (distance[-1] - distance[-2]) / (rate[-1] - rate[-2])
    slow = (distance[1] - distance[0]) / (rate[1] - rate[0])
    beyond = fast * np.maximum(wanted - rate[-1], 0.0) + slow * np.minimum(wanted - rate[0], 0.0)
    return np.asarray(np.clip(np.exp(inside + beyond), *DISTANCE_RANGE))


def core_rockwell_just_1969(
    carbon_wt: Array, composition: Composition, grain_number: Array | float, distance: Array
) -> Array:
    """Rockwell C at a place on the end-quench bar.

    carbon_wt : any shape [wt%], stated for about 0.1 to 0.6; composition : the rest, broadcasting [wt%]
    grain_number : ASTM, broadcasting; distance : broadcasting, 2 to 16, used to 22 [1/16 in]
    Returns the broadcast shape [HRC], never above that of full martensite; an extrapolation below 20 HRC.
    Source: Just, Metal Progress 96 (Nov 1969) 87, general equation, from memory (M); cap ASTM A255.
    """
    c, root = composition, np.sqrt(carbon_wt)
    alloy = 19.0 * c.Cr + 6.3 * c.Ni + 16.0 * c.Mn + 35.0 * c.Mo + 5.0 * c.Si
    along = -0.0135 * distance**2 * root - 20.0 * np.sqrt(distance) + 2.11 * distance
    full = martensite_rockwell_a255(carbon_wt)
    return np.minimum(88.0 * root + alloy - 0.82 * grain_number + along - 2.0, full)


def core_rockwell(
    carbon_wt: Array, composition: Composition, grain_number: Array | float, distance: Array
) -> Array:
    """Rockwell C of a core that cooled as a place on the end-quench bar, up to its quenched face.

    Parameters and returns as `core_rockwell_just_1969`; distance : 0.02 to 22 [1/16 in].
    Source: Just 1969 from 2/16 inward; nearer, where it fails, straight to full martensite at the face,
    which is our own.
    """
    inside = core_rockwell_just_1969(carbon_wt, composition, grain_number, np.maximum(distance, JUST_FROM))
    near = np.clip(1.0 - distance / JUST_FROM, 0.0, 1.0)
    return np.asarray(inside + near * (martensite_rockwell_a255(carbon_wt) - inside))
