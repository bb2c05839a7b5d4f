"""Kept stages of a forecast: the same answer, and only what changed is worked out again."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import model.stages
from model.belief import Constants, handbook_belief
from model.course import carbon_course
from model.forecast import Forecast, forecast
from model.hardening import hardened_as_quenched
from model.members import Members
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
    Temper,
    slow_cool_history,
)
from model.stages import OF_QUENCH, OF_TEMPER, KeptStages
from model.steels import steel_of_grade

SUPPLY = PackSupply("lump", 5.0)
DRAWS = 12
PLAN = Process(
    steel_of_grade("1018"),
    Section(Shape.ROD, 12e-3),
    (
        Carburize(History.hold(1198.15, 7200.0), SUPPLY),
        SlowCool(slow_cool_history(1198.15), SUPPLY),
        Reheat(History.hold(1063.15, 900.0)),
        Quench("water"),
        Temper(453.15, 3600.0),
    ),
    keys=Keys(bath="1", oven="1"),
)


def with_step(process: Process, place: int, step: Any) -> Process:
    return replace(process, steps=(*process.steps[:place], step, *process.steps[place + 1 :]))


HOTTER = with_step(PLAN, 4, Temper(473.15, 3600.0))
IN_OIL = replace(with_step(PLAN, 3, Quench("oil")), keys=Keys(bath="2", oven="1"))
REHEATED_HOTTER = with_step(PLAN, 2, Reheat(History.hold(1073.15, 900.0)))
THICKER = replace(PLAN, section=Section(Shape.ROD, 13e-3))


def drawn(process: Process) -> Constants:
    return handbook_belief().constants(process, DRAWS)


def sums_of(found: Forecast) -> list[np.ndarray]:
    assert found.hardened is not None
    return [found.carbon_wt, *vars(found.hardened).values(), found.carbon_gain_kg_per_m2]


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each stage was worked out."""
    counts: Counter[str] = Counter()
    for work in (carbon_course, hardened_as_quenched):

        def counting(*asked: Any, work: Any = work) -> Any:
            counts[work.__name__] += 1
            return work(*asked)

        monkeypatch.setattr(model.stages, work.__name__, counting)
    return counts


@pytest.mark.property
@pytest.mark.parametrize(
    ("changed", "again"),
    [
        (PLAN, {}),
        (HOTTER, {}),
        (IN_OIL, {"hardened_as_quenched": 1}),
        (REHEATED_HOTTER, {"carbon_course": 1, "hardened_as_quenched": 1}),
        (THICKER, {"carbon_course": 1, "hardened_as_quenched": 1}),
    ],
    ids=["the same", "another temper", "another bath", "another reheat", "another part"],
)
def test_only_what_hangs_on_the_change_is_worked_out_again(
    changed: Process, again: dict[str, int], counted: Counter[str]
) -> None:
    stages = KeptStages(4)
    forecast(PLAN, drawn(PLAN), stages)
    counted.clear()
    kept = forecast(changed, drawn(changed), stages)
    assert counted == again
    for kept_values, afresh in zip(sums_of(kept), sums_of(forecast(changed, drawn(changed))), strict=True):
        np.testing.assert_array_equal(kept_values, afresh)


@pytest.mark.property
def test_no_stage_asks_for_a_constant_that_is_left_out_of_its_mark() -> None:
    constants = drawn(PLAN)
    unknown = np.full(DRAWS, np.nan)
    whole = Members.of([PLAN], [constants])
    carbon = Members.of([PLAN], [replace(constants, **dict.fromkeys((*OF_TEMPER, *OF_QUENCH), unknown))])
    depth_m, carbon_wt = carbon_course(carbon)[-1].end.nodes()
    np.testing.assert_array_equal(carbon_wt, carbon_course(whole)[-1].end.nodes()[1])
    quenched = Members.of([PLAN], [replace(constants, **dict.fromkeys(OF_TEMPER, unknown))])
    hard, known = (hardened_as_quenched(one, depth_m[:1], carbon_wt) for one in (quenched, whole))
    np.testing.assert_array_equal(hard.hardness_HV, known.hardness_HV)


@pytest.mark.property
def test_the_oldest_of_too_many_is_worked_out_again(counted: Counter[str]) -> None:
    stages = KeptStages(1)
    for process in (PLAN, THICKER, PLAN):
        stages.carbon(Members.of([process], [drawn(process)]))
    assert counted == {"carbon_course": 3}


@pytest.mark.property
def test_a_middle_and_draws_quenched_together_are_as_each_alone(counted: Counter[str]) -> None:
    stages, several = KeptStages(4), [handbook_belief().point(PLAN), drawn(PLAN)]
    stages.quench_together(PLAN, several)
    together = [forecast(PLAN, own, stages) for own in several]
    assert counted == {"carbon_course": 2, "hardened_as_quenched": 1}
    for found, own in zip(together, several, strict=True):
        alone = forecast(PLAN, own)
        np.testing.assert_array_equal(found.carbon_wt, alone.carbon_wt)
        assert found.hardness_HV is not None
        assert alone.hardness_HV is not None
        # 5 HV is a tenth of the sd of a tester's reading through a case
        np.testing.assert_allclose(found.hardness_HV, alone.hardness_HV, atol=5.0)
        assert found.hardness_HV.shape == (own.draws, len(found.depth_m))
