"""Two questions about the hardened part: which temper gives the wanted hardness, and does it bend or snap."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from model.bending import CORE_HV, Bend, bend, deeper_case
from model.bending_constants import bending_constants
from model.errors import NotPossible
from model.temper_choice import TOLERANCE_HRC, Skin, TemperChoice, choose_temper, temper_draws
from webapp.services.plan_face import at_depths
from webapp.services.plan_figures import BlowFigures, TemperFigures
from webapp.services.plan_sums import Settled

ASKED_DEG = 30.0
SPAN_SIZES = 10.0  # where no length is known the bar is taken to be held over so many thicknesses
BLOWS = ("bending", "impact")
LIKE_THE_BEST = 0.5  # a setting with at least this share of the best odds will do


def temper_figures(settled: Settled, wanted_HRC: float | None, seconds: float) -> TemperFigures | None:
    """Return the oven's setting for a wanted hardness of the finished skin; None where none is wanted."""
    drawn = settled.drawn
    if drawn.hardened is None or wanted_HRC is None:
        return None
    at_m = np.array([settled.goal.grinding_allowance_m])
    hardness, carbon, martensite = (
        at_depths(at_m, drawn.depth_m, values)[:, 0]
        for values in (
            drawn.hardened.as_quenched_HV,
            drawn.hardened.carbon_left_wt,
            drawn.hardened.martensite,
        )
    )
    try:
        skin, oven = Skin(hardness, carbon, martensite), temper_draws(len(hardness))
        choice = choose_temper(skin, wanted_HRC, seconds, *oven)
    except NotPossible as problem:
        words = f"{problem.what}. {problem.advice}"
        return TemperFigures(wanted_HRC, seconds, refusal=words[0].upper() + words[1:])
    return _chosen(choice, wanted_HRC, seconds)


def _chosen(choice: TemperChoice, wanted_HRC: float, seconds: float) -> TemperFigures:
    quenched_HRC = choice.as_quenched_HRC[1]
    if quenched_HRC < wanted_HRC - TOLERANCE_HRC:
        words = f"The quench most likely gives about {quenched_HRC:.0f} HRC, and a temper only softens."
        return TemperFigures(wanted_HRC, seconds, refusal=words)
    near = choice.dial_K[choice.odds >= LIKE_THE_BEST * choice.best_odds]
    return TemperFigures(
        wanted_HRC,
        seconds,
        choice.best_K,
        float(near.min()),
        float(near.max()),
        choice.best_odds,
        bool(choice.embrittles[choice.best]),
    )


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
