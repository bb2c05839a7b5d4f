"""A forecast as the finished face shows it: all depths are counted from there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.forecast import Forecast
from model.planner import Goal

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Face:
    """A forecast as the finished face shows it: depth counted from there, arrays (draws, n)."""

    depth_m: Array
    carbon_wt: Array
    hardness_HV: Array | None
    core_HV: Array | None


def face_of(goal: Goal, found: Forecast) -> Face:
    """Return a forecast as seen from the face that grinding leaves."""
    return finished_face(goal, found.depth_m, found.carbon_wt, found.hardness_HV, found.core_HV)


def finished_face(
    goal: Goal, depth_m: Array, carbon_wt: Array, hardness_HV: Array | None, core_HV: Array | None
) -> Face:
    """Return carbon and hardness at depths, (draws, n), as seen from the face that grinding leaves."""
    # of a part that is ground to its middle the innermost layer is shown
    grind_m = min(goal.grinding_allowance_m, float(depth_m[-2]))
    at_m = np.concatenate([[grind_m], depth_m[depth_m > grind_m]])
    hardness = None if hardness_HV is None else at_depths(at_m, depth_m, hardness_HV)
    return Face(at_m - grind_m, at_depths(at_m, depth_m, carbon_wt), hardness, core_HV)


def at_depths(at_m: Array, depth_m: Array, values: Array) -> Array:
    """Return rows of values on one grid, (draws, n), at other depths, (draws, k), straight between points."""
    right = np.clip(np.searchsorted(depth_m, at_m), 1, len(depth_m) - 1)
    share = np.clip((at_m - depth_m[right - 1]) / (depth_m[right] - depth_m[right - 1]), 0.0, 1.0)
    return np.asarray(values[:, right - 1] * (1.0 - share) + values[:, right] * share)
