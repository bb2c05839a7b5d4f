"""One implicit step of the heat balance of M sections, each with a time step of its own.

ROS2 in its W form, as in `model.implicit` (Verwer et al. 1999, from memory): second order whatever
matrix is used, L-stable, with a first-order companion for the error. The unknown is the heat content,
so that what leaves the cells is what goes through the faces, to round-off; the matrix is symmetric in
the change of temperature and solved for all members at once without pivoting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dpttrs

from model.grid import Grid
from model.implicit import GAMMA
from model.steel_heat import Mixture

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


class Heat(NamedTuple):
    """Heat content of the cells (M, n) [J/m3], and heat given off by both faces (M,) [J/m2 of the outer]."""

    content: Array
    given_off: Array

    def where(self, kept: NDArray[np.bool_], moved: Heat) -> Heat:
        """Return the state with the members that are kept moved on, (M,)."""
        content = np.where(kept[:, None], moved.content, self.content)
        return Heat(content, np.where(kept, moved.given_off, self.given_off))


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
    conductance : (M, n + 1) of each face but the ends [W/m2 K]; lost : at the ends
    capacity : (M, n) heat capacity [J/m3 K]
    """

    net: Array
    given_off: Array
    conductance: Array
    lost: list[_Lost]
    capacity: Array


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
    """

    volume_m: Array
    twice_volume_m: Array
    half_gap: Array
    surface: SurfaceFlux
    ends: tuple[_End, ...]

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
        return cls(grid.volume_m, 2.0 * grid.volume_m, half_gap[:, 1:-1], surface, tuple(ends))

    def flow(self, content: Array, mixture: Mixture) -> _Flow:
        """Return the heat flows at a heat content, (M, n) [J/m3]."""
        temperature, capacity = mixture.answer(content)
        conductivity = mixture.conducts(temperature)
        size = (content.shape[0], content.shape[1] + 1)
        conductance, flow = np.zeros(size), np.zeros(size)
        inner = conductance[:, 1:-1]
        np.multiply(conductivity[:, :-1] + conductivity[:, 1:], self.half_gap, out=inner)
        np.multiply(inner, temperature[:, :-1] - temperature[:, 1:], out=flow[:, 1:-1])
        lost = [self._lost(end, temperature[:, end.cell], conductivity[:, end.cell]) for end in self.ends]
        given_off = lost[0].flow
        flow[:, 0] = -given_off
        if len(lost) > 1:
            flow[:, -1] = lost[1].flow
            given_off = given_off + lost[1].flow
        return _Flow(flow[:, :-1] - flow[:, 1:], given_off, conductance, lost, capacity)

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
        self, heat: Heat, mixture: Mixture, step_s: Array, source: Array | float = 0.0
    ) -> tuple[Heat, Array, Array]:
        """Return the heat one step further, and the error of that step.

        heat : the state; mixture : what the cells are made of; step_s : (M,) each member's own step [s]
        source : (M, n) heat set free evenly over the step [J/m3]
        Returns the new state; the error and the rise of each cell, (M, n) each [K].
        Source: Verwer et al. 1999, ROS2, in changes of temperature.
        """
        volume, pace = self.volume_m, step_s[:, None]
        freed = volume * source
        now = self.flow(heat.content, mixture)
        solve = self._factored(now, GAMMA * pace)
        first = solve(pace * now.net + freed)
        content = now.capacity * first
        ahead = self.flow(heat.content + content, mixture)
        second = solve(pace * ahead.net + freed - self.twice_volume_m * content)
        both = first + second
        rise = first + 0.5 * both
        off = now.given_off + ahead.given_off + GAMMA * self._through_faces(now, both)
        moved = Heat(heat.content + now.capacity * rise, heat.given_off + 0.5 * step_s * off)
        return moved, 0.5 * np.abs(both), rise

    def _factored(self, flow: _Flow, reach: Array) -> Callable[[Array], Array]:
        """Return the solver of V capacity + reach * conductances, whose answer is a temperature change."""
        for end, lost in zip(self.ends, flow.lost, strict=True):
            flow.conductance[:, end.cell] = lost.conductance()
        coupling = reach * flow.conductance
        diagonal = self.volume_m * flow.capacity
        diagonal += coupling[:, :-1]
        diagonal += coupling[:, 1:]
        off = -coupling[:, 1:]
        off[:, -1] = 0.0  # members do not touch
        factors = dpttrf(diagonal.ravel(), off.ravel()[:-1], overwrite_d=1, overwrite_e=1)

        def solve(right: Array) -> Array:
            solved: Array = dpttrs(factors[0], factors[1], right.ravel(), overwrite_b=1)[0]
            return solved.reshape(right.shape)

        return solve

    def _through_faces(self, flow: _Flow, change_K: Array) -> Array:
        """Return what leaves by the faces for a change of temperature, (M,) [W/m2], as the matrix has it."""
        leaves = flow.conductance[:, 0] * change_K[:, 0]
        return np.asarray(leaves + flow.conductance[:, -1] * change_K[:, -1])
