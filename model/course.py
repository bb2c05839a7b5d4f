"""From the steps of a process to the carbon in it: what the solver is told of each hot step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.austenite import carbon_at_ln_activity, cementite_read_wt
from model.carbon import CarbonProfile, reach_carbon
from model.errors import NotPossible
from model.grid import Grid
from model.heat_course import Course, cooling_course, warming
from model.line import DOUBLE, Precision
from model.members import Members
from model.pack import feeding_share
from model.process import (
    Carburize,
    EvenOut,
    HeldSurface,
    HotStep,
    PackSupply,
    PotentialSupply,
    Process,
    Reheat,
    SlowCool,
    Supply,
)
from model.ranges import ACTIVITY, check
from model.reached import Reached
from model.segments import Segment, sealed
from model.segments import Supply as SurfaceSupply

Array = NDArray[np.float64]

HOT_STEPS: Final = (Carburize, EvenOut, SlowCool, Reheat)
GAS_CONSTANT_J_PER_MOL_K: Final = 8.314462618
TRANSFER_REFERENCE_K: Final = 1198.15
"""Temperature at which the transfer from a pack is stated [K], 925 C."""
FORECAST_CELLS: Final = 64
FORECAST_TOLERANCE_wt: Final = 3.0e-3
"""Cells, and error allowed in one step [wt%], of a forecast: coarser than the solver's own, for speed.
Depths lie within 0.005 mm of a fine solve, far inside any band; a convergence test holds it."""


class Feeding:
    """What the surfaces of all members are offered in one step; a `carbon.Supply`."""

    def __init__(self, members: Members, supplies: Sequence[Supply]) -> None:
        """Spread one supply a process over the members."""
        constants = members.constants
        self.members = members
        self.packed = members.spread([isinstance(supply, PackSupply) for supply in supplies]) > 0.0
        self.held = members.spread([isinstance(supply, HeldSurface) for supply in supplies]) > 0.0
        doubt_wt = members.spread([_doubt_wt(supply) for supply in supplies])
        stated_wt = members.spread([_stated_carbon(supply) for supply in supplies])
        self.stated_wt = stated_wt + doubt_wt * constants.bare_quantile
        stated_transfer = members.spread([_stated_transfer(supply) for supply in supplies])
        self.transfer = np.where(self.packed, constants.transfer_m_per_s, stated_transfer)
        self.activation_K = constants.transfer_activation_J_per_mol / GAS_CONSTANT_J_PER_MOL_K * self.packed
        exponent = np.where(self.packed, constants.alloy_exponent, 1.0)
        self.alloy = np.where(self.held, 1.0, members.alloy_factor**exponent)
        self.any_held, self.all_packed = bool(self.held.any()), bool(self.packed.all())
        self.ln_activity = _ln_activity(constants.carbon_activity) if self.packed.any() else None

    def pure_iron_wt(self, temperature_K: Array) -> Array:
        """Return what pure iron would take up, before the saturation line caps it, (M,) [wt%]."""
        if self.ln_activity is None:
            return self.stated_wt
        from_pack = carbon_at_ln_activity(self.ln_activity, temperature_K)
        return from_pack if self.all_packed else np.where(self.packed, from_pack, self.stated_wt)

    def __call__(self, temperature_K: Array) -> tuple[Array, Array]:
        """Return transfer [m/s] and the carbon the steel would take up [wt%], each (M,)."""
        pure = self.pure_iron_wt(temperature_K)
        offered = np.minimum(pure, cementite_read_wt(temperature_K))
        faster = np.exp(-self.activation_K * (1.0 / temperature_K - 1.0 / TRANSFER_REFERENCE_K))
        awake = feeding_share(temperature_K, self.members.ac1_K)
        transfer = self.transfer * faster * awake
        if self.any_held:
            offered = np.where(self.held, pure, offered)
            transfer = np.where(self.held & (awake > 0.0), np.inf, transfer)
        return transfer, offered / self.alloy


def _ln_activity(activity: Array) -> Array:
    """Return the logarithm of carbon activities, which must lie in their range."""
    for extreme in (activity.min(), activity.max()):
        check("activity", float(extreme), ACTIVITY)
    return np.log(activity)


def _stated_carbon(supply: Supply) -> float:
    if isinstance(supply, PotentialSupply):
        return supply.carbon_potential_wt
    return supply.surface_carbon_wt if isinstance(supply, HeldSurface) else 0.0


def _doubt_wt(supply: Supply) -> float:
    return supply.doubt_wt if isinstance(supply, HeldSurface) else 0.0


def _stated_transfer(supply: Supply) -> float:
    return supply.transfer_m_per_s if isinstance(supply, PotentialSupply) else 0.0


def hot_steps(process: Process) -> list[HotStep]:
    """Return the steps in which carbon may move, in order."""
    return [step for step in process.steps if isinstance(step, HOT_STEPS)]


def supply_of(process: Process, place: int) -> Supply | None:
    """Return what feeds the surface in the hot step at a place; a slow cool goes on as the step before."""
    steps = hot_steps(process)
    step = steps[place]
    if isinstance(step, Carburize):
        return step.supply
    if isinstance(step, Reheat):
        return step.surface
    if not isinstance(step, SlowCool):
        return None
    before = steps[place - 1] if place else None
    return step.supply or (before.supply if isinstance(before, Carburize) else None)


@dataclass(frozen=True)
class StepCarbon:
    """Carbon of all members after one hot step, and after the way up to it where that is worked out."""

    end: CarbonProfile
    warmed: CarbonProfile | None = None


class _Saturation:
    """Carbon at which the members' austenite is full, against temperature; a hold asks for the same again."""

    def __init__(self, alloy_factor: Array) -> None:
        """Keep the members' factor on the line of pure iron, (M,) [-]."""
        self.alloy_factor = alloy_factor
        self.asked = self.answer = np.empty(0)

    def __call__(self, temperature_K: Array) -> Array:
        """Return the carbon, (M,) [wt%]."""
        if temperature_K is not self.asked:
            self.asked = temperature_K
            self.answer = np.asarray(cementite_read_wt(temperature_K) / self.alloy_factor)
        return self.answer


