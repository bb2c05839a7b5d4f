from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.conversion import Scale, continued, points_per_rockwell_c, vickers_of_rockwell_c
from model.inputs import links
from model.likelihood import interval_likelihood, probit_likelihood, student_likelihood
from model.look import look
from model.process import Quench, SlowCool
from model.readings import (
    BendReading,
    DepthReading,
    FilesReading,
    HardnessReading,
    NoHardSkin,
    Observation,
    SparkReading,
    TraverseReading,
)
from model.sight import Seen, signed_depth
from model.usable import why_not_used
from tests.model.logbooks import job

DEPTH_M = np.linspace(0.0, 3e-3, 301)


def uniform(hardness_HV: float, carbon_wt: float = 0.8) -> Seen:
    return Seen(
        DEPTH_M,
        np.full((1, 301), carbon_wt),
        np.full((1, 301), hardness_HV),
        np.full((1, 301), hardness_HV),
        np.array([0.4]),
        np.array([0.18]),
    )


def cased(case_m: float = 0.6e-3) -> Seen:
    carbon = 0.18 + 0.7 * np.exp(-((DEPTH_M / case_m) ** 2))[None]
    hardness = 300.0 + 700.0 * (carbon - 0.18)
    return Seen(DEPTH_M, carbon, hardness, hardness, np.array([0.4]), np.array([0.18]))


READINGS = [
    HardnessReading("HRC", 60.0, "rockwell:1"),
    HardnessReading("HRA", 81.0, "rockwell:1"),
    HardnessReading("HV", 700.0, "vickers:1"),
    FilesReading(55.0, 60.0, "files:1"),
    DepthReading("break", 0.6e-3),
    DepthReading("etch", 0.6e-3),
    DepthReading("HV550", 0.5e-3),
    DepthReading("HRC50", 0.5e-3),
    NoHardSkin(0.12e-3),
    TraverseReading((0.1e-3, 0.4e-3, 0.8e-3), (700.0, 600.0, 400.0), "vickers:1"),
    SparkReading(False),
]


@pytest.mark.property
@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: type(reading).__name__)
def test_slope_is_the_derivative_of_the_log_likelihood_and_curvature_is_never_negative(reading) -> None:
    prediction = reading.predicted(cased())
    step = 1e-4 * np.maximum(np.abs(prediction.value), 1e-4)
    for shift in (-300.0, 0.0, 300.0):
        value = prediction.value + shift * step
        up, here, down = (
            reading.likelihood(value + side * step, prediction.doubt) for side in (1.0, 0.0, -1.0)
        )
        assert here.slope == pytest.approx((up.log - down.log) / (2 * step), rel=1e-3, abs=1e-3 / step.min())
        assert (here.curvature >= 0.0).all()
        assert np.isfinite(here.log).all()


@pytest.mark.property
def test_the_likelihood_of_a_point_reading_integrates_to_one() -> None:
    measured = np.linspace(-4000.0, 4000.0, 800_001)
    density = np.exp(student_likelihood(np.zeros(1), measured, 1.5).log)
    assert np.trapezoid(density, measured) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.property
@given(st.floats(-30.0, 120.0), st.floats(0.5, 4.0))
def test_the_intervals_between_files_cover_everything_once(hardness: float, sd: float) -> None:
    edges = [-np.inf, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, np.inf]
    total = sum(
        float(np.exp(interval_likelihood(np.array([hardness]), low, high, sd).log)[0])
        for low, high in pairwise(edges)
    )
    assert total == pytest.approx(0.98 + 0.002 * 7, abs=1e-9)


@pytest.mark.property
@given(st.floats(0.0, 2.0))
def test_sparks_burst_or_they_do_not(carbon_wt: float) -> None:
    yes, no = (probit_likelihood(np.array([carbon_wt]), seen, 0.4, 0.08).log[0] for seen in (True, False))
    assert np.exp(yes) + np.exp(no) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.published
@pytest.mark.parametrize(
    ("hardness_HRC", "hardness_HRA", "hardness_HR15N"),
    # ASTM E140-12b table 1 (HRA and 15N columns from memory)
    [(30.0, 65.3, 75.0), (50.0, 75.9, 85.5), (60.0, 81.2, 90.2), (65.0, 83.9, 92.2)],
)
def test_even_steel_reads_its_own_hardness_on_every_scale(
    hardness_HRC: float, hardness_HRA: float, hardness_HR15N: float
) -> None:
    seen = uniform(float(vickers_of_rockwell_c(hardness_HRC)))
    assert HardnessReading("HRC", 60.0).predicted(seen).value[0, 0] == pytest.approx(hardness_HRC, abs=0.05)
    assert HardnessReading("HRA", 80.0).predicted(seen).value[0, 0] == pytest.approx(hardness_HRA, abs=0.05)
    assert HardnessReading("HR15N", 90.0).predicted(seen).value[0, 0] == pytest.approx(
        hardness_HR15N, abs=0.05
    )
    assert FilesReading(55.0, 60.0).predicted(seen).value[0, 0] == pytest.approx(hardness_HRC, abs=0.05)


