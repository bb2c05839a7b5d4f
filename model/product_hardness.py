"""Hardness of pearlite and bainite by the temperature at which they formed."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.curves import Curve, monotone_curve
from model.tables import read_table
from model.units import kelvin_to_celsius

Array = NDArray[np.float64]

BAINITE_CARBON_WT: Final = (0.0, 0.20, 0.40, 0.70)
BAINITE_CARBON_SHARE: Final = (0.50, 0.68, 0.85, 1.0)
"""Bainite's hardness over that at 0.7 %C and more, by carbon [wt%]; a guess, no source, L."""


@cache
def _curve(product: str) -> Curve:
    """Return the monotone curve of a product's hardness against temperature [C]."""
    rows = [row for row in read_table("product_hardness.csv") if row["product"] == product]
    return monotone_curve([float(row["temperature_C"]) for row in rows], [float(row["HV"]) for row in rows])


def _at(product: str, temperature_K: Array) -> Array:
    """Return hardness at a temperature, level beyond the table's ends; at nan, that of the lower end."""
    curve = _curve(product)
    low, high = float(curve.x[0]), float(curve.x[-1])
    celsius = np.nan_to_num(kelvin_to_celsius(temperature_K), nan=low)
    return np.asarray(curve(np.clip(celsius, low, high)))


def pearlite_vickers(temperature_K: Array) -> Array:
    """Vickers hardness of pearlite by the temperature at which it formed.

    temperature_K : any shape [K], table 540 to 705 C, level beyond; nan where there is none
    Returns the same shape [HV], finite.
    Source: `data/product_hardness.csv`, from memory; 3-5 HRC soft in big sections.
    """
    return _at("pearlite", temperature_K)


def bainite_vickers(temperature_K: Array, carbon_wt: Array) -> Array:
    """Vickers hardness of bainite by the temperature at which it formed and its carbon.

    temperature_K : any shape [K], table 260 to 540 C, level beyond; nan where there is none
    carbon_wt : broadcasting [wt%]
    Returns the broadcast shape [HV], finite.
    Source: `data/product_hardness.csv`, from memory; the part below 0.7 %C is a guess.
    """
    share = np.interp(carbon_wt, BAINITE_CARBON_WT, BAINITE_CARBON_SHARE)
    return np.asarray(_at("bainite", temperature_K) * share)
