"""Case at a corner or a thin edge, where carbon comes from both sides and runs deeper than on a flat face."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf, erfinv, ive

from model.errors import NotPossible
from model.ranges import Range, check

Array = NDArray[np.float64]

EDGE_ANGLE_DEG: Final = Range(
    15.0,
    345.0,
    "deg",
    "Give the angle of the steel: 90 for a square corner, 30 for a blade, 270 inside a slot.",
)
_TERMS: Final = 60
_FLAT_END: Final = 4.0
"""Distance from a face over 2 sqrt(D t) at which nothing has come in: erf(4) lacks 2e-8."""
_THIN: Final = np.geomspace(0.02, 20.0, 400)
"""Half thicknesses over 2 sqrt(D t) at which the slab is kept."""


@dataclass(frozen=True)
class EdgeDepth:
    """How deep the case goes at an edge; arrays of the shape of the face's depth.

    from_tip_m : from the sharp tip along the middle of the edge to the limit [m]
    square_m : from that point square to the nearer face [m], to be held against the depth on a flat face
    through_m : thickness of a thin flat part that the limit crosses right through, fed from both sides [m]
    """

    from_tip_m: Array
    square_m: Array
    through_m: Array


def edge_depth(face_depth_m: Array, limit_share: Array, angle_deg: float = 90.0) -> EdgeDepth:
    """Depth of the case at an edge, from its depth on a flat face.

    face_depth_m : any shape, depth to a limit on a flat face [m]
    limit_share : broadcasting, (limit - core) / (surface - core) in carbon [-], above 0 and below 1
    angle_deg : angle of the steel at the edge, `EDGE_ANGLE_DEG`; above 180 an inside corner
    Returns `EdgeDepth`. Raises OutOfRange for the angle, NotPossible for a share at or beyond its ends.
    Source: constant diffusivity and a surface held at one carbon, so a bounded estimate: a pack that
    cannot keep up, or a rounded tip, gives less. Square corner: product of error functions; any angle: the
    wedge's own series (Carslaw & Jaeger, Conduction of Heat in Solids, 1959, from memory); thin part: slab.
    """
    check("angle_deg", angle_deg, EDGE_ANGLE_DEG)
    share = np.asarray(limit_share, dtype=float)
    if not np.all((share > 0.0) & (share < 1.0)):
        what = "the limit does not lie between the carbon of the core and of the surface"
        raise NotPossible("limit", what, "Ask for a depth that the flat face has.")
    spread_m = face_depth_m / erfinv(1.0 - share)
    tip = np.interp(1.0 - share, *_wedge_table(angle_deg)) * spread_m
    half_angle = np.radians(min(0.5 * angle_deg, 90.0))
    through = 2.0 * np.interp(1.0 - share, *_slab_table()) * spread_m
    return EdgeDepth(np.asarray(tip), np.asarray(tip * np.sin(half_angle)), np.asarray(through))


def unfilled_corner(first: Array | float, second: Array | float) -> Array:
    """Share of the rise that a square corner still lacks.

    first, second : distances from its two faces over 2 sqrt(D t), broadcasting [-]
    Returns erf times erf [-]. Source: product solution, exact for constant diffusivity (Carslaw & Jaeger).
    """
    return np.asarray(erf(first) * erf(second))


def unfilled_wedge(from_tip: Array, angle_deg: float) -> Array:
    """Share of the rise that the middle line of a wedge still lacks.

    from_tip : distance from the tip over 2 sqrt(D t), any shape, 0 or more [-]; angle_deg : `EDGE_ANGLE_DEG`
    Returns the same shape [-], 0 at the tip.
    Source: integral of the wedge's Green function (Carslaw & Jaeger 1959, from memory); it is erf on a flat
    face and `unfilled_corner` at 90 degrees, which the tests hold.
    """
    opening = np.radians(angle_deg)
    argument = 0.5 * np.asarray(from_tip, dtype=float)[..., None] ** 2
    odd = np.arange(1, 2 * _TERMS, 2)
    order = odd * np.pi / opening
    bessel = ive(0.5 * (order - 1.0), argument) + ive(0.5 * (order + 1.0), argument)
    series = np.sum(np.sin(0.5 * odd * np.pi) / odd * bessel, axis=-1)
    return np.asarray(2.0 * np.sqrt(2.0 * argument[..., 0] / np.pi) * series)


def unfilled_slab(half_thickness: Array) -> Array:
    """Share of the rise that the middle of a slab fed from both sides still lacks.

    half_thickness : over 2 sqrt(D t), any shape, above 0 [-]
    Returns the same shape [-]. Source: Fourier series of the slab (Carslaw & Jaeger), exact.
    """
    odd = np.arange(1, 2 * _TERMS, 2)
    decay = np.exp(-(((0.25 * odd * np.pi) / np.asarray(half_thickness, dtype=float)[..., None]) ** 2))
    return np.asarray(4.0 / np.pi * np.sum(np.sin(0.5 * odd * np.pi) / odd * decay, axis=-1))


@cache
def _wedge_table(angle_deg: float) -> tuple[Array, Array]:
    """Return what the wedge lacks, rising, and where."""
    farthest = _FLAT_END / np.sin(np.radians(min(0.5 * angle_deg, 90.0)))
    from_tip = np.geomspace(1e-3, farthest, 600)
    return np.maximum.accumulate(unfilled_wedge(from_tip, angle_deg)), from_tip


@cache
def _slab_table() -> tuple[Array, Array]:
    """Return what the slab's middle lacks, rising, and at which half thickness."""
    return np.maximum.accumulate(unfilled_slab(_THIN)), _THIN
