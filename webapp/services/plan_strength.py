"""A question about the hardened part: does it bend or snap."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.bending import Bend, Bent, bend, deeper_case
from model.bending_constants import bending_constants
from model.breaking import CORE_HV
from model.process import Section
from model.wants import Blow
from webapp.services.plan_figures import BlowFigures
from webapp.services.plan_sums import Foretold

Array = NDArray[np.float64]

ASKED_DEG = 30.0
SPAN_SIZES = 10.0  # where no length is known the bar is taken to be held over so many thicknesses
BLOWS = ("bending", "impact")


def blow_of(
    section: Section, duties: Collection[str], length_m: float | None, grind_m: float = 0.0
) -> Blow | None:
    """Return the bend that stands for a blow; None where none is asked or no steel is left to bend."""
    size_m = section.size_m - 2.0 * grind_m
    if size_m <= section.bore_m or not set(BLOWS) & set(duties):
        return None
    is_known = length_m is not None and length_m > size_m
    return Blow(Bend(length_m if length_m is not None and is_known else SPAN_SIZES * size_m), ASKED_DEG)


def angles_at_break(settled: Foretold, blow: Blow) -> Array:
    """Return the angle at which each draw of a hardened part breaks [deg]."""
    return _bent(settled, blow).final_deg


def _bent(settled: Foretold, blow: Blow) -> Bent:
    """Return what a bend does to each draw, kept with the answer: more than one question asks it."""
    kept = settled.bends
    if blow.how not in kept:
        face_HV = _hardness(settled)
        section, constants = _ground(settled), bending_constants(len(face_HV))
        kept[blow.how] = bend(section, settled.drawn_face.depth_m, face_HV, constants, blow.how)
    return kept[blow.how]


def _hardness(settled: Foretold) -> Array:
    face_HV = settled.drawn_face.hardness_HV
    assert face_HV is not None  # who asks what a bend does has seen that the part hardened
    return face_HV


def _ground(settled: Foretold) -> Section:
    whole, grind_m = settled.process.section, settled.goal.grinding_allowance_m
    return replace(whole, size_m=whole.size_m - 2.0 * grind_m)


def blow_figures(settled: Foretold, duties: Collection[str], length_m: float | None) -> BlowFigures | None:
    """Return what a bend does to a part that must stand one; None where none is asked or no skin is hard."""
    face = settled.drawn_face
    blow = blow_of(settled.process.section, duties, length_m, settled.goal.grinding_allowance_m)
    if blow is None or face.hardness_HV is None or np.median(face.hardness_HV[:, 0]) < CORE_HV:
        return None
    bent, constants = _bent(settled, blow), bending_constants(len(face.hardness_HV))
    trend = deeper_case(_ground(settled), face.depth_m, face.hardness_HV, constants, blow.how, bent)
    odds = bent.odds(ASKED_DEG)
    return BlowFigures(
        asked_deg=ASKED_DEG,
        span_m=blow.how.span_m,
        span_is_known=blow.how.span_m == length_m,
        bends=odds["bent"],
        cracks=odds["cracked"],
        snaps=odds["snapped"],
        from_flaw=float(bent.from_flaw.mean()),
        reason=trend.reason,
        angle_more_deg=trend.first_crack_deg,
        snaps_more=trend.snaps_at_crack,
    )
