"""From the sums of a plan to its figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model import MODEL_VERSION
from model.conversion import rockwell_c_continued
from model.forecast import Forecast
from model.planner import Goal
from model.rules import HARRIS_TEMPERATURE_K, harris_total_depth_1943, tenth_millimetre_an_hour
from model.traverse import rockwell_c_reading
from webapp.forms.parts import section_thickness
from webapp.forms.plans import PlanForm
from webapp.services.plan_figures import Growth, Odds, OtherHeat, PlanFigures, Profile, Spread, Warned
from webapp.services.plan_rows import PlanRows, names_of
from webapp.services.plan_sums import Face, Settled, Sketched, at_depths, face_of, handy_soak, odds_at

Array = NDArray[np.float64]

BAND = (0.05, 0.95)
PROFILE_POINTS = 41
SHOWN_CASES = 2.2  # carbon is drawn down to so many total cases
LEAST_SHOWN_m = 0.6e-3
LEAST_STRETCH = 0.05


@dataclass(frozen=True)
class _Bands:
    """What the settled draws say of one forecast: case depths, carbon and hardness, all after grinding."""

    case_m: Array
    middle: Face
    drawn: Face
    deeper: float


def settled_figures(rows: PlanRows, form: PlanForm, found: Settled, coupons: int) -> PlanFigures:
    """Return the figures of a full answer."""
    bands = _Bands(found.case_m, found.middle_face, found.drawn_face, 1.0)
    figures = _figures(rows, form, found, found.middle, bands, coupons)
    return replace(figures, warnings=_warnings(found.drawn))


def sketched_figures(rows: PlanRows, form: PlanForm, found: Sketched, coupons: int) -> PlanFigures:
    """Return the figures of a quick answer: its own middle with the settled answer's band, stretched."""
    settled = found.settled
    ground_m = settled.goal.grinding_allowance_m
    case_m = (settled.case_m + ground_m) * found.deeper - ground_m
    middle = face_of(settled.goal, found.middle)
    bands = _Bands(case_m, middle, _about_new_middle(middle, found), found.deeper_at_once)
    figures = _figures(rows, form, settled, found.middle, bands, coupons)
    return replace(figures, soak_s=found.soak_s, is_sketch=True, warnings=_warnings(found.middle))


def _about_new_middle(middle: Face, found: Sketched) -> Face:
    """Return the settled draws about the new middle, as far from it as they lay from the old one."""
    drawn, old = found.settled.drawn_face, found.settled.middle_face
    from_m = np.minimum(middle.depth_m / max(found.deeper, LEAST_STRETCH), drawn.depth_m[-1])

    def moved(draws: Array | None, before: Array | None, now: Array | None) -> Array | None:
        if draws is None or before is None or now is None:
            return None
        return np.maximum(now + at_depths(from_m, drawn.depth_m, draws - before), 0.0)

    carbon = moved(drawn.carbon_wt, old.carbon_wt, middle.carbon_wt)
    assert carbon is not None
    hardness = moved(drawn.hardness_HV, old.hardness_HV, middle.hardness_HV)
    core = middle.core_HV
    if core is not None and drawn.core_HV is not None and old.core_HV is not None:
        core = core + drawn.core_HV - old.core_HV
    return Face(middle.depth_m, carbon, hardness, core)


def _figures(
    rows: PlanRows, form: PlanForm, settled: Settled, middle: Forecast, bands: _Bands, coupons: int
) -> PlanFigures:
    part, best, goal = rows.part, settled.best, settled.goal
    skin, reading, core = _hardness(bands)
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
        depth=_spread(np.maximum(bands.case_m, 0.0)),
        odds=Odds(*odds_at(goal, bands.case_m)),
        total_case_m=_total_case(middle, goal),
        skin_HV=skin,
        skin_HRC=_rockwell(skin),
        reading_HRC=reading,
        core_HV=core,
        core_HRC=_rockwell(core),
        skin_wt=_spread(bands.drawn.carbon_wt[:, 0], bands.middle.carbon_wt[0, 0]),
        warm_up_s=_spread(settled.lag_s),
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
    )


def _spread(draws: Array, middle: float | None = None) -> Spread:
    """Return the band of draws about their middle, or about one that is known better."""
    low, high = (float(end) for end in np.quantile(draws, BAND))
    at = float(np.median(draws)) if middle is None else float(middle)
    return Spread(min(low, at), at, max(high, at))


def _hardness(bands: _Bands) -> tuple[Spread | None, Spread | None, Spread | None]:
    """Return hardness at the finished skin [HV], what a Rockwell C test shows there, and the core [HV]."""
    drawn, middle = bands.drawn, bands.middle
    if drawn.hardness_HV is None or middle.hardness_HV is None:
        return None, None, None
    skin = _spread(drawn.hardness_HV[:, 0], middle.hardness_HV[0, 0])
    shown, doubt = rockwell_c_reading(middle.depth_m, middle.hardness_HV)
    draws, _ = rockwell_c_reading(drawn.depth_m, drawn.hardness_HV)
    band = _spread(draws, shown[0])
    # the doubt of the reading itself joins the doubt of the case: 1.64 of its sd to either side
    low, high = (np.hypot(end - band.middle, 1.64 * doubt[0]) for end in (band.low, band.high))
    reading = Spread(band.middle - float(low), band.middle, band.middle + float(high))
    core = (
        None if drawn.core_HV is None or middle.core_HV is None else _spread(drawn.core_HV, middle.core_HV[0])
    )
    return skin, reading, core


def _rockwell(hardness: Spread | None) -> Spread | None:
    if hardness is None:
        return None
    low, at, high = (
        float(rockwell_c_continued(value)) for value in (hardness.low, hardness.middle, hardness.high)
    )
    return Spread(low, at, high)


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


def _warnings(found: Forecast) -> tuple[Warned, ...]:
    return tuple(Warned(warning.code, warning.text) for warning in found.warnings)
