"""From the steps of a process to the carbon in it: what the solver is told of each hot step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.carbon import CarbonProfile, solve_carbon_states
from model.errors import NotPossible
from model.grid import Grid
from model.members import Members
from model.pack import carbon_at_activity, cementite_saturation_wt, feeding_share
from model.process import (
    Carburize,
    EvenOut,
    HeldSurface,
    History,
    HotStep,
    PackSupply,
    PotentialSupply,
    Process,
    Reheat,
    SlowCool,
    Supply,
)
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
LEAST_CLIMB_K: Final = 1e-6
"""Temperature change that counts as none [K]."""
LAG_SMOOTHING: Final = 0.03
"""Share of a step over which the lag's end is rounded off, so that a lag near the whole step keeps its
effect on the depth; 0.2 % of the time at a lag of half the step. Own choice."""


@dataclass(frozen=True)
class Course:
    """Histories of one step of all members: times and temperatures, both (M, points)."""

    seconds: Array
    temperature_K: Array

    @classmethod
    def of(cls, members: Members, histories: Sequence[History], lag_share: Sequence[float]) -> Course:
        """Return the members' histories, biased, and without the time before the work was at heat."""
        most = max(len(history.seconds) for history in histories)
        seconds = np.array([_padded(history.seconds, most) for history in histories])[members.row]
        kelvin = np.array([_padded(history.temperature_K, most) for history in histories])[members.row]
        kelvin = kelvin + members.constants.temperature_bias_K[:, None]
        lag_s = members.spread(lag_share) * members.constants.lag_s
        return cls(seconds - seconds[:, :1], kelvin).after(lag_s)

    def after(self, lag_s: Array) -> Course:
        """Return the course without its first seconds, (M,) 0 or more."""
        whole = self.seconds[:, -1]
        start = (whole - seconds_at_heat(whole, lag_s))[:, None]
        seconds = np.maximum(self.seconds, start)
        span = np.diff(self.seconds, axis=1)
        share = np.diff(seconds, axis=1) / np.where(span > 0.0, span, 1.0)
        climb = np.diff(self.temperature_K, axis=1)
        first = np.where(share > 0.0, self.temperature_K[:, 1:] - share * climb, self.temperature_K[:, 1:])
        at_start = np.take_along_axis(first, (share > 0.0).argmax(axis=1)[:, None], axis=1)
        kelvin = np.where(seconds > self.seconds, at_start, self.temperature_K)
        return Course(seconds, kelvin)

    def segments(self, ac1_K: Array, outer: SurfaceSupply, inner: SurfaceSupply | None) -> Iterator[Segment]:
        """Yield the solver's segments: of each member only the time above its Ac1, (M,) [K]."""
        kelvin = np.maximum(self.temperature_K, ac1_K[:, None])
        climb, hot_climb = np.diff(self.temperature_K, axis=1), np.diff(kelvin, axis=1)
        still = (self.temperature_K[:, 1:] >= ac1_K[:, None]).astype(float)
        share = np.divide(hot_climb, climb, out=still, where=np.abs(climb) > LEAST_CLIMB_K)
        seconds = np.diff(self.seconds, axis=1) * share
        for place in range(seconds.shape[1]):
            yield Segment(seconds[:, place], kelvin[:, place], kelvin[:, place + 1], outer, inner)


def seconds_at_heat(whole_s: Array, lag_s: Array) -> Array:
    """Time at heat of a step whose clock began `lag_s` before: the difference, rounded off above nothing.

    whole_s : (M,) [s], above 0; lag_s : (M,) [s], 0 or more
    Returns (M,) [s], above 0 and at most `whole_s`.
    Source: own choice; exact without a lag.
    """
    left = 1.0 - lag_s / whole_s

    def rounded(share: Array | float) -> Array:
        return np.asarray(0.5 * (share + np.hypot(share, 2.0 * LAG_SMOOTHING)), dtype=float)

    return np.asarray(whole_s * rounded(left) / rounded(1.0), dtype=float)


def _padded(values: tuple[float, ...], length: int) -> tuple[float, ...]:
    return values + (values[-1],) * (length - len(values))


