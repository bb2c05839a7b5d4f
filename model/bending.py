"""Does a hard case on a tough core bend, crack in the case, or snap.

The section is bent until its case cracks, by strain or from a flaw; then the crack stops or runs through,
and what is left carries the moment on or does not.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.bending_constants import BendingConstants
from model.breaking import CORE_HV, breaking_strain, flaw_stress, toughness_of_hardness
from model.errors import NotPossible
from model.process import Section, Shape
from model.section_moment import (
    TENTH,
    YOUNG_MODULUS_PA,
    Fibres,
    Remainder,
    Strength,
    fibres_of,
    moment,
    remainder,
    strength_pavlina_van_tyne_2008,
)
from model.traverse import depth_of_fall, interpolate_rows

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
TrendReason = Literal["less_compression", "bend_spreads_further", "no_change"]

_BENT: Final = np.polynomial.Polynomial([1.12, -1.39, 7.32, -13.1, 14.0])
_PULLED: Final = np.polynomial.Polynomial([1.12, -0.231, 10.55, -21.72, 30.39])
"""Shape factors of an edge crack in a bent bar and in a pulled wall against crack depth over thickness [-];
Gross & Srawley 1965 and the same handbook, both from memory, to a depth of 0.6."""
DEEPEST_CRACK: Final = 0.6
"""Crack depth over thickness beyond which it counts as through [-]: the end of the shape factors."""
FULL_MISFIT_HV: Final = 400.0
"""Rise from core to skin from which the case's swelling presses it in full [HV]; judgement."""
_GAUSS, _WEIGHT = np.polynomial.legendre.leggauss(5)
HALF_TURN_DEG: Final = 180.0
AT_ONCE: Final = 100
"""Draws bent as one array: their fibres fit a processor's cache, where more take twice as long each."""
DEEPER: Final = 1.1
"""How much deeper a case is made to learn the trend [-]."""
LEAST_TREND: Final = 1e-3
"""Relative change of the first-crack angle that counts as none [-]."""


@dataclass(frozen=True)
class Bend:
    """How a bar is held: bent at mid-span between two supports, or at a clamp by its free end.

    span_m : support to support, or clamp to force [m]; cantilever : the second
    """

    span_m: float
    cantilever: bool = False

    def force(self, moment_Nm: Array) -> Array:
        """Force at a moment [N], for a plate per metre of width."""
        return moment_Nm * (1.0 if self.cantilever else 4.0) / self.span_m


@dataclass(frozen=True)
class Bent:
    """What a bend does; arrays (draws,), moments and forces of a plate per metre of width.

    first_crack_deg : angle between the two halves, or at the free end; first_crack_N : the force then
    first_crack_radius_m : inside radius of the bend at that place; first_crack_Nm : the moment there
    from_flaw : it started at a flaw, otherwise the case was stretched too far
    crack_m : depth to which the crack runs at once; stopped : it stops within the section
    holds : it stops and the rest carries the moment on; final_deg : angle at which the bar breaks
    """

    first_crack_deg: Array
    first_crack_N: Array
    first_crack_radius_m: Array
    first_crack_Nm: Array
    from_flaw: Flags
    crack_m: Array
    stopped: Flags
    holds: Flags
    final_deg: Array

    def odds(self, asked_deg: float) -> dict[str, float]:
        """Return the odds of bent, cracked and snapped when bent to an angle [deg], summing to 1."""
        bent = self.first_crack_deg >= asked_deg
        snapped = ~bent & (self.final_deg < asked_deg)
        shares = {"bent": bent, "cracked": ~bent & ~snapped, "snapped": snapped}
        return {name: float(share.mean()) for name, share in shares.items()}


@dataclass(frozen=True)
class Trend:
    """What a case a tenth deeper at the same skin and core hardness changes, over draws.

    first_crack_deg : middle angle, final_deg : mean angle (of bars that snap and bars that do not), after
        less before [deg]; first_crack_force : middle share by which the force changes
    snaps_at_crack : odds of snapping when the case cracks, after less before
    reason : why the first crack comes sooner or later
    """

    first_crack_deg: float
    final_deg: float
    first_crack_force: float
    snaps_at_crack: float
    reason: TrendReason


@dataclass(frozen=True)
class _Cracked:
    """State at the first crack, (draws,).

    curvature : [1/m]; stress : where it starts [Pa]; from_flaw : it started at a flaw
    flowed : part of the curvature beyond the yield of the steel that cracks [1/m]
    tears : nothing breaks before it has flowed past its strength: it tears as it is bent on, not at once
    """

    curvature: Array
    stress: Array
    from_flaw: Flags
    flowed: Array
    tears: Flags


def outer_strain(thickness_m: Array | float, inside_radius_m: Array | float) -> Array:
    """Strain of the outer face of a bar bent about a radius.

    thickness_m : in the bend's plane [m]; inside_radius_m : of the inner face [m], broadcasting
    Returns t / (2 rho + t) [-]. Source: geometry, exact for a middle line that keeps its length.
    """
    return np.asarray(thickness_m / (2.0 * np.asarray(inside_radius_m) + thickness_m))


