"""Sections as the carbon solver sees them: nodes on one line, what links them, and room to work in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from model.diffusivity import Diffusivity
from model.grid import Grid
from model.line import DOUBLE, Line, Precision
from model.tridiagonal import Chain, Columns, Systems

Array = NDArray[np.float64]
Saturation = Callable[[Array], Array]


GAMMA = 1.0 - 0.5**0.5
"""The root of ROS2 that gives L-stability and the smaller error (`implicit`)."""
PACK_VOLUME_m = 2.0**60
"""Volume of the pack at a face over that face [m]: so vast that its carbon answers to nothing."""


class Room:
    """Arrays that flows are worked in, for on many members fresh memory costs more than the sums in it.

    What a flow leaves here is good until the next one; of nodes or links as `Line` lays them:
    net : into each node over a whole stretch at the pace of one moment [wt% m over the outer area]
    mobility : diffusivity at each node, over its factor [-]
    share : (2M,) part of offered less end cell that lies across the half cell [-]
    driving, spare : of nodes; flux : of links; the rest are parts of these, cut out once
    """

    def __init__(self, line: Line) -> None:
        """Make room for a line."""
        self.net, self.mobility, self.driving, self.spare = (line.room() for _ in range(4))
        self.flux, self.share = line.room(1), np.zeros(2 * line.members, line.precision)
        self.driving_before, self.driving_after = self.driving[:-1], self.driving[1:]
        self.mobility_before, self.mobility_after = self.mobility[:-1], self.mobility[1:]
        self.comes, self.leaves, self.inside = self.flux[:-1], self.flux[1:], self.flux[1:-1]
        self.fall = self.spare[:-1]
        self.driving_flat, self.flux_flat = self.driving.ravel(), self.flux.ravel()


class MatrixRoom:
    """Arrays that a step's matrix is worked in, as `Line` lays them.

    diagonal : of nodes; links : off it, with those before the first nodes and after the last, and parts
    pace : volume over the step [m]; a pack's is vast, so no cell answers to what its face has taken up
    systems : which solve it
    less_reach, half : -2 gamma and a half, as arrays without a dimension: quicker than plain numbers
    """

    def __init__(self, line: Line) -> None:
        """Make room for a line."""
        self.diagonal, self.pace, self.links = line.room(), line.room(), line.room(1)
        self.before, self.after, self.inside = self.links[:-1], self.links[1:], self.links[1:-1]
        self.links_flat = self.links.ravel()
        columns = line.members, line.cells + 2, line.precision
        self.systems: Systems = Columns(*columns) if line.is_wide else Chain(line.precision)
        self.less_reach, self.half = (np.array(number, line.precision) for number in (-2.0 * GAMMA, 0.5))


@dataclass(frozen=True)
class Laid:
    """The cells of M sections laid out as nodes of a line.

    volume_m : of the cells over the outer area, and of the packs at their faces
    half_per_m : half of area over distance of links between nodes, 0 to a face that nothing can reach [1/m]
    area : (2M,) of the faces over the outer one's, 0 where nothing can reach it [-]
    lever : (2M,) distance face to end cell over end cell to neighbour [-]
    """

    line: Line
    volume_m: Array
    half_per_m: Array
    area: Array
    lever: Array

    @classmethod
    def of(cls, grid: Grid, members: int, precision: Precision = DOUBLE) -> Laid:
        """Return so many members on a grid; one alone is kept with its grid, as it is asked for all day."""
        return _one_laid(grid, precision) if members == 1 else cls._of(grid, members, precision)

    @classmethod
    def _of(cls, grid: Grid, members: int, precision: Precision) -> Laid:
        line = Line.of(members, grid.volume_m.shape[1], precision)
        depth = np.concatenate([grid.faces_m[:, :1], grid.centres_m, grid.faces_m[:, -1:]], axis=1)
        gaps, area = np.diff(depth, axis=1), grid.area.copy()
        area[:, -1] *= grid.inner_fed
        return cls(
            line,
            volume_m=line.laid(grid.volume_m, PACK_VOLUME_m),
            half_per_m=line.linked(0.5 * area / gaps),
            area=line.both(area[:, 0], area[:, -1])[0],
            lever=line.both(gaps[:, 0] / gaps[:, 1], gaps[:, -1] / gaps[:, -2])[0],
        )

    @cached_property
    def fed(self) -> list[tuple[int, int, int, int, int, float]]:
        """Of each face that anything can reach: place, node, both cells, link and lever, as plain numbers."""
        line = self.line
        of_all = line.faces, line.ends, line.beyond, line.end_links, self.lever, self.area
        columns = [each.tolist() for each in of_all]
        return [(place, *face[:5]) for place, face in enumerate(zip(*columns, strict=True)) if face[5]]


@lru_cache(maxsize=256)
def _one_laid(grid: Grid, precision: Precision) -> Laid:
    return Laid._of(grid, 1, precision)


@dataclass(frozen=True)
class Transport:
    """Diffusion in the cells of M members, with a diffusivity and a saturation line.

    rooms, matrix_room : to work in, for both stages of a step and its matrix
    """

    laid: Laid
    diffusivity: Diffusivity
    saturation_wt: Saturation
    rooms: tuple[Room, Room]
    matrix_room: MatrixRoom

    @classmethod
    def on(
        cls,
        grid: Grid,
        members: int,
        diffusivity: Diffusivity,
        saturation_wt: Saturation,
        precision: Precision = DOUBLE,
    ) -> Transport:
        """Return the transport of so many members on a grid, worked in a precision."""
        laid = Laid.of(grid, members, precision)
        rooms = Room(laid.line), Room(laid.line)
        return cls(laid, diffusivity, saturation_wt, rooms, MatrixRoom(laid.line))

    @property
    def line(self) -> Line:
        """The line that the members' nodes lie on."""
        return self.laid.line
