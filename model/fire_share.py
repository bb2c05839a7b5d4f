"""Of the carbon that the pack gave, how much came in on the way up, in the soak, and while the box cooled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.forecast import StepState

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FireShare:
    """Carbon by when it came in, (draws,) each, net [kg/m2], and the times of all stays in the box [s].

    A cooling box may take some back, then `cooling` is below 0.
    """

    way_up: Array
    soak: Array
    cooling: Array
    in_fire_s: Array
    at_heat_s: Array


def fire_share(states: Sequence[StepState]) -> FireShare | None:
    """Split what a piece gained in its box.

    states : of a forecast, from the first hot step on
    Returns the split, None without a soak; where the way up is not worked out nothing came in on it.
    """
    before = np.zeros(1)
    way_up, soak, cooling, in_fire_s, at_heat_s = (np.zeros(1) for _ in range(5))
    for state in states:
        gained = state.gained_kg_per_m2
        if state.in_fire_s is not None and state.at_heat_s is not None:
            warmed = before if state.warmed_kg_per_m2 is None else state.warmed_kg_per_m2
            way_up, soak = way_up + warmed - before, soak + gained - warmed
            in_fire_s, at_heat_s = in_fire_s + state.in_fire_s, at_heat_s + state.at_heat_s
        elif state.kind == "SlowCool":
            cooling = cooling + gained - before
        before = gained
    if not in_fire_s.any():
        return None
    return FireShare(way_up, soak, cooling, in_fire_s, at_heat_s)
