"""Sections as the carbon solver sees them: nodes on one line, what links them, and room to work in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import Diffusivity
from model.grid import Grid
from model.line import Line

Array = NDArray[np.float64]
Saturation = Callable[[Array], Array]


@dataclass(frozen=True)
class Room:
    """Arrays that flows are worked in, for on many members fresh memory costs more than the sums in it.

    net, mobility : of the flow, good until the next one in this room; driving, spare : (N,); flux : (N + 1,)
    """

    net: Array
    mobility: Array
    driving: Array
    spare: Array
    flux: Array

    @classmethod
    def of(cls, nodes: int) -> Room:
        """Return room for so many nodes."""
        return cls(np.empty(nodes), np.empty(nodes), np.empty(nodes), np.empty(nodes), np.zeros(nodes + 1))


@dataclass(frozen=True)
class Transport:
    """Diffusion in the cells of M members, with a diffusivity and a saturation line.

    line : their nodes; volume_m : (N,) of the cells over the outer area, 1 at faces
    half_conductance : (N + 1,) half of area over distance of each link [1/m]
    area : (2M,) of the faces over the outer one's, 0 where nothing can reach it [-]
    lever : (2M,) distance face to end cell over end cell to neighbour [-]
    rooms : to work in, for both stages of a step and its matrix
    """

    line: Line
    diffusivity: Diffusivity
    saturation_wt: Saturation
    volume_m: Array
    half_conductance: Array
    area: Array
    lever: Array
    rooms: tuple[Room, Room, Room]

    @classmethod
    def on(cls, grid: Grid, members: int, diffusivity: Diffusivity, saturation_wt: Saturation) -> Transport:
        """Return the transport of so many members on a grid."""
        line = Line.of(members, grid.volume_m.shape[1])
        depth = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        gaps, nodes = np.diff(depth, axis=1), members * depth.shape[1]
        return cls(
            line,
            diffusivity,
            saturation_wt,
            volume_m=line.laid(grid.volume_m, 1.0),
            half_conductance=line.linked(0.5 * grid.area / gaps),
            area=line.both(grid.area[:, 0], grid.area[:, -1] * grid.inner_fed)[0],
            lever=line.both(gaps[:, 0] / gaps[:, 1], gaps[:, -1] / gaps[:, -2])[0],
            rooms=(Room.of(nodes), Room.of(nodes), Room.of(nodes)),
        )

    @cached_property
    def twice_volume_m(self) -> Array:
        """Twice the volume of the nodes, (N,) [m]."""
        return 2.0 * self.volume_m
