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
_APART_K: Final = np.array([[0.0], [SLOPE_STEP_K]])


class Heat(NamedTuple):
    """Heat content of the cells (M, n) [J/m3], and heat given off by both faces (M,) [J/m2 of the outer]."""

    content: Array
    given_off: Array


class _Flow(NamedTuple):
    """Heat flows of one moment, and what the matrix needs.

    net : (M, n) into each cell [W/m2 of the outer face]; given_off : (M,) through both faces [W/m2]
    conductance : (M, n + 1) of each face, end faces by how they answer to the end cell [W/m2 K]
    capacity : (M, n) heat capacity [J/m3 K]
    """

    net: Array
    given_off: Array
    conductance: Array
    capacity: Array


@dataclass(frozen=True)
class Conduction:
    """Conduction in the cells of a grid, with heat leaving the outer face and, in part, the inner one.

    grid : its `inner_fed` says which inner faces are reached, by which share
    surface : heat flux against surface temperature; inner_share : (M,) of it that the inner face loses [-]
    """

    grid: Grid
    half_gap: Array
    surface: SurfaceFlux
    inner_share: Array
    bored: bool

    @classmethod
    def on(cls, grid: Grid, surface: SurfaceFlux, inner_share: Array) -> Conduction:
        """Return the conduction on a grid."""
        nodes = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        return cls(
            grid, 0.5 * grid.area / np.diff(nodes, axis=1), surface, inner_share, bool(inner_share.any())
        )

    def flow(self, content: Array, mixture: Mixture) -> _Flow:
        """Return the heat flows at a heat content, (M, n) [J/m3]."""
        temperature, capacity = mixture.answer(content)
        conductivity = mixture.conducts(temperature)
        size = (content.shape[0], content.shape[1] + 1)
        conductance, flow = np.zeros(size), np.zeros(size)
        conductance[:, 1:-1] = (conductivity[:, :-1] + conductivity[:, 1:]) * self.half_gap[:, 1:-1]
        np.multiply(conductance[:, 1:-1], temperature[:, :-1] - temperature[:, 1:], out=flow[:, 1:-1])
        flow[:, 0], conductance[:, 0] = self._face(temperature[:, 0], conductivity[:, 0], 0, 1.0)
        flow[:, 0] *= -1.0
        if self.bored:
            flow[:, -1], conductance[:, -1] = self._face(
                temperature[:, -1], conductivity[:, -1], -1, self.inner_share
            )
        return _Flow(flow[:, :-1] - flow[:, 1:], flow[:, -1] - flow[:, 0], conductance, capacity)

    def _face(self, cell: Array, conductivity: Array, face: int, share: Array | float) -> tuple[Array, Array]:
        """Return the flow out of an end face and how it answers to the end cell's temperature.

        The half cell is so thin that one Newton step from the cell's temperature finds the surface's.
        """
        area = self.grid.area[:, face] * share
        through = 2.0 * conductivity * self.half_gap[:, face]
        flux, beyond = self.surface(cell + _APART_K) * area
        slope = np.maximum((beyond - flux) / SLOPE_STEP_K, 0.0)
        reach = through / (through + slope)
        return flux * reach, slope * reach

    def step(
        self, heat: Heat, mixture: Mixture, step_s: Array, source: Array | float = 0.0
    ) -> tuple[Heat, Array, Array]:
        """Return the heat one step further, and the error of that step.

        heat : the state; mixture : what the cells are made of; step_s : (M,) each member's own step [s]
        source : (M, n) heat set free evenly over the step [J/m3]
        Returns the new state; the greatest error of any cell, (M,) [K]; the fall of each cell, (M, n) [K].
        Source: Verwer et al. 1999, ROS2.
        """
        volume, pace = self.grid.volume_m, step_s[:, None]
        freed = volume * source
        now = self.flow(heat.content, mixture)
        solve = self._factored(now, GAMMA * pace)
        first = now.capacity * solve(pace * now.net + freed)
        first_off = step_s * now.given_off + self._through_faces(now, first, GAMMA * step_s)
        ahead = self.flow(heat.content + first, mixture)
        second = now.capacity * solve(pace * ahead.net + freed - (2.0 * volume) * first)
        second_off = step_s * ahead.given_off - 2.0 * first_off
        second_off += self._through_faces(now, second, GAMMA * step_s)
        change = 1.5 * first + 0.5 * second
        moved = Heat(heat.content + change, heat.given_off + 1.5 * first_off + 0.5 * second_off)
        error = 0.5 * np.abs((first + second) / now.capacity).max(axis=1)
        return moved, error, -change / now.capacity

    def _factored(self, flow: _Flow, reach: Array) -> Callable[[Array], Array]:
        """Return the solver of V capacity + reach * conductances, whose answer is a temperature change."""
        coupling = reach * flow.conductance
        diagonal = self.grid.volume_m * flow.capacity
        diagonal += coupling[:, :-1]
        diagonal += coupling[:, 1:]
        off = -coupling[:, 1:]
        off[:, -1] = 0.0  # members do not touch
        factors = dpttrf(diagonal.ravel(), off.ravel()[:-1], overwrite_d=1, overwrite_e=1)

        def solve(right: Array) -> Array:
            solved: Array = dpttrs(factors[0], factors[1], right.ravel(), overwrite_b=1)[0]
            return solved.reshape(right.shape)

        return solve

    def _through_faces(self, flow: _Flow, change: Array, reach: Array) -> Array:
        """Return the implicit part of what leaves by the faces, (M,), as the matrix has it."""
        through = flow.conductance[:, 0] * change[:, 0] / flow.capacity[:, 0]
        if self.bored:
            through = through + flow.conductance[:, -1] * change[:, -1] / flow.capacity[:, -1]
        return np.asarray(reach * through)
