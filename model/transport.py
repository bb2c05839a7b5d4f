"""Carbon fluxes of one moment in the cells of M sections.

Each face has one flux, which leaves one cell and enters its neighbour, so that no carbon is made or lost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import Diffusivity
from model.grid import Grid
from model.segments import Moment

Array = NDArray[np.float64]
Saturation = Callable[[Array], Array]

_FREE_TRANSFER = 1.0e9
"""A transfer coefficient that already acts as a held surface [m/s] and stays finite in arithmetic."""
_NEVER_ZERO = 1.0e-300


class Fluxes(NamedTuple):
    """Fluxes of one moment [wt% m/s over the outer area], and what the matrix of a step needs.

    net : (M, n) into each cell; outer, inner : (M,) into the section through each face
    mobility : (M, n) diffusivity with which each cell answers to a change of its carbon [m2/s]
    outer_share, inner_share : part of potential less end cell that lies across the half cell [-]
    surface_wt, inner_surface_wt : (M,) total carbon at each face
    """

    net: Array
    outer: Array
    inner: Array
    mobility: Array
    outer_share: Array
    inner_share: Array
    surface_wt: Array
    inner_surface_wt: Array


@dataclass(frozen=True)
class Face:
    """An end of the grid that may be fed.

    cell, beyond : indices of the end cell and of its neighbour
    area : (M,) area over the outer face's, 0 where nothing can reach it [-]
    lever : (M,) distance face to end cell over end cell to neighbour [-]
    """

    cell: int
    beyond: int
    area: Array
    lever: Array

    def supply(self, offered: tuple[Array, Array], saturation: Array) -> tuple[Array, Array]:
        """Return transfer over the outer area [m/s] and the carbon that the face can take up [wt%]."""
        return np.minimum(offered[0], _FREE_TRANSFER) * self.area, np.minimum(offered[1], saturation)

    def guess(self, cells: Array, supply: tuple[Array, Array]) -> Array:
        """Return face carbon good enough to take the half cell's D at: the profile run on, or as held."""
        end = cells[:, self.cell]
        run_on = end + self.lever * (end - cells[:, self.beyond])
        return np.where(supply[0] >= _FREE_TRANSFER * self.area, supply[1], run_on)


@dataclass(frozen=True)
class Transport:
    """Diffusion in the cells of a grid, with a diffusivity and a saturation line.

    half_conductance : (M, n + 1) half of area over distance at each face, half cells at both ends [1/m]
    """

    grid: Grid
    diffusivity: Diffusivity
    saturation_wt: Saturation
    half_conductance: Array
    outer: Face
    inner: Face

    @classmethod
    def on(cls, grid: Grid, diffusivity: Diffusivity, saturation_wt: Saturation) -> Transport:
        """Return the transport on a grid."""
        nodes = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        gaps = np.diff(nodes, axis=1)
        outer = Face(0, 1, grid.area[:, 0], gaps[:, 0] / gaps[:, 1])
        inner = Face(-1, -2, grid.area[:, -1] * grid.inner_fed, gaps[:, -1] / gaps[:, -2])
        return cls(grid, diffusivity, saturation_wt, 0.5 * grid.area / gaps, outer, inner)

    def fluxes(self, carbon_wt: Array, moment: Moment) -> Fluxes:
        """Return the fluxes that a state has at a moment.

        carbon_wt : (M, n) total carbon [wt%]; moment : temperature and supplies
        returns : the fluxes
        source : Fick's law on driving carbon min(C, saturation), D as the mean of a face's two sides;
            at a fed face transfer and half cell in series
        """
        saturation = self.saturation_wt(moment.temperature_K)
        driving = np.empty((carbon_wt.shape[0], carbon_wt.shape[1] + 2))
        cells = np.minimum(carbon_wt, saturation[:, None], out=driving[:, 1:-1])
        outer = self.outer.supply(moment.outer, saturation)
        inner = self.inner.supply(moment.inner, saturation) if moment.inner else None
        driving[:, 0] = self.outer.guess(cells, outer)
        driving[:, -1] = self.inner.guess(cells, inner) if inner else cells[:, -1]
        diffusivity = self.diffusivity(driving, moment.temperature_K[:, None])
        permeance = diffusivity[:, :-1] + diffusivity[:, 1:]
        permeance *= self.half_conductance
        outer_share, driving[:, 0] = _settle(outer, permeance[:, 0], cells[:, 0])
        inner_share, driving[:, -1] = _settle(inner, permeance[:, -1], cells[:, -1])
        permeance *= driving[:, :-1] - driving[:, 1:]
        return self._gathered(permeance, diffusivity[:, 1:-1], driving, carbon_wt, (outer_share, inner_share))

    @staticmethod
    def _gathered(
        flux: Array, diffusivity: Array, driving: Array, carbon_wt: Array, shares: tuple[Array, Array]
    ) -> Fluxes:
        """Return the fluxes, with the end cells' carbide counted at the faces.

        Cells above saturation keep their mobility, though in truth they answer to nothing: the method's
        order does not depend on the matrix, and a matrix that froze them would let their free neighbours
        overshoot as the line falls, at hundreds of tiny steps.
        """
        carbide = carbon_wt - driving[:, 1:-1]
        surface, inner_surface = driving[:, 0] + carbide[:, 0], driving[:, -1] + carbide[:, -1]
        net = flux[:, :-1] - flux[:, 1:]
        return Fluxes(net, flux[:, 0], -flux[:, -1], diffusivity, *shares, surface, inner_surface)


def _settle(supply: tuple[Array, Array] | None, permeance: Array, cell: Array) -> tuple[Array, Array]:
    """Return the share of the difference that lies across the half cell, and the face's carbon [wt%]."""
    if supply is None:
        return _NO_SHARE, cell
    transfer, offered = supply
    share = transfer / (transfer + permeance + _NEVER_ZERO)
    return share, cell + share * (offered - cell)


_NO_SHARE = np.zeros(1)