def carbon_states(
    members: Members, cells: int = FORECAST_CELLS, tolerance_wt: float = FORECAST_TOLERANCE_wt
) -> list[CarbonProfile]:
    """Carbon of all members after each hot step; parameters, raises and source as `carbon_course`."""
    return [end.profile for _, end in _reached(members, cells, tolerance_wt, DOUBLE)]


def carbon_at_end(members: Members, cells: int, tolerance_wt: float, precision: Precision) -> CarbonProfile:
    """Carbon of all members after the last hot step, worked in a precision; the rest as `carbon_course`."""
    return _reached(members, cells, tolerance_wt, precision)[-1][1].profile


def carbon_course(
    members: Members, cells: int = FORECAST_CELLS, tolerance_wt: float = FORECAST_TOLERANCE_wt
) -> list[StepCarbon]:
    """Carbon of all members after each hot step, from one call of the solver.

    members : processes with one hot step or more, and their constants
    cells : cells through the section; tolerance_wt : error allowed in one step [wt%]
    Returns one state a hot step, in order.
    Raises NotPossible if nothing is heated.
    Source: `carbon.reach_carbon` with Agren 1986; nothing moves below Ac1.
    """
    reached = _reached(members, cells, tolerance_wt, DOUBLE)
    return [StepCarbon(end.profile, warmed.profile if warmed else None) for warmed, end in reached]


def _reached(
    members: Members, cells: int, tolerance_wt: float, precision: Precision
) -> list[tuple[Reached | None, Reached]]:
    """Return the state after the way up to each hot step, where that is worked out, and after the step."""
    courses = [segments_of(members, place) for place in range(len(hot_steps(members.processes[0])))]
    if not courses:
        raise NotPossible("steps", "nothing is heated", "Add a soak or a reheat.")
    grid = grid_of(members, cells)
    segments = [segment for way_up, course in courses for segment in (*way_up, *course)]
    start_wt = start_carbon(members, grid).astype(precision)
    states = solved(members, grid, start_wt, segments, tolerance_wt)
    found, last = [], -1
    for way_up, course in courses:
        warmed = states[last + len(way_up)][-1] if way_up else None
        last += len(way_up) + len(course)
        found.append((warmed, states[last][-1]))
    return found


def solved(
    members: Members, grid: Grid, start_wt: Array, segments: Sequence[Segment], tolerance_wt: float
) -> list[tuple[Reached, ...]]:
    """Return the states at the end of each segment; parameters, raises, source as `carbon.reach_carbon`."""
    return reach_carbon(
        grid,
        start_wt,
        segments,
        saturation_wt=_Saturation(members.alloy_factor),
        tolerance=tolerance_wt,
    )


def segments_of(members: Members, place: int) -> tuple[list[Segment], list[Segment]]:
    """Return the segments of the way up to the hot step at a place, and of the step."""
    steps = [hot_steps(process)[place] for process in members.processes]
    shares = [step.lag_share if isinstance(step, Carburize) else 0.0 for step in steps]
    supplies = [supply_of(process, place) for process in members.processes]
    outer: SurfaceSupply = sealed
    if any(supply is not None for supply in supplies):
        outer = Feeding(members, [supply or PotentialSupply(0.0, 0.0) for supply in supplies])
    course = Course.of(members, [step.history for step in steps], shares)
    bore_packed = any(process.section.bore_packed for process in members.processes)
    inner = outer if bore_packed else None
    soaks = [step for step in steps if isinstance(step, Carburize)]
    way_up = warming(members, soaks, course) if soaks else None
    if isinstance(steps[0], SlowCool):
        before = [hot_steps(process)[place - 1] for process in members.processes] if place else []
        course = cooling_course(members, course, [step for step in before if isinstance(step, Carburize)])
    climb = [] if way_up is None else list(way_up.segments(members.ac1_K, outer, inner))
    return climb, list(course.segments(members.ac1_K, outer, inner))


def grid_of(members: Members, cells: int = FORECAST_CELLS) -> Grid:
    """Return one section for all where all are alike, else one a member."""
    sections = [process.section for process in members.processes]
    if len(set(sections)) == 1:
        return Grid.of_sections(sections[:1], cells)
    return Grid.of_sections(sections, cells).at(members.row)


def start_carbon(members: Members, grid: Grid) -> Array:
    """Return the carbon that the members begin with, (M,) even or (M, n) where one brings a profile."""
    if not any(process.start_depth_m for process in members.processes):
        return members.base_carbon_wt
    depth = np.broadcast_to(grid.centres_m, (len(members.row), grid.centres_m.shape[1]))
    carbon = np.repeat(members.base_carbon_wt[:, None], depth.shape[1], axis=1)
    for row, group in groupby(range(len(members.row)), key=lambda member: int(members.row[member])):
        process, rows = members.processes[row], list(group)
        if process.start_depth_m:
            carbon[rows] = np.interp(depth[rows], process.start_depth_m, process.start_carbon_wt)
    return carbon
