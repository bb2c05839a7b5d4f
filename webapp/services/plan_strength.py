"""A question about the hardened part: does it bend or snap."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from model.bending import CORE_HV, Bend, bend, deeper_case
from model.bending_constants import bending_constants
from webapp.services.plan_figures import BlowFigures
from webapp.services.plan_sums import Settled

ASKED_DEG = 30.0
SPAN_SIZES = 10.0  # where no length is known the bar is taken to be held over so many thicknesses
BLOWS = ("bending", "impact")


def blow_figures(settled: Settled, duties: Collection[str], length_m: float | None) -> BlowFigures | None:
    """Return what a bend does to a part that must stand one; None where none is asked or no skin is hard."""
    face, grind_m = settled.drawn_face, settled.goal.grinding_allowance_m
    whole = settled.process.section
    section = replace(whole, size_m=whole.size_m - 2.0 * grind_m)
    is_solid = section.size_m > section.bore_m
    if face.hardness_HV is None or not is_solid or not set(BLOWS) & set(duties):
        return None
    if np.median(face.hardness_HV[:, 0]) < CORE_HV:
        return None
    span_is_known = length_m is not None and length_m > section.size_m
    span_m = length_m if length_m is not None and span_is_known else SPAN_SIZES * section.size_m
    constants, how = bending_constants(len(face.hardness_HV)), Bend(span_m)
    bent = bend(section, face.depth_m, face.hardness_HV, constants, how)
    trend = deeper_case(section, face.depth_m, face.hardness_HV, constants, how)
    odds = bent.odds(ASKED_DEG)
    return BlowFigures(
        asked_deg=ASKED_DEG,
        span_m=span_m,
        span_is_known=span_is_known,
        bends=odds["bent"],
        cracks=odds["cracked"],
        snaps=odds["snapped"],
        from_flaw=float(bent.from_flaw.mean()),
        reason=trend.reason,
        angle_more_deg=trend.first_crack_deg,
        snaps_more=trend.snaps_at_crack,
    )
