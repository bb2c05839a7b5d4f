"""A propane bottle: how fast it can boil off at the day's temperature, and how many hours are left in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.ranges import Range, check
from model.tables import read_table
from model.units import HOUR_s, kelvin_to_celsius

Array = NDArray[np.float64]

BTU_J: Final = 1055.056
"""International table BTU [J]; exact to the digits shown."""
POUND_kg: Final = 0.45359237
HIGHER_HEAT_J_PER_KG: Final = 50.35e6
"""Heat of burning propane with the water condensed [J/kg], by which suppliers' tables count; data pages."""
TABLE_BOTTLE_kg: Final = 100.0 * POUND_kg
SHARE_EXPONENT: Final = 2.0 / 3.0
"""Wetted wall against size of bottles of one shape [-]: surface over volume, geometry only."""
SMALL_BOTTLE_DOUBT: Final = 1.5
"""Factor by which the limit of another size of bottle may be off, either way; judgement."""
LITTLE_LEFT_h: Final = 1.0

BOTTLE_KG: Final = Range(
    0.3, 60.0, "kg", "Bottles hold 0.4 to 47 kg (1 to 104 lb); the weight is stamped on the collar."
)
LEFT_KG: Final = Range(
    0.0, 60.0, "kg", "Weigh the bottle and take off its empty weight (tare), stamped on it."
)
RATE_KG_PER_H: Final = Range(
    0.01, 20.0, "kg/h", "A forge burner uses 0.3 to 3 kg (0.7 to 7 lb) of gas an hour."
)
DAY_C: Final = Range(
    -18.0, 45.0, "C", "The table runs from -18 C (0 F); a bottle hotter than 45 C (113 F) is unsafe."
)


@dataclass(frozen=True)
class BottleLeft:
    """How long a bottle lasts.

    seconds : until it is empty at this rate [s]; limit_kg_per_s : what it can boil off steadily
    low_kg_per_s, high_kg_per_s : ends of that limit; freezes : the rate is above the limit
    need_second : it does not last, or may not keep up
    """

    seconds: float
    limit_kg_per_s: float
    low_kg_per_s: float
    high_kg_per_s: float
    freezes: bool
    need_second: bool


@cache
def _table() -> tuple[Array, Array, Array]:
    """Return filling [kg], temperature [C] and steady boil-off [kg/s], (k,), (n,), (k, n)."""
    rows = read_table("bottle_vaporisation.csv")
    filling = np.array([float(row["left_lb"]) for row in rows]) * POUND_kg
    names = [name for name in rows[0] if name.endswith("_F")]
    celsius = (np.array([float(name.removesuffix("_F")) for name in names]) - 32.0) / 1.8
    btu = np.array([[float(row[name]) for name in names] for row in rows])
    order = np.argsort(filling)
    return filling[order], celsius, btu[order] * BTU_J / HOUR_s / HIGHER_HEAT_J_PER_KG


def boil_off_limit(left_kg: float, bottle_kg: float, day_K: float) -> float:
    """Gas that a bottle can give for hours without freezing up.

    left_kg : gas in it, `LEFT_KG`; bottle_kg : what it holds when full, `BOTTLE_KG`; day_K : `DAY_C`
    Returns [kg/s]. Raises OutOfRange.
    Source: `data/bottle_vaporisation.csv` (a 100 lb bottle), read between rows; another size by its wall, as
    size to the power 2/3, at the same share of its filling: a bounded estimate.
    """
    check("bottle_kg", bottle_kg, BOTTLE_KG)
    check("left_kg", left_kg, LEFT_KG)
    celsius = check("day_K", float(kelvin_to_celsius(day_K)), DAY_C)
    filling, temperatures, limits = _table()
    like_kg = min(left_kg / bottle_kg, 1.0) * TABLE_BOTTLE_kg
    at_day = [float(np.interp(celsius, temperatures, row)) for row in limits]
    # below its last row the table is carried to nothing at an empty bottle
    found = float(np.interp(like_kg, [0.0, *filling], [0.0, *at_day]))
    return float(found * (bottle_kg / TABLE_BOTTLE_kg) ** SHARE_EXPONENT)


def bottle_left(
    left_kg: float, bottle_kg: float, rate_kg_per_s: float, day_K: float, needed_s: float = 0.0
) -> BottleLeft:
    """How long a bottle lasts at a rate, and whether a second one should stand connected.

    left_kg, bottle_kg, day_K : as `boil_off_limit`; rate_kg_per_s : what the burner takes, `RATE_KG_PER_H`
    needed_s : hours the run still asks for [s]
    Returns `BottleLeft`; the limit is that of the bottle half way through what it will give.
    Raises OutOfRange.
    Source: weights; `boil_off_limit`.
    """
    check("rate_kg_per_s", rate_kg_per_s * HOUR_s, RATE_KG_PER_H)
    burnt_kg = min(left_kg, rate_kg_per_s * needed_s)
    limit = boil_off_limit(left_kg - 0.5 * burnt_kg, bottle_kg, day_K)
    seconds = left_kg / rate_kg_per_s
    low = limit / SMALL_BOTTLE_DOUBT
    too_short = seconds < needed_s + LITTLE_LEFT_h * HOUR_s
    return BottleLeft(
        seconds=seconds,
        limit_kg_per_s=limit,
        low_kg_per_s=low,
        high_kg_per_s=limit * SMALL_BOTTLE_DOUBT,
        freezes=rate_kg_per_s > limit,
        need_second=bool(needed_s > 0.0 and (too_short or rate_kg_per_s > low)),
    )


def rate_from_weights(before_kg: float, after_kg: float, seconds: float) -> float:
    """Gas used an hour by the bottle's weight before and after, the reading to be preferred.

    before_kg, after_kg : bottle and all [kg]; seconds : burner lit, above 0 [s]
    Returns [kg/s]. Raises OutOfRange for a rate that no forge burner has, or a bottle that grew heavier.
    """
    rate = (before_kg - after_kg) / seconds if seconds > 0.0 else 0.0
    check("rate_kg_per_s", rate * HOUR_s, RATE_KG_PER_H)
    return rate
