"""A carbon profile, and the depth at which it falls to a given carbon."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from model.grid import Grid

Array = NDArray[np.float64]

_LEAST_SLOPE_wt_per_m = 20.0
"""Slope used for `signed_depth_at_carbon` where the profile is flatter [wt%/m]: 0.02 wt% a millimetre, well
below any case's, so that the extrapolated depth stays finite (own choice)."""


class DepthStatus(StrEnum):
    """Whether a profile falls through a carbon content."""

    FOUND = "found"
    NONE = "none"
    WHOLE_SECTION = "whole_section"


@dataclass(frozen=True)
class CarbonProfile:
    """Carbon of M members after some stretch of a process.

    grid : the cells; carbon_wt : (M, n) total carbon of each cell [wt%]
    surface_carbon_wt, inner_surface_carbon_wt : (M,) total carbon at the outer face, and at the
        middle or bore [wt%]
    gained_outer_kg_per_m2, gained_inner_kg_per_m2 : (M,) net gain through each face, per area of that face,
        since the start of the solve [kg/m2]
    """

    grid: Grid
    carbon_wt: Array
    surface_carbon_wt: Array
    inner_surface_carbon_wt: Array
    gained_outer_kg_per_m2: Array
    gained_inner_kg_per_m2: Array

    @property
    def depth_m(self) -> Array:
        """Depth of the cell centres from the outer face, (M, n) [m]."""
        return np.broadcast_to(self.grid.centres_m, self.carbon_wt.shape)

    @property
    def gained_kg_per_m2(self) -> Array:
        """Net gain per fed area, (M,) [kg/m2]."""
        inner_area = self.grid.area[:, -1] * self.grid.inner_fed
        total = self.gained_outer_kg_per_m2 + inner_area * self.gained_inner_kg_per_m2
        return total / (1.0 + inner_area)

    def nodes(self) -> tuple[Array, Array]:
        """Return depth [m] and carbon [wt%] with both faces added, each (M, n + 2)."""
        depth = np.concatenate(
            [self.grid.faces_m[:, :1], self.grid.centres_m, self.grid.faces_m[:, -1:]], axis=1
        )
        carbon = [self.surface_carbon_wt[:, None], self.carbon_wt, self.inner_surface_carbon_wt[:, None]]
        joined = np.concatenate(carbon, axis=1)
        return np.broadcast_to(depth, joined.shape), joined

    def profile_on(self, depth_m: Array) -> Array:
        """Return carbon at chosen depths, straight between cell centres and faces.

        depth_m : (k,) for all members or (M, k) [m]; beyond the section it takes the last value
        returns : (M, k) total carbon [wt%]
        source : linear interpolation
        """
        depth, carbon = self.nodes()
        through = self.grid.through_m[:, None]
        wanted = np.broadcast_to(np.clip(depth_m / through, 0.0, 1.0), (len(carbon), np.shape(depth_m)[-1]))
        # one call for all members: each has a lane of its own on one long axis
        lane = 2.0 * np.arange(len(carbon))[:, None]
        flat: Array = np.interp((wanted + lane).ravel(), (depth / through + lane).ravel(), carbon.ravel())
        return flat.reshape(wanted.shape)


def depth_at_carbon(profile: CarbonProfile, carbon_wt: Array | float) -> tuple[Array, NDArray[np.str_]]:
    """Return the depth at which each profile first falls to a carbon content, and whether it does.

    carbon_wt : one value or (M,) [wt%]
    returns : (M,) depth from the outer face [m], 0 where `none`, the whole depth where `whole_section`;
        (M,) a `DepthStatus` each
    source : linear interpolation between cell centres
    """
    found, none, depth = _first_fall(profile, carbon_wt)
    status = np.select(
        [none, found], [DepthStatus.NONE.value, DepthStatus.FOUND.value], DepthStatus.WHOLE_SECTION.value
    )
    return np.where(none, 0.0, np.where(found, depth, profile.grid.through_m)), status


def signed_depth_at_carbon(profile: CarbonProfile, carbon_wt: Array | float) -> Array:
    """Return the depth at a carbon content, continued past both ends so that it always has a derivative.

    carbon_wt : one value or (M,) [wt%]
    returns : (M,) depth [m]; negative where the surface is below the carbon, beyond the middle where all
        is above it
    source : straight line along the surface's slope outward, and along the profile's mean slope inward
    """
    found, none, depth = _first_fall(profile, carbon_wt)
    nodes_m, nodes_wt = profile.nodes()
    surface_slope = (nodes_wt[:, 0] - nodes_wt[:, 1]) / (nodes_m[:, 1] - nodes_m[:, 0])
    outward = (nodes_wt[:, 0] - carbon_wt) / np.maximum(surface_slope, _LEAST_SLOPE_wt_per_m)
    through = profile.grid.through_m
    mean_slope = (nodes_wt[:, 0] - nodes_wt[:, -1]) / through
    inward = through + (nodes_wt[:, -1] - carbon_wt) / np.maximum(mean_slope, _LEAST_SLOPE_wt_per_m)
    return np.where(none, outward, np.where(found, depth, inward))


def _first_fall(
    profile: CarbonProfile, carbon_wt: Array | float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], Array]:
    """Return where a crossing exists, where the surface is already below, and the depth of the crossing."""
    depth, carbon = profile.nodes()
    excess = carbon - np.reshape(np.asarray(carbon_wt, dtype=np.float64), (-1, 1))
    below = excess < 0.0
    found = below.any(axis=1)
    inner = np.maximum(np.argmax(below, axis=1), 1)
    row = np.arange(len(carbon))
    high, low = excess[row, inner - 1], excess[row, inner]
    share = high / np.where(high > low, high - low, 1.0)
    outer_m = depth[row, inner - 1]
    return found & ~below[:, 0], below[:, 0], outer_m + share * (depth[row, inner] - outer_m)