def bend(
    section: Section, depth_m: Array, hardness_HV: Array, constants: BendingConstants, how: Bend
) -> Bent:
    """Bend a hardened section until it breaks.

    section : plate, rod or tube; depth_m : (n,) from the outer face to the middle or bore [m]
    hardness_HV : (draws, n) final hardness [HV]; constants : (draws,) or (1,) each; how : span and holding
    Returns `Bent`. Raises NotPossible for a span not longer than the section is thick.
    Source: beam theory with plane sections, fracture mechanics and limit analysis; the constants are wide.
    """
    if how.span_m <= section.size_m:
        what = "the span is not longer than the section is thick"
        raise NotPossible("span", what, "Give the distance between the supports, several thicknesses.")
    fibres = fibres_of(section)
    draws = max(len(hardness_HV), *(len(values) for values in vars(constants).values()))
    bent = []
    for first in range(0, draws, AT_ONCE):
        rows = slice(first, first + AT_ONCE)
        own = BendingConstants(**{name: _some(values, rows) for name, values in vars(constants).items()})
        bent.append(_bend(section, fibres, depth_m, _some(hardness_HV, rows), own, how))
    if len(bent) == 1:
        return bent[0]
    names = [each.name for each in fields(Bent)]
    return Bent(**{name: np.concatenate([getattr(one, name) for one in bent]) for name in names})


def _some(values: Array, rows: slice) -> Array:
    """Return the values of some draws; one for all stays one."""
    return values if len(values) == 1 else values[rows]


def _bend(
    section: Section,
    fibres: Fibres,
    depth_m: Array,
    hardness_HV: Array,
    constants: BendingConstants,
    how: Bend,
) -> Bent:
    """Bend some draws; parameters as `bend`."""
    at = np.broadcast_to(fibres.depth_m, (len(hardness_HV), len(fibres.depth_m)))
    hardness = interpolate_rows(at, depth_m, hardness_HV)
    own = {name: value[:, None] for name, value in vars(constants).items()}
    strength = strength_pavlina_van_tyne_2008(hardness, own["yield_factor"], own["tensile_factor"])
    first = _first_crack(fibres, hardness, strength, own)
    most, along = _angle(fibres, strength, first.curvature, how)
    # what has yielded wraps round whatever bends it, over the length that a hinge has
    wrapped_m = np.minimum(constants.hinge_depths * 2.0 * fibres.half_height_m, how.span_m)
    angle = np.minimum(along + np.degrees(first.flowed * wrapped_m), HALF_TURN_DEG)
    crack, stopped = _run(section, fibres, hardness, first.stress, own)
    rest = remainder(fibres, strength.flow_Pa, crack)
    holds = stopped & (first.tears | (rest.moment >= most))
    tears = breaking_strain(hardness, own).max(axis=1)
    further = _further(rest, most, tears, own["hinge_depths"][:, 0], how)
    final = np.where(holds, np.minimum(angle + further, HALF_TURN_DEG), angle)
    radius = np.maximum(1.0 / first.curvature - fibres.half_height_m, 0.0)
    return Bent(angle, how.force(most), radius, most, first.from_flaw, crack, stopped, holds, final)


def _further(rest: Remainder, most: Array, tears: Array, hinge_depths: Array, how: Bend) -> Array:
    """Return the angle that the cracked bar bends on before its core tears [deg].

    It bends where the moment has passed what cracks the case, and over about a depth at the crack itself,
    until the softest steel tears: the layers between give way to the crack and blunt it.
    """
    cracked_m = how.span_m * (1.0 - np.minimum(most / rest.moment, 1.0))
    hinge_m = np.minimum(hinge_depths * rest.height_m + cracked_m, how.span_m)
    return np.asarray(np.degrees(tears / rest.lever_m * hinge_m))


def _misfit_strain(fibres: Fibres, hardness: Array, compression_Pa: Array) -> Array:
    """Return the strain by which each ring is pressed (above 0) or pulled, in balance over the section."""
    hardest, softest = hardness.max(axis=1, keepdims=True), hardness.min(axis=1, keepdims=True)
    rise = hardest - softest
    swelling = (hardness - softest) / np.maximum(rise, FULL_MISFIT_HV)
    mean = (swelling @ fibres.ring_area_m2 / fibres.ring_area_m2.sum())[:, None]
    return np.asarray(compression_Pa / YOUNG_MODULUS_PA * (swelling - mean))


