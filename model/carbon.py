"""Carbon in a plate, rod or tube wall through a temperature history: the 1-D solver.

M members are solved as one array; each has its own section, start, temperatures, supplies and
durations. A segment runs on its fraction s from 0 to 1 for everyone, and one adaptive step in s serves
all members. Finite volumes in space (`transport`), ROS2 in time (`implicit`), one tridiagonal system.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import Diffusivity, diffusivity_agren_1986
from model.errors import NotPossible
from model.grid import Grid
from model.implicit import State, rosenbrock_step
from model.profile import CarbonProfile, DepthStatus, depth_at_carbon, signed_depth_at_carbon
from model.ranges import MODEL_TEMPERATURE_K, Range, check
from model.segments import Segment, Supply, held, sealed, steady
from model.transport import Fluxes, Saturation, Transport

__all__ = [
    "CarbonProfile",
    "DepthStatus",
    "Grid",
    "Segment",
    "Supply",
    "depth_at_carbon",
    "held",
    "sealed",
    "signed_depth_at_carbon",
    "solve_carbon",
    "solve_carbon_states",
    "steady",
]

Array = NDArray[np.float64]

DENSITY_kg_per_m3 = 7600.0
"""Density of austenite near 925 C (value from memory); it only turns wt% into mass."""
DEFAULT_TOLERANCE = 2.0e-3
"""Error allowed in one step, root mean square over the cells of the worst member [wt%]. With the default
cells, depths after 4 h at 925 C lie within 0.15 % of a converged answer (convergence test)."""
TOTAL_CARBON_WT = Range(0.0, 6.67, "wt%", "Carbon in steel lies between pure iron and cementite.")
SEGMENT_SECONDS = Range(0.0, 4.0e6, "s", "A stretch of a process lasts from nothing to some weeks.")
_FIRST_STEP_s = 5.0
_LEAST_FACTOR, _LARGEST_FACTOR = 0.2, 4.0
_ENDS_WITHIN = 1.1
"""A step may be longer by so much where that ends its stretch: less than the 0.9 of the next lets it fail."""
_LEAST_STEP = 1.0e-10


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

    parameters, raises, source : as `solve_carbon_states`
    returns : the profile of all members
    """
    transport = Transport.on(grid, diffusivity, saturation_wt)
    return _solve(transport, start_carbon_wt, segments, tolerance)[-1][-1]


def solve_carbon_states(
    grid: Grid,
    start_carbon_wt: Array,
    segments: Sequence[Segment],
    *,
    diffusivity: Diffusivity = diffusivity_agren_1986,
    saturation_wt: Saturation = unlimited_saturation,
    tolerance: float = DEFAULT_TOLERANCE,
) -> list[tuple[CarbonProfile, ...]]:
    """Return the carbon profiles of every segment: at its recorded fractions, then at its end.

    grid : one section for all members, or one a member
    start_carbon_wt : (M,) or (1,) even carbon, or (M, n) on the grid's cells [wt%], 0 to 6.67
    segments : one or more stretches, in order; only as far as the steel is austenite
    diffusivity : of carbon [wt%] and temperature [K], broadcast [m2/s]
    saturation_wt : most carbon that austenite dissolves, of temperature (M,) [wt%]; what is above it is
        carbide, stays where it is, and counts as carbon. No surface is fed beyond it: a carbide skin is
        not modelled
    tolerance : error allowed in one step [wt%], above 0
    returns : for each segment a tuple of profiles
    raises : OutOfRange, NotPossible
    source : Fick's second law; see `transport` and `implicit`
    """
    transport = Transport.on(grid, diffusivity, saturation_wt)
    return _solve(transport, start_carbon_wt, segments, tolerance)


def _solve(
    transport: Transport, start_carbon_wt: Array, segments: Sequence[Segment], tolerance: float
) -> list[tuple[CarbonProfile, ...]]:
    """Return the profiles of every segment in turn."""
    if not segments:
        raise NotPossible("segments", "there is no stretch to solve", "Give at least one.")
    state = _start(transport.grid, start_carbon_wt, segments)
    profile = _profile(transport.grid, state, state.carbon_wt[:, 0], state.carbon_wt[:, -1])
    clock = _Clock(tolerance, _FIRST_STEP_s)
    states: list[tuple[CarbonProfile, ...]] = []
    for segment in segments:
        kept: list[CarbonProfile] = []
        march = _march(transport, segment.spread(len(state.outer)), state, clock)
        for state, fluxes in march:
            kept.append(_profile_at(transport.grid, segment, state, fluxes, profile))
        states.append(tuple(kept))
        profile = kept[-1]
    return states


