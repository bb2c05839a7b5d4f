"""From the sums of a plan to its figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model import MODEL_VERSION
from model.fire_share import fire_share
from model.forecast import Forecast
from model.planner import Goal
from model.rules import HARRIS_TEMPERATURE_K, harris_total_depth_1943, tenth_millimetre_an_hour
from model.warned import Warned as ModelWarning
from webapp.forms.parts import section_thickness
from webapp.forms.plans import PlanForm
from webapp.services.plan_face import Face, at_depths, face_of
from webapp.services.plan_figures import (
    FireFigures,
    Growth,
    HardeningFigures,
    Odds,
    OtherHeat,
    PlanFigures,
    Profile,
    Warned,
)
from webapp.services.plan_hardening import structures_of
from webapp.services.plan_rows import PlanRows, names_of
from webapp.services.plan_spreads import BAND, HardnessSpreads, in_rockwell, spread
from webapp.services.plan_sums import Settled, Sketched, handy_soak, odds_at

Array = NDArray[np.float64]

PROFILE_POINTS = 41
SHOWN_CASES = 2.2  # carbon is drawn down to so many total cases
LEAST_SHOWN_m = 0.6e-3
LEAST_STRETCH = 0.05
LEAST_GAIN_kg_per_m2 = 1e-3  # less carbon than this is not told apart by when it came in
CODES_OF_QUENCH = ("quench_below_ac1", "free_carbide", "retained_austenite")


@dataclass(frozen=True)
class _Bands:
    """What is said of one forecast: case depths, carbon and hardness, all after grinding."""

    case_m: Array
    middle: Face
    drawn: Face
    deeper: float
    hardness: HardnessSpreads


def settled_figures(
    rows: PlanRows, form: PlanForm, found: Settled, coupons: int, hardening: HardeningFigures
) -> PlanFigures:
    """Return the figures of a full answer."""
    bands = _Bands(found.case_m, found.middle_face, found.drawn_face, 1.0, found.hardness)
    figures = _figures(rows, form, found, found.middle, bands, coupons)
    return replace(figures, warnings=_warnings(found.drawn.warnings), hardening=hardening)


def sketched_figures(rows: PlanRows, form: PlanForm, found: Sketched, coupons: int) -> PlanFigures:
    """Return the figures of a quick answer: its own carbon, with the settled answer's band stretched.

    No quench is worked out for it: its hardness, and what is said of the quench, is as last worked out.
    """
    settled = found.settled
    ground_m = settled.goal.grinding_allowance_m
    case_m = (settled.case_m + ground_m) * found.deeper - ground_m
    middle = face_of(settled.goal, found.middle)
    drawn = _about_new_middle(middle, found)
    bands = _Bands(case_m, middle, drawn, found.deeper_at_once, settled.hardness)
    figures = _figures(rows, form, settled, found.middle, bands, coupons)
    of_quench = tuple(one for one in settled.drawn.warnings if one.code in CODES_OF_QUENCH)
    return replace(
        figures,
        soak_s=found.soak_s,
        is_sketch=True,
        warnings=_warnings((*found.middle.warnings, *of_quench)),
        assumptions=found.assumptions,
        hardening=structures_of(settled),
    )


def _about_new_middle(middle: Face, found: Sketched) -> Face:
    """Return the settled draws about the new middle, as far from it as they lay from the old one."""
    drawn, old = found.settled.drawn_face, found.settled.middle_face
    from_m = np.minimum(middle.depth_m / max(found.deeper, LEAST_STRETCH), drawn.depth_m[-1])
    away_wt = at_depths(from_m, drawn.depth_m, drawn.carbon_wt - old.carbon_wt)
    return Face(middle.depth_m, np.maximum(middle.carbon_wt + away_wt, 0.0), None, None)


def _figures(
    rows: PlanRows, form: PlanForm, settled: Settled, middle: Forecast, bands: _Bands, coupons: int
) -> PlanFigures:
    part, best, goal = rows.part, settled.best, settled.goal
    skin, reading, core = bands.hardness
    return PlanFigures(
        model_version=MODEL_VERSION,
        coupons=coupons,
        names=dict(names_of(rows)),
        temperature_K=form.temperature_K,
        soak_s=settled.soak_s,
        clock_from=form.clock_from,
        reheat_K=form.reheat_K,
        reheat_s=form.reheat_s if form.reheat_K is not None else None,
        temper_K=form.temper_K,
        temper_s=form.temper_s if form.temper_K is not None else None,
        medium=rows.bath.medium,
        shape=part.shape,
        size_m=part.size_m,
        bore_m=part.bore_m or 0.0,
        thickness_m=section_thickness(part.size_m, part.bore_m),
        definition=part.depth_definition,
        wanted_low_m=part.wanted_depth_low_m,
        wanted_high_m=part.wanted_depth_high_m,
        grind_m=part.grind_m,
        wanted_HRC=part.wanted_hardness_HRC,
        depth=spread(np.maximum(bands.case_m, 0.0)),
        odds=Odds(*odds_at(goal, bands.case_m)),
        total_case_m=_total_case(middle, goal),
        skin_HV=skin,
        skin_HRC=in_rockwell(skin),
        reading_HRC=reading,
        core_HV=core,
        core_HRC=in_rockwell(core),
        skin_wt=spread(bands.drawn.carbon_wt[:, 0], bands.middle.carbon_wt[0, 0]),
        warm_up_s=spread(settled.lag_s),
        profile=_profile(bands, _total_case(middle, goal)),
        growth=_growth(settled, form.temperature_K, bands.deeper),
        best_soak_s=handy_soak(best.soak_s),
        best_inside=best.odds_inside,
        best_depth_m=best.depth_median_m,
        feasible=best.feasible,
        reason=best.reason,
        other_heats=tuple(OtherHeat(other.temperature_K, other.soak_s) for other in best.other_heats),
        warnings=(),
        assumptions=middle.assumptions,
        fire=_fire(middle),
    )


def _fire(middle: Forecast) -> FireFigures | None:
    """Return when the carbon came in; None where next to none did."""
    found = fire_share(middle.states)
    if found is None:
        return None
    way_up, soak, cooling = (float(part[0]) for part in (found.way_up, found.soak, found.cooling))
    total = way_up + soak + cooling
    if total < LEAST_GAIN_kg_per_m2:
        return None
    times = float(found.in_fire_s[0]), float(found.at_heat_s[0])
    return FireFigures(*times, way_up / total, soak / total, cooling / total)


def _total_case(middle: Forecast, goal: Goal) -> float:
    total = middle.case_depth["total"]
    depth_m = 0.0 if total is None else float(total.depth_m[0])
    return max(depth_m - goal.grinding_allowance_m, 0.0)


def _profile(bands: _Bands, total_case_m: float) -> Profile:
    """Return carbon through the skin, as deep as it is worth drawing."""
    depth_m = bands.middle.depth_m
    end_m = min(float(depth_m[-1]), max(SHOWN_CASES * total_case_m, LEAST_SHOWN_m))
    at_m = np.linspace(0.0, end_m, PROFILE_POINTS)
    low, high = np.quantile(bands.drawn.carbon_wt, BAND, axis=0)
    middle = bands.middle.carbon_wt[0]
    ends = (np.minimum(low, middle), middle, np.maximum(high, middle))
    return Profile(_list(at_m), *(_list(np.interp(at_m, depth_m, values)) for values in ends))


def _growth(settled: Settled, temperature_K: float, deeper: float) -> Growth:
    """Return depth against time with the rules of thumb beside it, all after grinding."""
    curve, ground_m = settled.best.curve, settled.goal.grinding_allowance_m
    soak_s = np.array([point.soak_s for point in curve])

    def moved(depth_of: Callable[..., float] | Array) -> tuple[float, ...]:
        values = depth_of if isinstance(depth_of, np.ndarray) else np.array([depth_of(p) for p in curve])
        return _list(np.maximum((values + ground_m) * deeper - ground_m, 0.0))

    def ground(depth_m: Array) -> tuple[float, ...]:
        return _list(np.maximum(depth_m - ground_m, 0.0))

    in_table = HARRIS_TEMPERATURE_K.low <= temperature_K <= HARRIS_TEMPERATURE_K.high
    return Growth(
        soak_s=_list(soak_s),
        low_m=moved(lambda point: point.depth_low_m),
        middle_m=moved(lambda point: point.depth_median_m),
        high_m=moved(lambda point: point.depth_high_m),
        books_m=moved(settled.books_m) if len(settled.books_m) else (),
        harris_m=ground(harris_total_depth_1943(temperature_K, soak_s)) if in_table else (),
        tenth_m=ground(tenth_millimetre_an_hour(soak_s)),
    )


def _list(values: Array) -> tuple[float, ...]:
    return tuple(float(value) for value in np.round(values, 9))


def _warnings(found: Sequence[ModelWarning]) -> tuple[Warned, ...]:
    return tuple(Warned(warning.code, warning.words, warning.heats_K) for warning in found)
