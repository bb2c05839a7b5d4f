"""Wanted depth, hardness and a blow: trends of their odds, and which gives way where they conflict."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import handbook_belief
from model.bending import Bend
from model.planner import Goal
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
from model.steels import steel_of_grade
from model.tried_choices import quench_choices, try_choices
from model.units import HOUR_s, celsius_to_kelvin
from model.wants import Blow, Met, Tried, Wants, met_of, weigh

pytestmark = pytest.mark.property

HEAT_K = celsius_to_kelvin(925.0)
SUPPLY = PackSupply("lump", 5.0)
HOUR_AT_180 = Temper(celsius_to_kelvin(180.0), HOUR_s)
HOUR_AT_255 = Temper(celsius_to_kelvin(255.0), HOUR_s)


def route(thickness_m: float, hours: float, medium: str = "water", direct: bool = False) -> Process:
    between = (
        SlowCool(slow_cool_history(HEAT_K), SUPPLY),
        Reheat(History.hold(celsius_to_kelvin(790.0), 900.0)),
    )
    return Process(
        steel=steel_of_grade("1018"),
        section=Section(Shape.PLATE, thickness_m),
        steps=(
            Carburize(History.hold(HEAT_K, hours * HOUR_s), SUPPLY),
            *(() if direct else between),
            Quench(medium),
            HOUR_AT_180,
        ),
        keys=Keys(bath=medium),
        box_inner_m=0.1,
    )


def struck(thickness_m: float, low_m: float, high_m: float, hardness_HRC: float | None = 60.0) -> Wants:
    return Wants(Goal("rim", low_m, high_m), hardness_HRC, Blow(Bend(10.0 * thickness_m), 30.0))


def tried(wants: Wants, *routes: Process, tempers: tuple[Temper, ...] = (HOUR_AT_180,)) -> list[Tried]:
    return list(try_choices(wants, quench_choices(routes, handbook_belief(), draws=24), tempers))


def met(depth: float, hardness: float, blow: float, depth_m: float = 0.6e-3, skin_HRC: float = 60.0) -> Met:
    return Met(depth, hardness, blow, min(depth, hardness, blow), depth_m, skin_HRC)


def test_a_deeper_case_on_the_same_section_snaps_more() -> None:
    found = tried(struck(6e-3, 0.2e-3, 0.9e-3), *(route(6e-3, hours) for hours in (1.0, 3.0, 6.0)))
    thin, middling, deep = (one.met for one in found)
    assert thin.depth_m < middling.depth_m < deep.depth_m
    assert thin.blow > middling.blow > deep.blow


def test_a_thinner_section_with_the_same_case_snaps_more() -> None:
    found = [tried(struck(size, 0.2e-3, 0.9e-3), route(size, 3.0))[0].met for size in (3e-3, 6e-3, 12e-3)]
    assert found[0].blow < found[1].blow <= found[2].blow
    assert found[0].depth_m == pytest.approx(found[2].depth_m, rel=0.1)


def test_a_hotter_temper_softens_and_a_soft_bath_misses_the_hardness() -> None:
    wants = struck(12e-3, 0.2e-3, 0.9e-3)
    found = tried(wants, route(12e-3, 3.0), route(12e-3, 3.0, "oil"), tempers=(HOUR_AT_180, HOUR_AT_255))
    in_water = [one.met for one in found if one.route == 0]
    in_oil = [one.met for one in found if one.route == 1]
    assert in_water[0].skin_HRC > in_water[1].skin_HRC + 1.0
    assert in_water[0].hardness > in_water[1].hardness
    assert in_oil[0].skin_HRC < in_water[0].skin_HRC


def test_routes_that_differ_in_their_bath_only_have_the_same_case() -> None:
    found = tried(struck(6e-3, 0.2e-3, 0.9e-3), route(6e-3, 3.0), route(6e-3, 3.0, "brine"))
    assert found[0].met.depth_m == pytest.approx(found[1].met.depth_m, rel=1e-9)


def test_the_other_way_to_the_quench_is_tried_beside_the_first() -> None:
    found = tried(struck(6e-3, 0.2e-3, 0.9e-3), route(6e-3, 3.0), route(6e-3, 3.0, direct=True))
    assert [one.route for one in found] == [0, 1]
    # the slow cool goes on feeding, so that the same soak ends deeper
    assert found[0].met.depth_m > found[1].met.depth_m


def test_choices_far_from_depth_and_from_hardness_are_left_out() -> None:
    assert tried(struck(12e-3, 1.5e-3, 2.0e-3), route(12e-3, 1.0, "air")) == []


def test_odds_of_all_at_once_are_no_better_than_those_of_any() -> None:
    for one in tried(struck(6e-3, 0.4e-3, 0.7e-3), *(route(6e-3, hours) for hours in (1.0, 3.0))):
        assert 0.0 <= one.met.together <= min(one.met.depth, one.met.hardness, one.met.blow)


def test_what_is_ground_off_is_neither_case_nor_section() -> None:
    wants = struck(6e-3, 0.1e-3, 0.9e-3)
    ground = replace(wants, goal=replace(wants.goal, grinding_allowance_m=0.3e-3))
    whole, less = (tried(one, route(6e-3, 3.0))[0].met for one in (wants, ground))
    assert less.depth_m == pytest.approx(whole.depth_m - 0.3e-3, abs=1e-6)
    assert less.blow > whole.blow


def test_a_want_that_is_not_asked_is_always_met() -> None:
    depth_only = Wants(Goal("rim", 0.2e-3, 0.9e-3))
    found = met_of(depth_only, np.array([0.3e-3, 1.2e-3]), np.array([20.0, 30.0]), None)
    assert (found.depth, found.hardness, found.blow, found.together) == (0.5, 1.0, 1.0, 0.5)


def test_a_deep_hard_case_on_a_thin_pawl_conflicts_and_a_thinner_case_is_near() -> None:
    wants = struck(6e-3, 0.7e-3, 0.9e-3)
    found = tried(wants, *(route(6e-3, hours) for hours in (0.75, 1.5, 3.0, 7.0)))
    deep = next(one for one in found if one.route == 3)
    answer = weigh(wants, deep.met, 0.0, found, [2, 2, 2, 0])
    assert "blow" in answer.missed
    assert not answer.they_fit
    thinner = next(one for one in answer.nearest if one.gives_way == "depth")
    assert thinner.tried.met.blow > deep.met.blow + 0.2
    assert thinner.tried.met.depth_m < 0.7e-3


def test_a_thin_case_on_a_thick_bar_conflicts_with_nothing() -> None:
    wants = struck(25e-3, 0.25e-3, 0.7e-3)
    now = tried(wants, route(25e-3, 2.0))[0].met
    answer = weigh(wants, now, now.depth)
    assert answer.missed == ()
    assert answer.they_fit
    assert answer.nearest == ()


def test_among_choices_that_meet_all_the_one_that_changes_least_is_nearest() -> None:
    wants = struck(6e-3, 0.4e-3, 0.8e-3)
    good = [Tried(0, 0, met(0.6, 0.9, 0.9)), Tried(1, 0, met(0.6, 0.8, 0.8))]
    answer = weigh(wants, met(0.6, 0.9, 0.2), 0.6, good, [3, 1])
    assert answer.missed == ("blow",)
    assert answer.they_fit
    assert [(one.gives_way, one.tried.route) for one in answer.nearest] == [(None, 1)]


def test_what_gives_way_gives_up_as_little_as_it_can() -> None:
    wants = struck(6e-3, 0.5e-3, 0.8e-3)
    choices = [
        Tried(0, 0, met(0.0, 0.9, 0.9, depth_m=0.2e-3)),
        Tried(1, 0, met(0.1, 0.9, 0.8, depth_m=0.4e-3)),
        Tried(2, 0, met(0.6, 0.0, 0.8, skin_HRC=52.0)),
        Tried(3, 0, met(0.6, 0.2, 0.8, skin_HRC=57.0)),
    ]
    answer = weigh(wants, met(0.6, 0.9, 0.3), 0.6, choices, [1, 1, 1, 1])
    assert not answer.they_fit
    assert [(one.gives_way, one.tried.route) for one in answer.nearest] == [("depth", 1), ("hardness", 3)]


def test_a_forge_known_too_little_for_a_narrow_window_is_no_conflict() -> None:
    wants = struck(12e-3, 0.5e-3, 0.55e-3)
    answer = weigh(wants, met(0.25, 0.9, 0.9), 0.27, [Tried(0, 0, met(0.27, 0.9, 0.9))], [1])
    assert answer.missed == ()


def test_a_section_that_snaps_whatever_is_done_is_never_called_safe() -> None:
    wants = struck(3e-3, 0.5e-3, 0.8e-3)
    choices = [Tried(0, 0, met(0.6, 0.9, 0.4)), Tried(1, 0, met(0.0, 0.9, 0.55, depth_m=0.2e-3))]
    answer = weigh(wants, met(0.6, 0.9, 0.2), 0.6, choices, [1, 1])
    assert not answer.they_fit
    assert answer.best["blow"] == 0.55
    assert answer.nearest[0].gives_way == "depth"
    assert answer.nearest[0].tried.route == 1


def test_a_case_that_could_be_had_at_another_soak_is_missed_by_this_one() -> None:
    wants = struck(6e-3, 0.7e-3, 0.9e-3)
    answer = weigh(wants, met(0.1, 0.9, 0.8, depth_m=0.4e-3), 0.4)
    assert answer.missed == ("depth",)
    assert not answer.they_fit


def test_a_choice_that_gives_up_as_much_as_the_present_one_is_not_offered() -> None:
    wants = struck(6e-3, 0.5e-3, 0.8e-3)
    no_better = Tried(0, 0, met(0.6, 0.9, 0.42))
    better = Tried(1, 0, met(0.6, 0.9, 0.6))
    now = met(0.6, 0.9, 0.4)
    assert weigh(wants, now, 0.6, [no_better], [1]).nearest == ()
    nearest = weigh(wants, now, 0.6, [no_better, better], [1, 1]).nearest
    assert [one.tried.route for one in nearest] == [1]


def test_where_what_is_near_is_not_safe_the_safest_is_offered_beside_it() -> None:
    wants = struck(6e-3, 0.6e-3, 0.8e-3)
    choices = [
        Tried(0, 0, met(0.1, 0.9, 0.65, depth_m=0.5e-3)),
        Tried(1, 0, met(0.0, 0.9, 0.78, depth_m=0.2e-3)),
        Tried(1, 1, met(0.0, 0.9, 0.79, depth_m=0.2e-3)),
        Tried(2, 0, met(0.6, 0.9, 0.3)),
    ]
    answer = weigh(wants, met(0.6, 0.9, 0.3), 0.6, choices, [1, 1, 2, 2])
    # of two that snap alike the one that changes less
    assert [(one.gives_way, one.tried.route, one.tried.temper) for one in answer.nearest] == [
        ("depth", 0, 0),
        ("depth", 1, 0),
    ]