@pytest.mark.property
def test_a_thin_case_reads_softer_the_deeper_a_point_goes_in_and_its_doubt_grows() -> None:
    thin = cased(0.2e-3)
    scales: tuple[Scale, ...] = ("HRC", "HRA", "HR15N")
    found = [HardnessReading(scale, 80.0).predicted(thin) for scale in scales]
    on_c, on_a, on_15n = (
        float(continued(one.value[0, 0], scale, "HRC")) for one, scale in zip(found, scales, strict=True)
    )
    filed = FilesReading(55.0, 60.0).predicted(thin).value[0, 0]
    assert on_c < on_a - 1.0
    assert on_a < on_15n - 0.5
    assert on_15n < filed - 0.5
    assert found[0].doubt[0, 0] > 2.0
    assert found[2].doubt[0, 0] < found[1].doubt[0, 0]


@pytest.mark.property
@pytest.mark.parametrize("scale", ["HRA", "HR15N", "HV"])
def test_a_point_of_rockwell_c_is_worth_what_e140_says(scale: Scale) -> None:
    # ASTM E140-12b table 1: 59 to 61 HRC are 80.7 to 81.8 HRA, 89.8 to 90.7 HR15N, 674 to 720 HV (memory)
    worth = {"HRA": (81.2, 0.55), "HR15N": (90.2, 0.45), "HV": (697.0, 23.0)}
    at, points = worth[scale]
    assert points_per_rockwell_c(at, scale) == pytest.approx(points, rel=0.07)


@pytest.mark.property
def test_grinding_the_skin_off_is_followed_inwards() -> None:
    readings = [HardnessReading("HV", 700.0, surface_removed_m=removed) for removed in (0.0, 0.2e-3, 0.5e-3)]
    values = [reading.predicted(cased()).value[0, 0] for reading in readings]
    assert values[0] == pytest.approx(790.0, abs=1.0)
    assert values[0] > values[1] > values[2]


@pytest.mark.property
def test_the_depth_of_a_missing_case_goes_on_below_nothing_without_a_jump() -> None:
    surface = np.linspace(0.3, 0.5, 41)[:, None]
    carbon = 0.18 + (surface - 0.18) * np.exp(-DEPTH_M / 0.4e-3)[None]
    depths = signed_depth(DEPTH_M, carbon, 0.4)
    steps = np.diff(depths)
    assert depths[0] < 0.0 < depths[-1]
    assert (steps > 0.0).all()
    at = int(np.argmax(depths > 0.0)) - 1
    assert steps[at] < 1.5 * max(steps[at - 1], steps[at + 1])


@pytest.mark.property
@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: type(reading).__name__)
def test_simulated_readings_are_usable_and_scatter_about_the_truth(reading) -> None:
    rng = np.random.default_rng(5)
    seen = cased()
    prediction = reading.predicted(seen)
    truth, spread = prediction.value[0], reading.spread(prediction.value, prediction.doubt)[0]
    noted = [reading.simulated(seen, 0.0, rng) for _ in range(300)]
    assert all(why_not_used(Observation("x", job(), one)) is None for one in noted)
    lows, highs = (np.array([one.limits()[side] for one in noted]) for side in (0, 1))
    inside = (lows - 4.0 * spread <= truth) & (truth <= highs + 4.0 * spread)
    if isinstance(reading, NoHardSkin):
        assert noted[0] == reading
    else:
        assert inside.mean() > 0.97


@pytest.mark.property
def test_a_reading_at_an_end_of_its_scale_says_no_more_than_that_it_lies_there_or_beyond() -> None:
    predicted = np.array([[10.0], [30.0], [60.0], [75.0]])
    none = np.zeros_like(predicted)
    hard, soft = (HardnessReading("HRC", value).likelihood(predicted, none).slope for value in (70.0, 20.0))
    within = HardnessReading("HRC", 66.0).likelihood(predicted, none).slope
    assert within[3] < -0.3  # too soft a reading pulls down
    assert abs(hard[3]) < 0.01  # the last of the scale does not
    assert abs(soft[0]) < 0.01
    near = HardnessReading("HRC", 70.0).likelihood(np.array([[68.0]]), np.zeros((1, 1)))
    assert near.slope[0, 0] > 0.3
    assert near.log[0, 0] < hard_enough(72.0) < 0.0


def hard_enough(predicted_HRC: float) -> float:
    return float(
        HardnessReading("HRC", 70.0).likelihood(np.array([[predicted_HRC]]), np.zeros((1, 1))).log[0, 0]
    )


