"""What is read from a profile: the depth to a limit, and what an indenter shows of a thin case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.conversion import rockwell_c_continued

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]

ISO_18203_LIMIT_HV: Final = 550.0
"""Hardness at which case-hardening depth is read [HV]: ISO 18203:2016, value from memory."""
US_LIMIT_HV: Final = 513.0
"""50 HRC by ASTM E140 [HV], the usual limit of effective case in US practice (SAE J423, from memory)."""
CORE_RISE_HV: Final = 50.0
"""Hardness above the core's at which a case by hardness ends [HV]: US practice in a trade journal, seen."""
TOTAL_CASE_RISE_WT: Final = 0.07
"""Carbon above the core's at which total case is read [wt%]: the convention stated with Harris 1943."""

ROCKWELL_C_PER_M: Final = 1.0 / 0.002e-3
"""Rockwell C points per metre of lasting indentation depth: ISO 6508-1, ASTM E18 (0.002 mm a point)."""
INDENTATIONS_FELT: Final = 10.0
"""Indentation depths over which the metal is felt; ISO 6508-1 asks for this thickness under a cone."""
_READING_NODES: Final = 24
_READING_ROUNDS: Final = 14
_READING_SETTLED_HRC: Final = 1e-6
_READING_SD_HRC: Final = 1.0
"""Doubt of one Rockwell C reading on uniform metal [HRC]; common practice, no source."""
_READING_SD_SHARE: Final = 0.5
"""Share of the difference between skin and reading that is doubted; judgement, no published formula."""


@dataclass(frozen=True)
class CaseDepth:
    """A case depth over draws.

    depth_m : (draws,) [m]; 0 where the limit is never reached, half the section where it is nowhere left
    found : (draws,) the profile falls through the limit
    whole_section : (draws,) the profile never falls below it
    """

    depth_m: Array
    found: Flags
    whole_section: Flags

    @property
    def status(self) -> str:
        """Return what most draws say: found, none or whole_section."""
        shares = {"found": self.found.mean(), "whole_section": self.whole_section.mean()}
        shares["none"] = 1.0 - shares["found"] - shares["whole_section"]
        return max(shares, key=lambda name: float(shares[name]))


def depth_of_fall(depth_m: Array, values: Array, limit: Array | float) -> CaseDepth:
    """Depth from the outer face at which a profile falls through a limit.

    depth_m : (n,) or (draws, n) [m], from the face inwards
    values : (draws, n) carbon or hardness
    limit : one, or (draws,)
    Returns the first fall through the limit after the profile has reached it, so that a skin made
    soft by retained austenite does not hide the case below it.
    """
    depth = np.broadcast_to(depth_m, values.shape)
    over = values - np.reshape(np.asarray(limit, dtype=float), (-1, 1))
    falls = (over[:, :-1] >= 0.0) & (over[:, 1:] < 0.0)
    found = np.any(falls, axis=1)
    rows, at = np.arange(values.shape[0]), falls.argmax(axis=1)
    upper, lower = over[rows, at], over[rows, at + 1]
    share = np.where(found, upper / np.where(found, upper - lower, 1.0), 0.0)
    crossing = depth[rows, at] + share * (depth[rows, at + 1] - depth[rows, at])
    whole = np.logical_and(~found, over[:, -1] >= 0.0)
    return CaseDepth(np.where(found, crossing, np.where(whole, depth[:, -1], 0.0)), found, whole)


