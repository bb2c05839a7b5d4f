"""When a box that was taken out, or left in its shut forge, is cold enough to be opened by hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from model.box_course import COLD_K, HEAT_STEP_K
from model.boxheat import box_heat
from model.packed_box import PackedBox
from model.process import SLOW_COOL_END_K, SLOW_COOL_K_PER_H, History
from model.units import HOUR_s, celsius_to_kelvin

COLD_TO_HAND_K: Final = float(celsius_to_kelvin(50.0))
"""The work's middle at which the lid may come off: 50 C, cold to the hand, when no charcoal glows on. Common
practice, no source."""
STILL_AIR: Final = 8.0
"""Convection of still air round a box that cools [W/m2 K], 5 to 10; value from memory."""
FORGE_RATE_DOUBT: Final = 2.0
"""Factor by which a shut forge may fall faster (thin fibre) or slower (brick) than taken; judgement."""
BED_DOUBT: Final = 2.0
"""Factor by which a bed may conduct better or worse: published beds differ by as much (`box_fill`)."""
TAIL: Final = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 9.0, 12.0)
"""Points of the forge's tail, in times of its own fall."""
LONGEST_S: Final = 96.0 * HOUR_s


@dataclass(frozen=True)
class ColdAfter:
    """Time from the end of the fire to the work's middle at `COLD_TO_HAND_K` [s].

    seconds : box left shut in its shut forge; in_air_s : box stood out in still air
    low_s : out in the air with a bed that conducts twice as well
    high_s : in a forge that falls half as fast, with a bed that conducts half as well
    """

    seconds: float
    in_air_s: float
    low_s: float
    high_s: float


def cold_after(box: PackedBox, soak_K: float) -> ColdAfter:
    """Work out when a box may be opened by hand, its soak's heat rounded to 25 K.

    box : the box; soak_K : heat it cools from, 950 to 1500 [K]
    Returns `ColdAfter`; low and high are ends that are seldom passed, not quantiles.
    Raises NotPossible, OutOfRange as `box_heat`.
    Source: `box_heat` with a dry bed (the water left on the way up). The forge falls by `SLOW_COOL_K_PER_H`
    to 500 C, as the carbon's slow cool does, and from there in proportion to what it is hotter than the shop
    (Newton's law of cooling): judgement.
    """
    dry = replace(box, bed=replace(box.bed, water=0.0))
    return _cold_after(dry, HEAT_STEP_K * round(soak_K / HEAT_STEP_K))


@lru_cache(maxsize=256)
def _cold_after(box: PackedBox, soak_K: float) -> ColdAfter:
    brisk, slow = (
        replace(box, bed=replace(box.bed, conducts=factor * box.bed.conducts))
        for factor in (BED_DOUBT, 1.0 / BED_DOUBT)
    )
    air = History.hold(COLD_K, LONGEST_S)
    return ColdAfter(
        seconds=_cold_s(box, _forge(soak_K, SLOW_COOL_K_PER_H), soak_K),
        in_air_s=_cold_s(box, air, soak_K),
        low_s=_cold_s(brisk, air, soak_K),
        high_s=_cold_s(slow, _forge(soak_K, SLOW_COOL_K_PER_H / FORGE_RATE_DOUBT), soak_K),
    )


def _forge(soak_K: float, kelvin_per_hour: float) -> History:
    """Return how a shut forge falls: straight to 500 C, then ever slower, and at last as cold as the shop."""
    straight_s = max(soak_K - SLOW_COOL_END_K, 1.0) / kelvin_per_hour * HOUR_s
    above_K = SLOW_COOL_END_K - COLD_K
    fall_s = above_K / kelvin_per_hour * HOUR_s
    tail = np.array(TAIL)
    seconds = (0.0, *(straight_s + fall_s * tail).tolist(), LONGEST_S)
    kelvin = (soak_K, *(COLD_K + above_K * np.exp(-tail)).tolist(), COLD_K)
    return History(seconds, kelvin)


def _cold_s(box: PackedBox, around: History, start_K: float) -> float:
    """Return when the work's middle has fallen to `COLD_TO_HAND_K` [s], the history's end at the latest."""
    found = box_heat(box, around, start_K=start_K, points=1441, convection=STILL_AIR)
    is_cold = found.part_K <= COLD_TO_HAND_K
    return float(found.seconds[int(np.argmax(is_cold)) if is_cold.any() else -1])
