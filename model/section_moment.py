"""Moment of a bent section whose hardness changes with depth: plate, rod and tube as rows of fibres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.process import Section, Shape
from model.traverse import interpolate_rows

Array = NDArray[np.float64]

YOUNG_MODULUS_PA: Final = 207e9
"""Young's modulus of steel [Pa]; 206.8 GPa stands in an open strain-life file of a carburized 8615, seen."""
RINGS: Final = 32
"""Layers between the face and the middle or bore; thin at the face, held by a convergence test."""
ANGLES: Final = 12
"""Fibres of one ring over half a turn."""
LEAST_HARDNESS_HV: Final = 80.0
"""Hardness below which the strength line is held [HV]: soft iron; the line ends near 32 HV."""
TENTH: Final = 0.1
"""Strain at which the tensile strength fixes the true stress [-]: own choice, near the uniform strain."""


@dataclass(frozen=True)
class Fibres:
    """A section as fibres along its length, lowest first.

    height_m : (N,) above the middle line; area_m2 : (N,) of each, for a plate per metre of width [m]
    ring : (N,) which ring each lies in
    depth_m : (rings,) middle of the rings below the face; edge_m : (rings + 1,) their edges
    ring_area_m2 : (rings,) area of each
    half_height_m : middle to the outermost face; wall_m : face to middle, or to the bore of a tube
    """

    height_m: Array
    area_m2: Array
    ring: NDArray[np.intp]
    depth_m: Array
    edge_m: Array
    ring_area_m2: Array
    half_height_m: float
    wall_m: float


def fibres_of(section: Section, rings: int = RINGS, angles: int = ANGLES) -> Fibres:
    """Cut a section into fibres.

    section : plate (per metre of width), rod or tube; rings, angles : how finely
    Returns the fibres, whose elastic stiffness is that of the section exactly.
    Source: geometry; ring radii are root mean squares, so that the second moment is exact.
    """
    half = 0.5 * section.size_m
    wall = half - 0.5 * section.bore_m
    share = np.linspace(0.0, 1.0, rings + 1)
    edge = wall * (0.5 - 0.5 * np.cos(np.pi * share) if section.bore_packed else share**2)
    outer, inner = half - edge[:-1], half - edge[1:]
    if section.shape is Shape.PLATE:
        level = np.sqrt((outer**2 + outer * inner + inner**2) / 3.0)
        height, area = np.stack([level, -level]), np.stack([outer - inner] * 2)
        ring_area = 2.0 * (outer - inner)
    else:
        turn = np.pi * ((np.arange(angles) + 0.5) / angles - 0.5)
        ring_area = np.pi * (outer**2 - inner**2)
        height = np.sin(turn)[:, None] * np.sqrt(0.5 * (outer**2 + inner**2))
        area = np.broadcast_to(ring_area / angles, height.shape)
    order = np.argsort(height, axis=None, kind="stable")
    ring = np.broadcast_to(np.arange(rings), height.shape).ravel()[order]
    depth = 0.5 * (edge[:-1] + edge[1:])
    return Fibres(height.ravel()[order], area.ravel()[order], ring, depth, edge, ring_area, half, wall)


@dataclass(frozen=True)
class Strength:
    """Stress of each ring against strain: elastic, then a power of the strain; arrays (draws, rings).

    yield_Pa : where it leaves the elastic line; power : exponent beyond it [-]
    flow_Pa : true stress at a strain of 0.1
    """

    yield_Pa: Array
    power: Array
    flow_Pa: Array

    def stress(self, strain: Array) -> Array:
        """Stress at a strain of 0 or more, (draws, rings) [Pa]."""
        relative = np.asarray(strain * YOUNG_MODULUS_PA / self.yield_Pa)
        # a power is dear, and most of a section stays elastic
        np.power(relative, self.power, out=relative, where=relative > 1.0)
        return np.asarray(self.yield_Pa * relative)

    def strain(self, stress_Pa: Array) -> Array:
        """Strain at a stress of 0 or more, (draws, rings) [-]; undoes `stress`."""
        relative = stress_Pa / self.yield_Pa
        beyond = np.maximum(relative, 1.0) ** (1.0 / self.power)
        return np.asarray(np.where(relative < 1.0, relative, beyond) * self.yield_Pa / YOUNG_MODULUS_PA)


