"""One implicit step of the heat balance of M sections, each with a time step of its own.

ROS2 in its W form, as in `model.implicit` (Verwer et al. 1999, from memory): second order whatever
matrix is used, L-stable, with a first-order companion for the error. The unknown is the heat content,
so that what leaves the cells is what goes through the faces, to round-off; it is kept as the temperature
it is read off by. The matrix is symmetric in the change of temperature and solved for all members at once
without pivoting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dpttrs

from model.grid import Grid
from model.steel_heat import Mixture
from model.transport import GAMMA

Array = NDArray[np.float64]
SurfaceFlux = Callable[[Array], Array]
"""Heat flux out of a surface at its temperature, (..., M) [C] to the same [W/m2]."""

SLOPE_STEP_K: Final = 1.0
"""Distance over which the slope of the surface flux is taken [K]: far below the width of any regime."""
AHEAD_K: Final = 30.0
"""Fall for which the matrix is made [K]: the most that a step of a quench lets a cell fall. Where the flux
drops steeply a little lower down, at the end of full boiling, a slope on the spot would let the thin cells
at the face overshoot, at hundreds of tiny steps; the method's order does not depend on the matrix."""
_APART_K: Final = np.array([[0.0], [SLOPE_STEP_K], [-AHEAD_K]])
AT_ONCE: Final = len(_APART_K)
"""Surface temperatures that are asked for at once."""
_PER_K: Final = 1.0 / _APART_K[1:]


class State(NamedTuple):
    """Temperature of the cells (M, n) [C], and heat given off by both faces (M,) [J/m2 of the outer]."""

    temperature_C: Array
    given_off: Array

    def where(self, moves: NDArray[np.bool_], moved: State) -> State:
        """Return the state with the members that move moved on, (M,), and the others as they are."""
        temperature_C = np.where(moves[:, None], moved.temperature_C, self.temperature_C)
        return State(temperature_C, np.where(moves, moved.given_off, self.given_off))


class _Lost(NamedTuple):
    """What an end face loses, and how it answers to the temperature of its cell.

    flow : (M,) out of it [W/m2]; through : conductance of its half cell [W/m2 K]
    slopes : (2, M) of the flux, on the spot and over the fall of a step, none below 0 [W/m2 K]
    """

    flow: Array
    through: Array
    slopes: Array

    def conductance(self) -> Array:
        """How the flow answers where the flux falls steepest, (M,) [W/m2 K]."""
        steepest = np.maximum(self.slopes[0], self.slopes[1])
        return np.asarray(steepest * self.through / (self.through + steepest))


class _Flow(NamedTuple):
    """Heat flows of one moment, and what the matrix needs.

    net : (M, n) into each cell [W/m2 of the outer face]; given_off : (M,) through both faces [W/m2]
    conductance : (M, n - 1) of each face between cells [W/m2 K]; lost : at the ends
    """

    net: Array
    given_off: Array
    conductance: Array
    lost: list[_Lost]


class _Faces:
    """One value at every face of the cells, (M, n + 1), and views of it that are set up once.

    all : 0 to begin with; inside : without the ends; left, right : of each cell
    """

    def __init__(self, shape: tuple[int, int]) -> None:
        """Keep room for cells (M, n)."""
        self.all = np.zeros((shape[0], shape[1] + 1))
        self.inside, self.left, self.right = self.all[:, 1:-1], self.all[:, :-1], self.all[:, 1:]


class _End(NamedTuple):
    """An end face: index of its cell, area that loses heat (k, M) [-], area over half its cell (M,) [1/m]."""

    cell: int
    area: Array
    gap: Array

    @classmethod
    def of(cls, cell: int, area: Array, half_gap: Array) -> _End:
        """Return an end face, its area spread over the temperatures asked at once."""
        return cls(cell, np.repeat(area[None], AT_ONCE, axis=0), 2.0 * half_gap)


