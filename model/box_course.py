"""What a forecast needs of a packed box: how long it takes to heat, how it gets there, how it cools."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from model.boxheat import box_heat, fire_history
from model.packed_box import PackedBox
from model.priors import nominal_lag_s
from model.process import SLOW_COOL_K_PER_H, Carburize, History, Process, slow_cool_history

COLD_K: Final = 293.15
FORGE_RAMP_S: Final = 1200.0
"""A small gas forge from cold to a soak's heat [s]; common practice, no source."""
AT_HEAT_WITHIN_K: Final = 10.0
"""Below the soak's heat, where the work counts as at heat [K]; own choice, as a thermocouple shows it."""
CARBON_FROM_K: Final = 900.0
"""Below any steel's Ac1 [K]: from here the way up is told in points."""
POINTS: Final = 6
HEAT_STEP_K: Final = 25.0
"""Soak heats are rounded to this for the box's sum [K], so that a stepper seldom waits for one: half a step
moves the time to heat by 3 % at most, as a test holds."""
HOLD_S_PER_M2: Final = 1.0e7
"""Fire given to a box to come to heat, over its half size squared [s/m2]: six times what usual beds take."""
LEAST_HOLD_S: Final = 3600.0
USUAL_SOAK_K: Final = 1198.15
COOLED_BY_K: Final = (0.0, 10.0, 40.0, 90.0, 150.0, 220.0, 300.0)


@dataclass(frozen=True)
class WarmUp:
    """The way of the work from cold to a soak's heat.

    at_heat_s : from the box in the fire to within 10 K [s]
    time_share : moments over that time, rising to 1; climbed : share of the way from cold to the soak's heat
    """

    at_heat_s: float
    time_share: tuple[float, ...]
    climbed: tuple[float, ...]


def warm_up(box: PackedBox, soak_K: float) -> WarmUp:
    """Work out how a box warms, its soak's heat rounded to 25 K.

    box : the box; soak_K : heat of the soak, 950 to 1500 [K]
    Returns the way up. Raises NotPossible, OutOfRange as `box_heat`.
    Source: `box_heat`, in a forge that climbs for 20 minutes.
    """
    return _warm_up(box, HEAT_STEP_K * round(soak_K / HEAT_STEP_K))


@lru_cache(maxsize=512)
def _warm_up(box: PackedBox, soak_K: float) -> WarmUp:
    hold_s = LEAST_HOLD_S + HOLD_S_PER_M2 * box.half_m**2
    found = box_heat(box, fire_history(soak_K, FORGE_RAMP_S, hold_s))
    end_K = min(soak_K - AT_HEAT_WITHIN_K, float(found.part_K.max()))
    levels_K = np.linspace(min(CARBON_FROM_K, end_K - AT_HEAT_WITHIN_K), end_K, POINTS)
    seconds = np.interp(levels_K, np.maximum.accumulate(found.part_K), found.seconds)
    climbed = (levels_K - COLD_K) / (soak_K - COLD_K)
    at_heat_s = float(seconds[-1])
    return WarmUp(at_heat_s, tuple((seconds / at_heat_s).tolist()), tuple(climbed.tolist()))


def warm_up_of(process: Process) -> WarmUp | None:
    """Return the way up of a process, any; None where its box is not described or there is no soak."""
    soak = next((step for step in process.steps if isinstance(step, Carburize)), None)
    if process.box is None or soak is None:
        return None
    return warm_up(process.box, max(soak.history.temperature_K))


def warm_up_s(process: Process) -> float:
    """Return the time from the box in the fire to the work at heat that the books give a process [s].

    process : any; without a box that is described it is the nominal lag of the box's smallest size
    """
    found = warm_up_of(process)
    return nominal_lag_s(process.box_inner_m) if found is None else found.at_heat_s


def box_cooling(box: PackedBox | None, start_K: float) -> History:
    """Return how the work cools in its shut box, in the shut forge.

    box : the box, None where it is not described: then a straight cool; start_K : at the end of the soak [K]
    Returns the cool to 500 C. Source: `box_heat`, in a forge that falls by `SLOW_COOL_K_PER_H`; the fall is
    worked out once a box, from the usual heat.
    """
    straight = slow_cool_history(start_K)
    end_K = straight.temperature_K[-1]
    if box is None or start_K - end_K < COOLED_BY_K[1]:
        return straight
    fallen_K = (*(by_K for by_K in COOLED_BY_K if by_K < start_K - end_K), start_K - end_K)
    seconds = np.interp(fallen_K, *_fall(box))
    return History(tuple(seconds.tolist()), tuple(start_K - by_K for by_K in fallen_K))


@lru_cache(maxsize=512)
def _fall(box: PackedBox) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return by how much the work has fallen [K], rising, at what moment [s]."""
    forge_s = (USUAL_SOAK_K - COLD_K) / SLOW_COOL_K_PER_H * 3600.0
    rest_s = LEAST_HOLD_S + HOLD_S_PER_M2 * box.half_m**2
    forge = History((0.0, forge_s, forge_s + rest_s), (USUAL_SOAK_K, COLD_K, COLD_K))
    found = box_heat(box, forge, start_K=USUAL_SOAK_K)
    fallen_K = np.maximum.accumulate(USUAL_SOAK_K - found.part_K)
    fallen_K = fallen_K + 1e-6 * np.arange(len(fallen_K))
    return tuple((fallen_K - fallen_K[0]).tolist()), tuple(found.seconds.tolist())