def _first_crack(fibres: Fibres, hardness: Array, strength: Strength, own: dict[str, Array]) -> _Cracked:
    """Return where the first ring cracks: by its strain, or from a flaw at its own toughness."""
    by_strain = breaking_strain(hardness, own)
    by_flaw = strength.strain(flaw_stress(toughness_of_hardness(hardness, own), own["flaw_m"]))
    breaks = np.minimum(by_strain, by_flaw)
    height = fibres.half_height_m - fibres.depth_m
    curvature = np.maximum(breaks + _misfit_strain(fibres, hardness, own["compression_Pa"]), 1e-6) / height
    at = curvature.argmin(axis=1)
    row = np.arange(len(at))
    from_flaw = (by_flaw < by_strain)[row, at]
    flowed = np.maximum(breaks - strength.yield_Pa / YOUNG_MODULUS_PA, 0.0) / height
    tears = ~from_flaw & (breaks > TENTH).all(axis=1)
    return _Cracked(curvature[row, at], strength.stress(breaks)[row, at], from_flaw, flowed[row, at], tears)


def _angle(fibres: Fibres, strength: Strength, curvature: Array, how: Bend) -> tuple[Array, Array]:
    """Return the moment at a greatest curvature and the angle of the whole bar [deg].

    The moment falls in a straight line to nothing at both supports, or at the free end, so that the angle
    is span / M times the area left of the moment-curvature line.
    """
    points = curvature[:, None] * np.append(0.5 * (1.0 + _GAUSS), 1.0)
    along = moment(fibres, strength, points)
    most = along[:, -1]
    area = most * curvature - 0.5 * curvature * (along[:, :-1] @ _WEIGHT)
    return most, np.minimum(np.degrees(how.span_m * area / most), HALF_TURN_DEG)


def _run(
    section: Section, fibres: Fibres, hardness: Array, stress: Array, own: dict[str, Array]
) -> tuple[Array, Flags]:
    """Return how deep the first crack runs at once, and whether it stops.

    A crack goes through the hard side of the case, half-way down from the hardest to the softest, and on
    until the steel at its tip is tougher than the crack is sharp.
    """
    hardest, softest = hardness.max(axis=1), hardness.min(axis=1)
    case = depth_of_fall(fibres.depth_m, hardness, 0.5 * (hardest + softest))
    cased = case.found & (hardest >= CORE_HV)
    start = np.where(cased, case.depth_m, 0.0)[:, None]
    pulled = section.shape is Shape.TUBE
    whole_m = fibres.wall_m if pulled else 2.0 * fibres.half_height_m
    share = fibres.depth_m / whole_m
    shape = (_PULLED if pulled else _BENT)(np.minimum(share, DEEPEST_CRACK))
    driven = shape * stress[:, None] * np.sqrt(np.pi * fibres.depth_m)
    deep = np.maximum(start, own["flaw_m"])
    spare = toughness_of_hardness(hardness, own) - driven
    stops = (spare >= 0.0) & (fibres.depth_m >= deep) & (share <= DEEPEST_CRACK)
    stopped = np.asarray(stops.any(axis=1))
    depth = np.where(stopped, _crossing(fibres.depth_m, spare, stops.argmax(axis=1)), DEEPEST_CRACK * whole_m)
    return np.clip(depth, np.broadcast_to(deep, (len(depth), 1))[:, 0], fibres.depth_m[-1]), stopped


def _crossing(depth_m: Array, spare: Array, at: NDArray[np.intp]) -> Array:
    """Return where the spare toughness turns positive, between a ring and the one before it."""
    row, before = np.arange(len(at)), np.maximum(at - 1, 0)
    short, over = np.minimum(spare[row, before], 0.0), np.maximum(spare[row, at], 1e-6)
    return np.asarray(depth_m[at] - (depth_m[at] - depth_m[before]) * over / (over - short))


def deeper_case(
    section: Section,
    depth_m: Array,
    hardness_HV: Array,
    constants: BendingConstants,
    how: Bend,
    now: Bent | None = None,
) -> Trend:
    """Find what a case a tenth deeper would change, at the same hardness of skin and core.

    Parameters as `bend`; now : what that gave, where it is known. Returns `Trend`, whose reason is the
    larger of the two things that move the first-crack angle: less core to press the skin, or a stiffer skin
    that spreads the bend along the bar.
    Source: `bend` of the profile stretched by a tenth, same draws.
    """
    squeezed = np.broadcast_to(depth_m / DEEPER, hardness_HV.shape)
    stretched = interpolate_rows(squeezed, depth_m, hardness_HV)
    now = now or bend(section, depth_m, hardness_HV, constants, how)
    then = bend(section, depth_m, stretched, constants, how)
    half = 0.5 * section.size_m
    curved_now, curved_then = (1.0 / (state.first_crack_radius_m + half) for state in (now, then))
    sooner = float(np.median(np.log(curved_then / curved_now)))
    angles = float(np.median(np.log(then.first_crack_deg / now.first_crack_deg)))
    spread = angles - sooner
    reason: TrendReason = "less_compression" if abs(sooner) > abs(spread) else "bend_spreads_further"
    force = np.median(then.first_crack_N / now.first_crack_N)
    return Trend(
        float(np.median(then.first_crack_deg) - np.median(now.first_crack_deg)),
        float(then.final_deg.mean() - now.final_deg.mean()),
        float(force) - 1.0,
        float(now.holds.mean() - then.holds.mean()),
        "no_change" if abs(angles) < LEAST_TREND else reason,
    )