@dataclass(frozen=True)
class Conduction:
    """Conduction in the cells of a grid, with heat leaving the outer face and, in part, the inner one.

    volume_m, twice_volume_m : of the cells, as `Grid` has it, and its double
    half_gap : (M, n - 1) half of area over distance [1/m]
    surface : heat flux against surface temperature; ends : the faces that lose heat, the outer one first
    room : for flows and couplings of one moment, which the next writes over
    """

    volume_m: Array
    twice_volume_m: Array
    half_gap: Array
    surface: SurfaceFlux
    ends: tuple[_End, ...]
    room: tuple[_Faces, _Faces]

    @classmethod
    def on(cls, grid: Grid, surface: SurfaceFlux, inner_share: Array) -> Conduction:
        """Return the conduction on a grid.

        grid : the cells; surface : heat flux against surface temperature
        inner_share : (M,) share of the outer face's heat flux that the inner face loses [-]
        """
        nodes = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        half_gap = 0.5 * grid.area / np.diff(nodes, axis=1)
        ends = [_End.of(0, grid.area[:, 0], half_gap[:, 0])]
        if inner_share.any():
            ends.append(_End.of(-1, grid.area[:, -1] * inner_share, half_gap[:, -1]))
        shape = (len(inner_share), grid.volume_m.shape[1])
        room = _Faces(shape), _Faces(shape)
        return cls(grid.volume_m, 2.0 * grid.volume_m, half_gap[:, 1:-1], surface, tuple(ends), room)

    def flow(self, temperature: Array, mixture: Mixture) -> _Flow:
        """Return the heat flows at a temperature, (M, n) [C]."""
        conductivity, flow = mixture.conducts(temperature), self.room[0]
        conductance = (conductivity[:, :-1] + conductivity[:, 1:]) * self.half_gap
        np.multiply(conductance, temperature[:, :-1] - temperature[:, 1:], out=flow.inside)
        lost = [self._lost(end, temperature[:, end.cell], conductivity[:, end.cell]) for end in self.ends]
        given_off = lost[0].flow
        np.negative(given_off, out=flow.all[:, 0])
        if len(lost) > 1:
            flow.all[:, -1] = lost[1].flow
            given_off = given_off + lost[1].flow
        return _Flow(flow.left - flow.right, given_off, conductance, lost)

    def _lost(self, end: _End, cell: Array, conductivity: Array) -> _Lost:
        """Return what an end face loses.

        The half cell is so thin that one Newton step from the cell's temperature finds the surface's.
        """
        through = conductivity * end.gap
        fluxes = self.surface(cell + _APART_K) * end.area
        flux = fluxes[0]
        slopes = np.maximum((fluxes[1:] - flux) * _PER_K, 0.0)
        return _Lost(flux * through / (through + slopes[0]), through, slopes)

    def step(
        self, state: State, mixture: Mixture, step_s: Array, source: Array | float = 0.0
    ) -> tuple[State, Array, Array]:
        """Return the state one step further, and the error of that step.

        state : before it; mixture : what the cells are made of; step_s : (M,) each member's own step [s]
        source : (M, n) heat set free evenly over the step [J/m3]
        Returns the new state; the error and the rise of each cell, (M, n) each [K].
        Source: Verwer et al. 1999, ROS2, in changes of temperature at the capacity before the step.
        """
        volume, pace, before_C = self.volume_m, step_s[:, None], state.temperature_C
        capacity, freed = mixture.holds(before_C), volume * source
        now = self.flow(before_C, mixture)
        leaves = [lost.conductance() for lost in now.lost]
        solve = self._factored(now.conductance, leaves, capacity, GAMMA * pace)
        first = solve(pace * now.net + freed)
        heat = capacity * first
        ahead = self.flow(before_C + mixture.rise(capacity, heat), mixture)
        second = solve(pace * ahead.net + freed - self.twice_volume_m * heat)
        both = first + second
        change = first + 0.5 * both
        off = now.given_off + ahead.given_off
        for end, conductance in zip(self.ends, leaves, strict=True):
            off = off + GAMMA * conductance * both[:, end.cell]
        after_C = before_C + mixture.rise(capacity, capacity * change)
        return State(after_C, state.given_off + 0.5 * step_s * off), 0.5 * np.abs(both), change

    def _factored(
        self, conductance: Array, leaves: list[Array], capacity: Array, reach: Array
    ) -> Callable[[Array], Array]:
        """Return the solver of V capacity + reach * conductances, whose answer is a temperature change.

        leaves : how the flow out of each end answers to its cell, (M,) [W/m2 K]
        """
        coupling = self.room[1]
        np.multiply(reach, conductance, out=coupling.inside)
        for end, conducts in zip(self.ends, leaves, strict=True):
            np.multiply(reach[:, 0], conducts, out=coupling.all[:, end.cell])
        diagonal = self.volume_m * capacity
        diagonal += coupling.left
        diagonal += coupling.right
        off = np.negative(coupling.right)
        off[:, -1] = 0.0  # members do not touch
        factors = dpttrf(diagonal.ravel(), off.ravel()[:-1], overwrite_d=1, overwrite_e=1)

        def solve(right: Array) -> Array:
            solved: Array = dpttrs(factors[0], factors[1], right.ravel(), overwrite_b=1)[0]
            return solved.reshape(right.shape)

        return solve