def interpolate_rows(at_m: Array, depth_m: Array, values: Array) -> Array:
    """Straight-line interpolation, each row with its own points.

    at_m : (k,) or (draws, k) [m], within the grid; held at its ends outside
    depth_m : (n,) or (draws, n) [m], rising; values : (draws, n)
    Returns (draws, k).
    """
    rows, last = np.arange(len(values))[:, None], values.shape[1] - 1
    grid = depth_m if depth_m.ndim == 1 or (depth_m != depth_m[:1]).any() else depth_m[0]
    if grid.ndim == 1:
        right = np.minimum(np.maximum(np.searchsorted(grid, at_m), 1), last)
        low, high = grid[right - 1], grid[right]
    else:
        each_m = np.broadcast_to(at_m, (len(values), at_m.shape[-1]))
        right = (grid[:, None, :] < each_m[:, :, None]).sum(axis=2)
        right = np.minimum(np.maximum(right, 1), last)
        low, high = grid[rows, right - 1], grid[rows, right]
    share = np.minimum(np.maximum((at_m - low) / (high - low), 0.0), 1.0)
    below, above = values[rows, right - 1], values[rows, right]
    return np.asarray(below + share * (above - below), dtype=float)


def interpolate_evenly(at_m: Array, step_m: float, values: Array) -> Array:
    """Straight-line interpolation on depths from 0 in even steps, each row with its own points.

    at_m : (draws, k) [m], 0 or more; held at the last depth beyond it
    step_m : [m], above 0; values : (draws, n)
    Returns (draws, k).
    """
    last = values.shape[1] - 1
    place = np.minimum(at_m / step_m, float(last))
    left = np.minimum(place.astype(np.intp), last - 1)
    flat, at = values.ravel(), left + values.shape[1] * np.arange(len(values))[:, None]
    below = flat[at]
    return np.asarray(below + (place - left) * (flat[at + 1] - below))


def rockwell_c_reading(depth_m: Array, hardness_HV: Array) -> tuple[Array, Array]:
    """Return what a Rockwell C test on the face would show of a thin case, and its doubt.

    depth_m : (n,) or (draws, n) [m] from the face; hardness_HV : (draws, n) [HV]
    Returns the reading and its sd, each (draws,) [HRC]; never above the hardest or below the softest
    metal felt. A soft layer outside E140 is carried on in a straight line.
    Source: no published formula. The indentation is (100 - HRC) 0.002 mm deep (ISO 6508-1); the
    metal is felt over ten of those depths with a weight falling in a straight line to nothing; the
    depth is that of the reading itself, found by repetition. The sd grows with the difference.
    """

    def felt_HV(at_m: Array, rows: Rows) -> Array:
        return interpolate_rows(at_m, depth_m if depth_m.ndim == 1 else depth_m[rows], hardness_HV[rows])

    skin = rockwell_c_continued(hardness_HV[:, 0])
    reading = _felt(skin, felt_HV)
    return reading, np.hypot(_READING_SD_HRC, _READING_SD_SHARE * (skin - reading))


def rockwell_c_felt(step_m: float, hardness_HV: Array) -> Array:
    """Return the same reading, (draws,) [HRC], of hardness (draws, n) at depths from 0 in even steps."""
    skin = rockwell_c_continued(hardness_HV[:, 0])
    return _felt(skin, lambda at_m, rows: interpolate_evenly(at_m, step_m, hardness_HV[rows]))


def _felt(skin: Array, felt_HV: Callable[[Array, Rows], Array]) -> Array:
    """Return what is felt under an indenter as deep as that makes it, (draws,) [HRC], each draw by itself.

    skin : (draws,) to begin with; felt_HV : hardness of some rows at depths of their own, (rows, k)
    """
    share = (np.arange(_READING_NODES) + 0.5) / _READING_NODES
    weight = 2.0 * (1.0 - share) / _READING_NODES
    reading, rows = skin.copy(), np.arange(len(skin))
    for _ in range(_READING_ROUNDS):
        felt_m = INDENTATIONS_FELT * np.maximum(100.0 - reading[rows], 1.0) / ROCKWELL_C_PER_M
        before = reading[rows]
        reading[rows] = rockwell_c_continued(felt_HV(felt_m[:, None] * share, rows) @ weight)
        rows = rows[np.abs(reading[rows] - before) >= _READING_SETTLED_HRC]
        if not len(rows):
            break
    return reading