def strength_pavlina_van_tyne_2008(
    hardness_HV: Array, yield_factor: Array | float = 1.0, tensile_factor: Array | float = 1.0
) -> Strength:
    """Strength of a steel from its hardness.

    hardness_HV : (draws, rings) [HV]; 130 to 620 in the paper, carried on in a straight line above
    yield_factor, tensile_factor : (draws, 1) or one, what this steel differs from the line by [-]
    Returns `Strength`; at least a hundredth of hardening is kept.
    Source: Pavlina & Van Tyne, J. Mater. Eng. Perform. 17 (2008) 888: yield = 2.876 HV - 90.7 and
    tensile = 3.734 HV - 99.8 MPa; abstract seen (300 to 1700 MPa yield), coefficients from memory. The
    power law through yield and through 1.1 times the tensile strength at a strain of 0.1 is our own.
    """
    hardness = np.maximum(hardness_HV, LEAST_HARDNESS_HV)
    yields = 1e6 * (2.876 * hardness - 90.7) * yield_factor
    flow = np.maximum(1e6 * (3.734 * hardness - 99.8) * tensile_factor * (1.0 + TENTH), 1.01 * yields)
    power = np.log(flow / yields) / np.log(TENTH * YOUNG_MODULUS_PA / yields)
    return Strength(yields, power, flow)


def moment(fibres: Fibres, strength: Strength, curvature_per_m: Array) -> Array:
    """Moment of the sound section at a curvature of its middle line.

    curvature_per_m : (draws, k), 0 or more [1/m]
    Returns (draws, k) [N m], for a plate per metre of width [N].
    Source: plane sections stay plane; strain is curvature times height, which holds at any bend.
    """
    upper = fibres.height_m > 0.0
    ring, lever = fibres.ring[upper], (fibres.height_m * fibres.area_m2)[upper]
    own = Strength(*(part[:, None, ring] for part in (strength.yield_Pa, strength.power, strength.flow_Pa)))
    stress = own.stress(curvature_per_m[:, :, None] * fibres.height_m[upper])
    return np.asarray(2.0 * stress @ lever)


@dataclass(frozen=True)
class Remainder:
    """What is left of a section under a crack; arrays (draws,).

    moment : most it carries [N m], for a plate per metre of width [N]
    lever_m : crack tip to the line that neither stretches nor shortens; height_m : crack tip to the far face
    """

    moment: Array
    lever_m: Array
    height_m: Array


def remainder(fibres: Fibres, flow_Pa: Array, crack_m: Array) -> Remainder:
    """Most that a section carries once the case of its stretched side has cracked.

    flow_Pa : (draws, rings) stress at which each ring flows; crack_m : (draws,) depth of the crack [m]
    Returns `Remainder`. What lies less deep than the crack pushes but no longer pulls, all round a rod.
    Source: limit analysis: all of it flows, and what pulls equals what pushes.
    """
    pushes = flow_Pa[:, fibres.ring] * fibres.area_m2
    sound = np.clip((fibres.edge_m[1:] - crack_m[:, None]) / np.diff(fibres.edge_m), 0.0, 1.0)
    pulls = pushes * sound[:, fibres.ring]
    heights = np.broadcast_to(fibres.height_m, pushes.shape)
    both = pushes + pulls
    still_m = interpolate_rows(pulls.sum(axis=1, keepdims=True), _up_to(both), heights)
    turning = interpolate_rows(still_m, fibres.height_m, _up_to(both * fibres.height_m))[:, 0]
    tip_m = fibres.half_height_m - crack_m
    carried = pulls @ fibres.height_m - turning
    return Remainder(carried, tip_m - still_m[:, 0], tip_m + fibres.half_height_m)


def _up_to(values: Array) -> Array:
    """Return the sum of each row up to the middle of each fibre."""
    return np.asarray(np.cumsum(values, axis=1) - 0.5 * values)
