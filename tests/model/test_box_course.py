"""The box joined to the forecast: the way up, the slow cool, and what a slower box does to the case."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import Constants, handbook_belief
from model.box_course import COLD_K, FORGE_RAMP_S, box_cooling, warm_up, warm_up_s
from model.box_fill import Bed
from model.boxheat import box_heat, fire_history
from model.calibration import fit
from model.cause_changes import bare_in_lean_fire
from model.fire_share import FireShare, fire_share
from model.forecast import Forecast, forecast
from model.learnt import parameter_rows, standard_job
from model.packed_box import PackedBox, packed_box
from model.priors import nominal_lag_s
from model.process import (
    Carburize,
    History,
    Keys,
    PackSupply,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
)
from model.readings import HardnessReading, Observation
from model.steels import steel_of_grade
from model.usable import why_not_learnt

SOAK_K = 1198.15
HOUR_s = 3600.0
PACK = PackSupply("lump", 10.0)
BOX = packed_box((0.15, 0.08, 0.08), False, 0.003, 0.006)
FLAT = packed_box((0.3, 0.3, 0.05), False, 0.003, 0.006)


def soaked(
    box: PackedBox | None, hours: float = 4.0, lag_share: float = 0.0, kelvin: float = SOAK_K
) -> Process:
    """Return a rod soaked and cooled shut."""
    steps = (
        Carburize(History.hold(kelvin, hours * HOUR_s), PACK, lag_share),
        SlowCool(box_cooling(box, kelvin), PACK),
    )
    return Process(steel_of_grade("1018"), Section(Shape.ROD, 0.012), steps, box_inner_m=0.08, box=box)


def slower(process: Process, factor: float) -> Constants:
    constants = handbook_belief().point(process)
    return replace(constants, lag_s=factor * constants.lag_s)


def depth_mm(found: Forecast, which: str = "rim") -> float:
    case = found.case_depth[which]
    assert case is not None
    return 1e3 * float(case.depth_m[0])


def forecast_at(process: Process, factor: float = 1.0) -> Forecast:
    return forecast(process, slower(process, factor))


def share_of(found: Forecast) -> FireShare:
    share = fire_share(found.states)
    assert share is not None
    return share


@pytest.mark.convergence
@pytest.mark.parametrize("box", [BOX, FLAT, packed_box((0.3, 0.15, 0.15), False, 0.003, 0.006)])
def test_rounding_the_heat_moves_the_time_to_heat_by_three_percent_at_most(box: PackedBox) -> None:
    for kelvin in (1150.0, 1175.0, 1200.0, 1225.0):
        whole_step = warm_up(box, kelvin + 25.0).at_heat_s / warm_up(box, kelvin).at_heat_s
        assert abs(np.log(whole_step)) / 2.0 < 0.03


@pytest.mark.convergence
@pytest.mark.parametrize("box", [BOX, FLAT])
def test_a_few_points_of_the_way_up_give_the_case_of_the_whole_curve(box: PackedBox) -> None:
    # the whole curve of the box given as the noted heat of a soak, its heat on a rounded step
    kelvin, hold_s = 1200.0, 4.0 * HOUR_s
    way = warm_up(box, kelvin)
    told = replace(soaked(box, kelvin=kelvin), steps=soaked(box, kelvin=kelvin).steps[:1])
    found = box_heat(box, fire_history(kelvin, FORGE_RAMP_S, way.at_heat_s + hold_s), points=1200)
    kept = found.seconds <= way.at_heat_s + hold_s
    curve = History(tuple(found.seconds[kept][::4]), tuple(np.minimum(found.part_K[kept][::4], kelvin)))
    whole = replace(told, steps=(Carburize(curve, PACK),), box=None)
    few, fine = (depth_mm(forecast(one, handbook_belief().point(told))) for one in (told, whole))
    assert few == pytest.approx(fine, abs=0.007)


@pytest.mark.published
@pytest.mark.parametrize("box", [BOX, FLAT])
@pytest.mark.parametrize("hours", [2.0, 4.0, 8.0])
def test_the_way_up_is_worth_its_hours_at_heat(box: PackedBox, hours: float) -> None:
    # simulation study for this model: a ramp replaced by its hours at the soak's heat leaves the depth within
    # 0.007 mm on average, 0.034 at most. Here the hours are weighed by Harris's law, exp(-2 * 8571 / T)
    told = soaked(box, hours)
    told = replace(told, steps=told.steps[:1])
    way = warm_up(box, SOAK_K)
    seconds = np.linspace(way.time_share[0], 1.0, 400) * way.at_heat_s
    climbed = np.interp(seconds / way.at_heat_s, way.time_share, way.climbed)
    kelvin = COLD_K + climbed * (SOAK_K - COLD_K)
    weight = np.where(kelvin > 996.0, np.exp(-2.0 * 8571.0 * (1.0 / kelvin - 1.0 / SOAK_K)), 0.0)
    worth_h = float(np.trapezoid(weight, seconds)) / HOUR_s
    longer = replace(soaked(None, hours + worth_h), steps=soaked(None, hours + worth_h).steps[:1])
    constants = handbook_belief().point(told)
    assert depth_mm(forecast(told, constants)) == pytest.approx(
        depth_mm(forecast(longer, constants)), abs=0.034
    )


@pytest.mark.property
def test_a_slower_box_takes_more_carbon_on_the_way_up_and_while_it_cools() -> None:
    usual, slow = (share_of(forecast_at(soaked(BOX), factor)) for factor in (1.0, 2.0))
    assert slow.way_up[0] > 1.5 * usual.way_up[0] > 0.0
    assert slow.cooling[0] > usual.cooling[0] > 0.0
    assert slow.in_fire_s[0] == pytest.approx(usual.in_fire_s[0] + warm_up_s(soaked(BOX)))


def test_when_the_carbon_came_in_adds_up_to_the_gain() -> None:
    found = forecast_at(soaked(BOX))
    share = share_of(found)
    total = share.way_up + share.soak + share.cooling
    assert total == pytest.approx(found.carbon_gain_kg_per_m2)
    assert 0.03 < float((share.way_up / total)[0]) < 0.08
    assert float((share.soak / total)[0]) > 0.85


@pytest.mark.property
def test_a_slower_box_gives_a_deeper_case_after_at_heat_and_a_thinner_one_after_box_in() -> None:
    from_heat, from_box_in = (
        [depth_mm(forecast_at(soaked(BOX, lag_share=share), factor)) for factor in (0.5, 1.0, 2.0)]
        for share in (0.0, 1.0)
    )
    assert from_heat[0] < from_heat[1] < from_heat[2]
    assert from_box_in[0] > from_box_in[1] > from_box_in[2]


@pytest.mark.parametrize(("lag_share", "in_fire_over"), [(0.0, 1.0), (0.5, 0.5), (1.0, 0.0)])
def test_each_clock_holds_its_part_of_the_way_up(lag_share: float, in_fire_over: float) -> None:
    process = soaked(BOX, lag_share=lag_share)
    share, lag_s = share_of(forecast_at(process)), warm_up_s(process)
    assert share.in_fire_s[0] == pytest.approx(4.0 * HOUR_s + in_fire_over * lag_s)
    assert share.at_heat_s[0] == pytest.approx(4.0 * HOUR_s - lag_share * lag_s)


@pytest.mark.property
def test_the_case_grows_evenly_through_the_end_of_the_warm_up() -> None:
    # a stay that ends on the way up cools from where it came to: the case does not shrink, and a minute there
    # is worth a few of those after, as it brings hotter work and so a longer cool
    minutes = np.arange(20.0, 70.0, 2.5)
    gains = [
        float(forecast_at(soaked(BOX, m / 60.0, lag_share=1.0)).carbon_gain_kg_per_m2[0]) for m in minutes
    ]
    steps = np.diff(gains)
    assert np.all(steps >= -1e-6)
    assert steps.max() < 6.0 * np.median(steps[-5:])


def test_without_a_box_nothing_comes_in_on_the_way_up() -> None:
    process = soaked(None, lag_share=1.0)
    share = share_of(forecast_at(process))
    assert share.way_up[0] == 0.0
    assert warm_up_s(process) == nominal_lag_s(0.08)


@pytest.mark.property
def test_a_shut_box_cools_more_slowly_than_its_forge_and_a_larger_one_more_slowly_still() -> None:
    straight, small, large = (
        box_cooling(box, SOAK_K) for box in (None, BOX, packed_box((0.3, 0.15, 0.15), False, 0.003, 0.006))
    )
    above_s = [
        float(np.interp(-1000.0, -np.array(one.temperature_K), one.seconds))
        for one in (straight, small, large)
    ]
    assert above_s[0] < above_s[1] < above_s[2]
    assert small.temperature_K[0] == SOAK_K
    assert np.all(np.diff(small.seconds) > 0.0)


@pytest.mark.property
def test_a_box_is_told_by_its_sizes() -> None:
    near_square, oblong, flat = (
        warm_up(packed_box((0.3, wide, 0.08), False, 0.003, 0.006), SOAK_K).at_heat_s
        for wide in (0.08, 0.12, 0.4)
    )
    assert near_square < oblong < flat
    pipe = packed_box((0.3, 0.08, 0.08), True, 0.003, 0.006)
    assert pipe.form == "cylinder"
    full = packed_box((0.15, 0.08, 0.08), False, 0.003, 0.006, steel_m3=2e-4)
    assert warm_up(full, SOAK_K).at_heat_s > warm_up(BOX, SOAK_K).at_heat_s
    fine = packed_box((0.15, 0.08, 0.08), False, 0.003, 0.006, bed=Bed(grain_m=1e-3))
    assert warm_up(fine, SOAK_K).at_heat_s > warm_up(BOX, SOAK_K).at_heat_s


@pytest.mark.published
@pytest.mark.parametrize("inner_m", [0.06, 0.07, 0.08])
def test_the_trades_half_hour_to_hour_lies_inside_the_band(inner_m: float) -> None:
    # common practice, no source: 30 to 60 minutes for small boxes; the median must lie between 20 and 90
    box = packed_box((0.15, inner_m, inner_m), False, 0.003, 0.006)
    process = replace(soaked(box), keys=Keys(box="1"))
    low, middle, high = np.quantile(handbook_belief().constants(process, 400).lag_s / 60.0, [0.05, 0.5, 0.95])
    assert low < 30.0
    assert high > 60.0
    assert 20.0 < middle < 90.0


def test_the_page_of_what_was_learnt_starts_from_the_box_as_it_is() -> None:
    job = standard_job(Keys(box="1"), PACK, 0.08, BOX)
    row = next(one for one in parameter_rows([], handbook_belief(), [job]) if one.kind == "lag")
    assert row.books.median == pytest.approx(warm_up(BOX, SOAK_K).at_heat_s)


def test_a_bare_reheat_in_a_lean_fire_loses_carbon_within_stated_bounds() -> None:
    reheat = History.hold(1073.15, 900.0)
    base = soaked(BOX)
    sealed, bare, lean = (
        forecast_at(replace(base, steps=(*base.steps, last)))
        for last in (Reheat(reheat), Reheat(reheat, bare=True), bare_in_lean_fire(reheat))
    )
    assert np.array_equal(sealed.carbon_wt, bare.carbon_wt)
    assert 0.05 <= lean.carbon_wt[0, 0] <= 0.40 < sealed.carbon_wt[0, 0]
    assert lean.carbon_gain_kg_per_m2[0] < sealed.carbon_gain_kg_per_m2[0]
    assert {"bare_reheat"} == {one.code for one in bare.warnings} - {one.code for one in sealed.warnings}
    assert "lost_carbon" in {one.code for one in lean.warnings}


def test_what_a_lean_flame_leaves_of_a_bare_skin_is_drawn_over_its_whole_range_and_teaches_nothing() -> None:
    reheat = History.hold(1123.15, 900.0)  # austenite in every draw
    base = replace(soaked(BOX), keys=Keys(fire="7"))
    sealed, lean = (
        replace(base, steps=(*base.steps, last)) for last in (Reheat(reheat), bare_in_lean_fire(reheat))
    )
    belief = handbook_belief()
    left = belief.constants(lean, 100)
    skin_wt = forecast(lean, left).states[-1].carbon_wt[:, 0]
    assert skin_wt.min() == pytest.approx(0.05, abs=0.01)
    assert skin_wt.max() == pytest.approx(0.40, abs=0.01)
    assert np.median(skin_wt) == pytest.approx(0.225, abs=0.01)
    told = [
        Observation("1", replace(one, steps=(*one.steps, Quench("water"))), HardnessReading("HRC", 50.0))
        for one in (sealed, lean)
    ]
    assert why_not_learnt(told[0]) is None
    assert "reheated bare in a lean flame" in str(why_not_learnt(told[1]))
    assert fit(told[1:], []).left_out[0].reason == why_not_learnt(told[1])