class Feeding:
    """What the surfaces of all members are offered in one step; a `carbon.Supply`."""

    def __init__(self, members: Members, supplies: Sequence[Supply]) -> None:
        """Spread one supply a process over the members."""
        constants = members.constants
        self.members = members
        self.packed = members.spread([isinstance(supply, PackSupply) for supply in supplies]) > 0.0
        self.held = members.spread([isinstance(supply, HeldSurface) for supply in supplies]) > 0.0
        self.stated_wt = members.spread([_stated_carbon(supply) for supply in supplies])
        stated_transfer = members.spread([_stated_transfer(supply) for supply in supplies])
        self.transfer = np.where(self.packed, constants.transfer_m_per_s, stated_transfer)
        self.activation_K = constants.transfer_activation_J_per_mol / GAS_CONSTANT_J_PER_MOL_K * self.packed
        exponent = np.where(self.packed, constants.alloy_exponent, 1.0)
        self.alloy = np.where(self.held, 1.0, members.alloy_factor**exponent)

    def pure_iron_wt(self, temperature_K: Array) -> Array:
        """Return what pure iron would take up, before the saturation line caps it, (M,) [wt%]."""
        if not self.packed.any():
            return self.stated_wt
        from_pack = carbon_at_activity(self.members.constants.carbon_activity, temperature_K)
        return np.where(self.packed, from_pack, self.stated_wt)

    def __call__(self, temperature_K: Array) -> tuple[Array, Array]:
        """Return transfer [m/s] and the carbon the steel would take up [wt%], each (M,)."""
        pure = self.pure_iron_wt(temperature_K)
        capped = np.where(self.held, pure, np.minimum(pure, cementite_saturation_wt(temperature_K)))
        faster = np.exp(-self.activation_K * (1.0 / temperature_K - 1.0 / TRANSFER_REFERENCE_K))
        transfer = np.where(self.held, np.inf, self.transfer * faster)
        awake = feeding_share(temperature_K[:, None], self.members.composition)[:, 0]
        return np.multiply(
            transfer, awake, out=np.zeros_like(transfer), where=awake > 0.0
        ), capped / self.alloy


def _stated_carbon(supply: Supply) -> float:
    if isinstance(supply, PotentialSupply):
        return supply.carbon_potential_wt
    return supply.surface_carbon_wt if isinstance(supply, HeldSurface) else 0.0


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
    if not isinstance(step, SlowCool):
        return None
    before = steps[place - 1] if place else None
    return step.supply or (before.supply if isinstance(before, Carburize) else None)


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
            self.answer = np.asarray(cementite_saturation_wt(temperature_K) / self.alloy_factor)
        return self.answer


def carbon_states(
    members: Members, cells: int = FORECAST_CELLS, tolerance_wt: float = FORECAST_TOLERANCE_wt
) -> list[CarbonProfile]:
    """Carbon of all members after each hot step, from one call of the solver.

    members : processes with one hot step or more, and their constants
    cells : cells through the section; tolerance_wt : error allowed in one step [wt%]
    Returns one profile a hot step, in order.
    Raises NotPossible if nothing is heated.
    Source: `carbon.solve_carbon_states` with Agren 1986; nothing moves below Ac1.
    """
    courses = [_segments(members, place) for place in range(len(hot_steps(members.processes[0])))]
    if not courses:
        raise NotPossible("steps", "nothing is heated", "Add a soak or a reheat.")
    grid = grid_of(members, cells)

    states = solve_carbon_states(
        grid,
        start_carbon(members, grid),
        [segment for course in courses for segment in course],
        saturation_wt=_Saturation(members.alloy_factor),
        tolerance=tolerance_wt,
    )
    ends = np.cumsum([len(course) for course in courses]) - 1
    return [states[end][-1] for end in ends]


def _segments(members: Members, place: int) -> list[Segment]:
    """Return the segments of the hot step at a place."""
    steps = [hot_steps(process)[place] for process in members.processes]
    shares = [step.lag_share if isinstance(step, Carburize) else 0.0 for step in steps]
    supplies = [supply_of(process, place) for process in members.processes]
    outer: SurfaceSupply = sealed
    if any(supply is not None for supply in supplies):
        outer = Feeding(members, [supply or PotentialSupply(0.0, 0.0) for supply in supplies])
    course = Course.of(members, [step.history for step in steps], shares)
    bore_packed = any(process.section.bore_packed for process in members.processes)
    return list(course.segments(members.ac1_K, outer, outer if bore_packed else None))


def grid_of(members: Members, cells: int = FORECAST_CELLS) -> Grid:
    """Return one section for all where all are alike, else one a member."""
    sections = [process.section for process in members.processes]
    alike = len(set(sections)) == 1
    sections = sections[:1] if alike else [sections[row] for row in members.row]
    return Grid.of_sections(sections, cells)


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
