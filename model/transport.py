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
_FROZEN_MOBILITY = 1.0e-6
"""Share of mobility given in the matrix to cells above saturation, which in truth have none: it keeps the
matrix positive definite, and the method's order does not depend on the matrix."""


class Fluxes(NamedTuple):
    """Fluxes of one moment [wt% m/s over the outer area], and what the matrix of a step needs.

    net : (M, n) into each cell; outer, inner : (M,) into the section through each face
    mobility : (M, n) diffusivity with which each cell answers to a change of its carbon [m2/s]
    outer_share, inner_share : (M,) part of potential less first cell that lies across the half cell
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
class Transport:
    """Diffusion in the cells of a grid, with a diffusivity and a saturation line."""

    grid: Grid
    diffusivity: Diffusivity
    saturation_wt: Saturation
    conductance: Array
    """Area over distance at each face, half cells at both ends, (M, n + 1) [1/m]."""

    @classmethod
    def on(cls, grid: Grid, diffusivity: Diffusivity, saturation_wt: Saturation) -> Transport:
        """Return the transport on a grid."""
        nodes = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        return cls(grid, diffusivity, saturation_wt, grid.area / np.diff(nodes, axis=1))

    def fluxes(self, carbon_wt: Array, moment: Moment) -> Fluxes:
        """Return the fluxes that a state has at a moment.

        carbon_wt : (M, n) total carbon [wt%]; moment : temperature and supplies
        returns : the fluxes
        source : Fick's law on driving carbon min(C, saturation), D as the mean of a face's two sides;
            at a fed face transfer and half cell in series
        """
        saturation = self.saturation_wt(moment.temperature_K)
        driving = np.empty((carbon_wt.shape[0], carbon_wt.shape[1] + 2))
        cells = driving[:, 1:-1]
        np.minimum(carbon_wt, saturation[:, None], out=cells)
        offered = np.minimum(moment.outer[1], saturation), np.minimum(moment.inner[1], saturation)
        driving[:, 0], driving[:, -1] = self._guessed_surfaces(cells, moment, offered)
        diffusivity = self.diffusivity(driving, moment.temperature_K[:, None])
        permeance = (0.5 * self.conductance) * (diffusivity[:, :-1] + diffusivity[:, 1:])
        outer_share = _share(moment.outer[0], permeance[:, 0], self.grid.area[:, 0])
        inner_share = _share(moment.inner[0] * self.grid.inner_fed, permeance[:, -1], self.grid.area[:, -1])
        driving[:, 0] = cells[:, 0] + outer_share * (offered[0] - cells[:, 0])
        driving[:, -1] = cells[:, -1] + inner_share * (offered[1] - cells[:, -1])
        flux = permeance * (driving[:, :-1] - driving[:, 1:])
        free = carbon_wt <= saturation[:, None]
        mobility = diffusivity[:, 1:-1] * np.where(free, 1.0, _FROZEN_MOBILITY)
        carbide = carbon_wt[:, 0] - cells[:, 0], carbon_wt[:, -1] - cells[:, -1]
        surfaces = driving[:, 0] + carbide[0], driving[:, -1] + carbide[1]
        net = flux[:, :-1] - flux[:, 1:]
        return Fluxes(net, flux[:, 0], -flux[:, -1], mobility, outer_share, inner_share, *surfaces)

    def _guessed_surfaces(
        self, cells: Array, moment: Moment, offered: tuple[Array, Array]
    ) -> tuple[Array, Array]:
        """Return surface carbon good enough to take the half cells' D at: the profile run on to the face."""
        faces, centres = self.grid.faces_m, self.grid.centres_m
        lever = (centres[:, 0] - faces[:, 0]) / (centres[:, 1] - centres[:, 0])
        inner_lever = (faces[:, -1] - centres[:, -1]) / (centres[:, -1] - centres[:, -2])
        outer = _run_on(cells[:, 0], cells[:, 1], lever, moment.outer[0], offered[0])
        inner = _run_on(cells[:, -1], cells[:, -2], inner_lever, moment.inner[0], offered[1])
        return outer, inner


def _run_on(first: Array, second: Array, lever: Array, transfer: Array, offered: Array) -> Array:
    """Return two cells' straight continuation to the face, kept between the cell and what is offered."""
    guess = first + lever * (first - second)
    low, high = np.minimum(first, offered), np.maximum(first, offered)
    guess = np.minimum(np.maximum(guess, low), high)
    return np.where(transfer > _FREE_TRANSFER, offered, guess)


def _share(transfer: Array, permeance: Array, area: Array) -> Array:
    """Return transfer / (transfer + half cell's permeance), 0 for a sealed face and 1 for a held one."""
    through = np.minimum(transfer, _FREE_TRANSFER) * area
    total = through + permeance
    return np.divide(through, total, out=np.zeros_like(total), where=total > 0.0)
