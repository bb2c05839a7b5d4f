"""Carbon in a plate, rod or tube wall through a temperature history: the 1-D solver.

M members are solved as one array; each has its own section, start, temperatures, supplies and
durations. A segment runs on its fraction s from 0 to 1 for everyone, and one adaptive step in s serves
all members. Finite volumes in space (`transport`), ROS2 in time (`implicit`), one tridiagonal system.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import Diffusivity, diffusivity_agren_1986
from model.errors import NotPossible
from model.grid import Grid
from model.implicit import rosenbrock_step
from model.profile import CarbonProfile, DepthStatus, depth_at_carbon, signed_depth_at_carbon
from model.ranges import MODEL_TEMPERATURE_K, Range, check
from model.reached import Reached
from model.segments import Segment, Supply, held, sealed, steady
from model.stretch import Stretch
from model.transport import Saturation, Transport

__all__ = [
    "CarbonProfile",
    "DepthStatus",
    "Grid",
    "Segment",
    "Supply",
    "depth_at_carbon",
    "held",
    "reach_carbon",
    "sealed",
    "signed_depth_at_carbon",
    "solve_carbon",
    "steady",
]

Array = NDArray[np.float64]

DEFAULT_TOLERANCE = 2.0e-3
"""Error allowed in one step, root mean square over the cells of the worst member [wt%]. With the default
cells, depths after 4 h at 925 C lie within 0.15 % of a converged answer (convergence test)."""
TOTAL_CARBON_WT = Range(0.0, 6.67, "wt%", "Carbon in steel lies between pure iron and cementite.")
SEGMENT_SECONDS = Range(0.0, 4.0e6, "s", "A stretch of a process lasts from nothing to some weeks.")
_FIRST_STEP_s = 5.0
_LEAST_FACTOR, _LARGEST_FACTOR = 0.2, 4.0
_ENDS_WITHIN = 1.1
"""A step may be longer by so much where that ends its stretch: less than the 0.9 of the next lets it fail."""
_JUMP_K = 0.5
_AFTER_A_JUMP = 1.0 / 6.0, 1.0 / 30.0
_AS_HEAT_MOVES = 1.0 / 10.0
"""First step of a stretch that begins at another heat or feed, over the pace and over the stretch at most;
and of one whose heat begins to move: longer ones are refused two or three times as a rule."""
_LEAST_STEP = 1.0e-10
_CUT_SHORT = 0.999


def unlimited_saturation(temperature_K: Array) -> Array:
    """Return no limit to what austenite dissolves, for exact solutions.

    temperature_K : (M,) [K]
    returns : (M,) infinity [wt%]
    source : none needed
    """
    return np.full(temperature_K.shape, np.inf)


def solve_carbon(
    grid: Grid,
    start_carbon_wt: Array,
    segments: Sequence[Segment],
    *,
    diffusivity: Diffusivity = diffusivity_agren_1986,
    saturation_wt: Saturation = unlimited_saturation,
    tolerance: float = DEFAULT_TOLERANCE,
) -> CarbonProfile:
    """Return the carbon profile after the last segment.

    parameters, raises, source : as `reach_carbon`
    returns : the profile of all members
    """
    reached = reach_carbon(
        grid,
        start_carbon_wt,
        segments,
        diffusivity=diffusivity,
        saturation_wt=saturation_wt,
        tolerance=tolerance,
    )
    return reached[-1][-1].profile


def reach_carbon(
    grid: Grid,
    start_carbon_wt: Array,
    segments: Sequence[Segment],
    *,
    diffusivity: Diffusivity = diffusivity_agren_1986,
    saturation_wt: Saturation = unlimited_saturation,
    tolerance: float = DEFAULT_TOLERANCE,
) -> list[tuple[Reached, ...]]:
    """Return the states of every segment: at its recorded fractions, then at its end.

    grid : one section for all members, or one a member
    start_carbon_wt : (M,) or (1,) even carbon, or (M, n) on the grid's cells [wt%], 0 to 6.67; all is
        worked in its precision: single moves a depth by some nanometres
    segments : one or more stretches, in order; only as far as the steel is austenite
    diffusivity : of carbon [wt%] and temperature [K], broadcast [m2/s]
    saturation_wt : most carbon that austenite dissolves, of temperature (M,) or (k, M) [wt%]; what is above
        it is carbide, stays where it is, and counts as carbon. No surface is fed beyond it: a carbide skin is
        not modelled
    tolerance : error allowed in one step [wt%], above 0
    returns : for each segment a tuple of states, whose profiles are worked out when asked for
    raises : OutOfRange, NotPossible
    source : Fick's second law; see `stretch` and `implicit`
    """
    if not segments:
        raise NotPossible("segments", "there is no stretch to solve", "Give at least one.")
    start, members = _start(grid, start_carbon_wt, segments)
    transport = Transport.on(grid, members, diffusivity, saturation_wt, start.dtype)
    last = Reached(grid, transport.line, transport.line.laid(start, 0.0))
    clock = _Clock(tolerance, _FIRST_STEP_s)
    states: list[tuple[Reached, ...]] = []
    before: Segment | None = None
    for segment in segments:
        stretch = Stretch.of(transport, segment)
        if np.any(segment.duration_s > 0.0):
            clock.pace_s = clock.pace_s if before is None else _pace_of_start(before, segment, clock.pace_s)
            before = segment
        march = _march(stretch, last.nodes, clock)
        states.append(tuple(Reached(grid, last.line, nodes, stretch, s, last) for s, nodes in march))
        last = states[-1][-1]
    return states


@dataclass
class _Clock:
    """Step control that outlives a segment; the pace is the step of the longest member."""

    tolerance: float
    pace_s: float

    def judge(self, step_s: float, error: float) -> bool:
        """Set the pace from the error of a tried step, and say whether that step stands."""
        stands = error <= self.tolerance
        if stands:
            factor = min(0.9 * sqrt(self.tolerance / max(error, 1.0e-30)), _LARGEST_FACTOR)
        else:
            # after a jump at a face the error falls no faster than the step
            factor = max(0.9 * self.tolerance / error, _LEAST_FACTOR) if isfinite(error) else _LEAST_FACTOR
        proposed = step_s * factor
        # a step cut short by a recorded moment, and not by rounding, says nothing against the longer pace
        cut_short = stands and step_s < _CUT_SHORT * self.pace_s
        self.pace_s = max(self.pace_s, proposed) if cut_short else proposed
        return stands


def _pace_of_start(before: Segment, segment: Segment, pace_s: float) -> float:
    """Return the pace with which a stretch had better begin, that of the one before where nothing jumps."""
    longest_s = float(segment.duration_s.max())
    begins_to_feed_or_ends = (segment.outer is sealed) != (before.outer is sealed)
    if begins_to_feed_or_ends or _mostly_jumps(before, segment):
        shorter_s = min(_AFTER_A_JUMP[0] * pace_s, _AFTER_A_JUMP[1] * longest_s)
    else:
        begins_to_move = np.all(before.start_K == before.end_K) and np.any(segment.start_K != segment.end_K)
        shorter_s = min(pace_s, _AS_HEAT_MOVES * longest_s) if begins_to_move else pace_s
    return max(shorter_s, min(pace_s, _FIRST_STEP_s))


def _mostly_jumps(before: Segment, segment: Segment) -> bool:
    """Tell whether a stretch begins at another heat for half of the members at least."""
    jumps = (np.abs(segment.start_K - before.end_K) > _JUMP_K) & (segment.duration_s > 0.0)
    return bool(2 * np.count_nonzero(jumps) >= jumps.size)


def _march(stretch: Stretch, nodes: Array, clock: _Clock) -> Iterator[tuple[float, Array]]:
    """Yield each recorded fraction of a stretch and its end, and the nodes there."""
    longest_s = float(np.max(stretch.segment.duration_s))
    s = 0.0
    for target in (*sorted(stretch.segment.record), 1.0):
        while s < target and longest_s > 0.0:
            step = clock.pace_s / longest_s
            step = target - s if step * _ENDS_WITHIN >= target - s else step
            moved, error = rosenbrock_step(stretch, nodes, s, step)
            if clock.judge(step * longest_s, error):
                s = target if step >= target - s else s + step
                nodes = moved
            elif step < _LEAST_STEP:
                raise NotPossible("segments", "no step is small enough", "Look for NaN in the supply.")
        yield target, nodes


def _start(grid: Grid, start_carbon_wt: Array, segments: Sequence[Segment]) -> tuple[Array, int]:
    """Return the carbon of the cells before the first segment, (M or 1, n or 1), and M."""
    start = np.asarray(start_carbon_wt)
    start = start.astype(np.result_type(start, np.float32), copy=False)
    start = start[:, None] if start.ndim == 1 else start
    _check_ends("start_carbon_wt", start, TOTAL_CARBON_WT)
    members = max(len(grid.volume_m), len(start))
    for segment in segments:
        duration_s, start_K, end_K = segment.duration_s, segment.start_K, segment.end_K
        _check_ends("segments.duration_s", duration_s, SEGMENT_SECONDS)
        _check_ends("segments.start_K", start_K, MODEL_TEMPERATURE_K)
        _check_ends("segments.end_K", end_K, MODEL_TEMPERATURE_K)
        members = max(members, len(duration_s), len(start_K), len(end_K))
    return start, members


def _check_ends(path: str, values: Array, allowed: Range) -> None:
    """Raise OutOfRange where any value, or a NaN, lies outside a range."""
    check(path, values.item(values.argmin()), allowed)
    check(path, values.item(values.argmax()), allowed)
