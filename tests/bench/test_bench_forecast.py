"""A full forecast of one coupon, cold to tempered: where its time goes by stage, and 200 draws at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from statistics import median
from time import process_time

import numpy as np
import pytest

from model import course, quenched_part, stages
from model import forecast as forecast_module
from model.belief import Constants, handbook_belief
from model.box_course import box_cooling
from model.course import carbon_states
from model.forecast import Forecast, forecast
from model.members import Members
from model.packed_box import packed_box
from model.process import PackSupply, Process, SlowCool
from tests.bench.conftest import Tell
from tests.bench.test_bench_quench import BATHS, coupon, least_of_each

pytestmark = pytest.mark.bench

AIM_S, DRAWS_AIM_S, DRAWS = 0.015, 0.400, 200
BUSY = 2.0  # room for a shared machine; the ratios are the sharp check
ROUNDS = 9
BOX = packed_box((0.15, 0.08, 0.08), False, 0.003, 0.006)
# cold to tempered over its carbon alone, and 200 draws over 200 forecasts of one, each in the same run
MOST_CARBON_SOLVES = 9.5  # 8.1 in air, 7 elsewhere, since carbon takes half as long
MOST_OF_ONE_BY_ONE = 0.12
# what each stage is worked out by; a stage within another counts for itself
STAGES = {
    "warm-up and cool of the box": [(course, "warming"), (course, "cooling_course")],
    "carbon, that of the way up too": [(stages, "carbon_course")],
    "quench": [(quenched_part, "_cooled"), (quenched_part, "bare_rate")],
    "structure": [(quenched_part, "structure_after")],
    "temper": [(stages, "with_tempers")],
    "depths and reading": [(forecast_module, "_case_depths"), (forecast_module, "rockwell_c_reading")],
    "warnings": [(forecast_module, "warnings_of"), (forecast_module, "assumptions_of")],
}
REST, WHOLE = "the rest", "whole"


def in_a_box(process: Process) -> Process:
    """Return the same in a box that is described, with its own way up and cool."""
    soak, _, *rest = process.steps
    cool = SlowCool(box_cooling(BOX, 1198.15), PackSupply("lump", 10.0))
    return replace(process, steps=(soak, cool, *rest), box=BOX)


class Watch:
    """Time spent in each stage, what the stages within it take left out."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = dict.fromkeys(STAGES, 0.0)
        self.running: list[float] = []

    def of(self, stage: str, work: Callable[..., object]) -> Callable[..., object]:
        def timed(*arguments: object, **options: object) -> object:
            self.running.append(0.0)
            began = process_time()
            try:
                return work(*arguments, **options)
            finally:
                took = process_time() - began
                self.spent[stage] += took - self.running.pop()
                if self.running:
                    self.running[-1] += took

        return timed


@contextmanager
def watched() -> Iterator[Watch]:
    watch = Watch()
    with pytest.MonkeyPatch.context() as patch:
        for stage, works in STAGES.items():
            for module, name in works:
                patch.setattr(module, name, watch.of(stage, getattr(module, name)))
        yield watch


def budget(process: Process, constants: Constants) -> dict[str, float]:
    """Return the median time of each stage, of what is left, and of the whole [s]."""
    rounds = []
    with watched() as watch:
        for _ in range(ROUNDS):
            watch.spent = dict.fromkeys(STAGES, 0.0)
            began = process_time()
            forecast(process, constants)
            whole = process_time() - began
            rounds.append(watch.spent | {REST: whole - sum(watch.spent.values()), WHOLE: whole})
    return {stage: median(one[stage] for one in rounds) for stage in rounds[0]}


def made(process: Process, constants: Constants) -> Forecast:
    found = forecast(process, constants)
    assert found.hardness_tempered_HV is not None
    assert np.isfinite(found.hardness_tempered_HV).all()
    return found


@pytest.mark.parametrize(
    ("medium", "boxed"), [*((medium, False) for medium in BATHS), ("oil", True), ("brine", True)]
)
def test_a_coupon_from_cold_to_tempered_is_forecast_near_its_aim(
    medium: str, boxed: bool, tell: Tell
) -> None:
    process = in_a_box(coupon(medium)) if boxed else coupon(medium)
    point = handbook_belief().point(process)
    made(process, point)
    members = Members.of([process], [point])
    works = (lambda: carbon_states(members), lambda: forecast(process, point))
    carbon_s, whole_s = least_of_each(*works, rounds=9)
    spent = budget(process, point)
    name = f"coupon, {medium}{', boxed' if boxed else ''}"
    tell(name, spent[WHOLE], "its carbon alone", whole_s / carbon_s, f"at most {MOST_CARBON_SOLVES:g}, 15 ms")
    if medium == "oil":
        for stage in (*STAGES, REST):
            tell(f"  {stage}", spent[stage], "the whole", spent[stage] / spent[WHOLE])
    assert whole_s < BUSY * AIM_S
    assert whole_s < MOST_CARBON_SOLVES * carbon_s
    assert spent[REST] < 0.15 * spent[WHOLE]  # else a stage is missing from the budget


@pytest.mark.parametrize("medium", ["oil", "water"])
def test_two_hundred_draws_are_solved_together(medium: str, tell: Tell) -> None:
    process, belief = coupon(medium), handbook_belief()
    drawn, point = belief.constants(process, DRAWS), belief.point(process)
    assert made(process, drawn).carbon_wt.shape[0] == DRAWS
    together_s, one_s = least_of_each(
        lambda: forecast(process, drawn), lambda: forecast(process, point), rounds=4
    )
    ratio = together_s / (DRAWS * one_s)
    tell(f"{DRAWS} draws, {medium}", together_s, "one by one", ratio, f"at most {MOST_OF_ONE_BY_ONE}, 400 ms")
    assert together_s < BUSY * DRAWS_AIM_S
    assert ratio < MOST_OF_ONE_BY_ONE