@dataclass
class _Clock:
    """Step control that outlives a segment; the pace is the step of the longest member."""

    tolerance: float
    pace_s: float

    def judge(self, step_s: float, error: float) -> bool:
        """Set the pace from the error of a tried step, and say whether that step stands."""
        stands, factor = error <= self.tolerance, _LEAST_FACTOR
        if isfinite(error):
            # after a jump at a face the error falls no faster than the step
            order = 0.5 if stands else 1.0
            factor = 0.9 * (self.tolerance / max(error, 1.0e-30)) ** order
        proposed = step_s * min(max(factor, _LEAST_FACTOR), _LARGEST_FACTOR)
        # a step cut short by a recorded moment says nothing against the longer pace
        self.pace_s = max(self.pace_s, proposed) if stands and step_s < self.pace_s else proposed
        return stands


def _march(
    transport: Transport, segment: Segment, state: State, clock: _Clock
) -> Iterator[tuple[State, Fluxes]]:
    """Yield the state and its fluxes at each recorded fraction of a segment and at its end."""
    longest_s = float(np.max(segment.duration_s))
    s = 0.0
    for target in (*sorted(segment.record), 1.0):
        while s < target and longest_s > 0.0:
            step = clock.pace_s / longest_s
            step = target - s if step * _ENDS_WITHIN >= target - s else step
            moved, error = rosenbrock_step(transport, segment, state, s, step)
            if clock.judge(step * longest_s, error):
                s = target if step >= target - s else s + step
                state = moved
            elif step < _LEAST_STEP:
                raise NotPossible("segments", "no step is small enough", "Look for NaN in the supply.")
        yield state, transport.fluxes(state.carbon_wt, segment.moment(target))


def _start(grid: Grid, start_carbon_wt: Array, segments: Sequence[Segment]) -> State:
    """Return the state before the first segment, spread over all members."""
    start = np.asarray(start_carbon_wt, dtype=np.float64)
    start = start[:, None] if start.ndim == 1 else start
    _check_ends("start_carbon_wt", start, TOTAL_CARBON_WT)
    shapes = [(len(grid.volume_m),), start.shape[:1]]
    for segment in segments:
        _check_ends("segments.duration_s", segment.duration_s, SEGMENT_SECONDS)
        _check_ends("segments.start_K", segment.start_K, MODEL_TEMPERATURE_K)
        _check_ends("segments.end_K", segment.end_K, MODEL_TEMPERATURE_K)
        shapes += [segment.duration_s.shape, segment.start_K.shape, segment.end_K.shape]
    (members,) = np.broadcast_shapes(*shapes)
    carbon = np.array(np.broadcast_to(start, (members, grid.volume_m.shape[1])))
    return State(carbon, np.zeros(members), np.zeros(members))


def _check_ends(path: str, values: Array, allowed: Range) -> None:
    """Raise OutOfRange where any value, or a NaN, lies outside a range."""
    check(path, float(np.min(values)), allowed)
    check(path, float(np.max(values)), allowed)


def _profile_at(
    grid: Grid, segment: Segment, state: State, fluxes: Fluxes, before: CarbonProfile
) -> CarbonProfile:
    """Return the profile of a state; members of no duration keep their faces as before."""
    lasts = segment.duration_s > 0.0
    return _profile(
        grid,
        state,
        np.where(lasts, fluxes.surface_wt, before.surface_carbon_wt),
        np.where(lasts, fluxes.inner_surface_wt, before.inner_surface_carbon_wt),
    )


def _profile(grid: Grid, state: State, surface_wt: Array, inner_surface_wt: Array) -> CarbonProfile:
    """Return the profile of a state, its gains as mass per area of each face."""
    mass = DENSITY_kg_per_m3 / 100.0
    inner_area = grid.area[:, -1]
    inner = np.divide(
        mass * state.inner, inner_area, out=np.zeros_like(state.inner), where=grid.inner_fed > 0.0
    )
    return CarbonProfile(grid, state.carbon_wt, surface_wt, inner_surface_wt, mass * state.outer, inner)