@pytest.mark.property
def test_a_long_traverse_counts_for_a_few_points_only() -> None:
    depths = tuple(np.linspace(0.05e-3, 1.5e-3, 40))
    long, short = TraverseReading(depths, (600.0,) * 40), TraverseReading(depths[:4], (600.0,) * 4)
    sds = [one.spread(np.zeros((1, 1)), np.zeros((1, 1)))[0, 0] for one in (long, short)]
    assert sds[0] ** 2 / 40 == pytest.approx(sds[1] ** 2 / 4)


REASONS = [
    (job(), BendReading("snapped", 0.0, job().section), "angle"),
    (job(), BendReading("bent", float("nan"), job().section), "angle"),
    (job(), SparkReading(True, of_bare_bar=False), "bare bar"),
    (job(fire=""), DepthReading("break", 5e-4), "which fire"),
    (job(medium="molten salt"), DepthReading("break", 5e-4), "molten salt is not a bath"),
    (job(), HardnessReading("HRC", 60.0, after="temper"), "temper"),
    (job(), HardnessReading("HRC", 60.0, after="slow_cool"), "slow cool"),
    (job(), HardnessReading("HRC", 95.0), "outside"),
    (job(), HardnessReading("HV", float("nan")), "outside"),
    (job(), DepthReading("break", 0.6), "unit"),
    (job(), DepthReading("break", float("nan")), "unit"),
    (job(), NoHardSkin(-1.0), "unit"),
    (job(), FilesReading(None, None), "no file"),
    (job(), FilesReading(60.0, 55.0), "harder"),
    (job(), TraverseReading((1e-4,), (700.0, 600.0)), "pair"),
    (job(), TraverseReading((1e-4,), (7000.0,)), "outside"),
]


@pytest.mark.property
@pytest.mark.parametrize(("process", "reading", "word"), REASONS)
def test_what_is_set_aside_is_set_aside_with_its_reason(process, reading, word: str) -> None:
    assert word in str(why_not_used(Observation("x", process, reading)))


@pytest.mark.property
def test_what_never_saw_a_quench_or_the_pack_is_set_aside() -> None:
    process = job(reheated=True)
    unhardened = replace(process, steps=process.steps[:2])
    assert isinstance(unhardened.steps[-1], SlowCool)
    bare = replace(process, steps=process.steps[2:])
    reading = DepthReading("break", 5e-4)
    assert "not quenched" in str(why_not_used(Observation("x", unhardened, reading)))
    assert "never in the pack" in str(why_not_used(Observation("x", bare, reading)))


@pytest.mark.property
def test_a_depth_seen_by_eye_is_used_after_a_temper_too() -> None:
    tempered = Observation("x", job(), DepthReading("break", 5e-4, after="temper"))
    assert why_not_used(tempered) is None


@pytest.mark.property
@pytest.mark.parametrize("medium", ["air", "oil", "water", "brine"])
@pytest.mark.parametrize("size_m", [0.004, 0.012, 0.060])
def test_readings_after_any_bath_and_on_any_section_are_used(medium: str, size_m: float) -> None:
    process = job(medium=medium, size_m=size_m)
    for reading in (DepthReading("break", 5e-4), HardnessReading("HRC", 55.0)):
        assert why_not_used(Observation("x", process, reading)) is None
    seen = look([process], links(process).offset[None, None])[0]
    assert np.isfinite(seen.hardness_HV).all()


@pytest.mark.convergence
def test_fewer_cells_cost_two_thousandths_of_a_millimetre() -> None:
    from model.belief import constants_of, handbook_belief
    from model.course import carbon_states
    from model.members import Members

    process = job(hours=4.0)
    inputs = handbook_belief().inputs(process, 60)
    coarse = look([process], inputs[None])[0]
    fine_m, fine_wt = carbon_states(Members.of([process], [constants_of(process, inputs)]))[-1].nodes()
    limit = coarse.rim_carbon_wt
    coarse_depth = signed_depth(coarse.depth_m, coarse.carbon_wt, limit)
    fine_depth = signed_depth(fine_m, fine_wt, limit)
    hit = fine_depth > 0.0
    assert np.abs(coarse_depth - fine_depth)[hit].max() < 4e-6
    assert (coarse_depth - fine_depth)[hit].std() < 2e-6


@pytest.mark.property
def test_a_bare_bar_can_be_looked_at_and_routes_may_be_mixed() -> None:
    bare = replace(job(), steps=())
    inputs = np.array([[links(job()).offset]] * 3)
    seen = look([job(), bare, job(reheated=True)], inputs)
    assert seen[1].bar_carbon_wt == pytest.approx(seen[0].bar_carbon_wt)
    assert seen[0].hardness_HV[0, 0] > 500.0
    assert seen[2].carbon_wt[0, 0] < seen[0].carbon_wt[0, 0]
    assert isinstance(job().steps[-1], Quench)
