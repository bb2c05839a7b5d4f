"""What can be done with a piece that came out wrong, from its readings and the carbon that is there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.belief import handbook_belief
from model.course import carbon_states
from model.errors import NotPossible
from model.grid import Grid
from model.members import Members
from model.narrowed import DRAWN, LEAST_EFFECTIVE, Narrowed, Taken, narrow
from model.outcome import Wanted
from model.piece_now import CELLS, heat_again, piece_now
from model.planner import Goal
from model.process import (
    Carburize,
    EvenOut,
    HeldSurface,
    History,
    Keys,
    PackSupply,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
    Supply,
    Temper,
    slow_cool_history,
)
from model.readings import DepthReading, HardnessReading, Observation
from model.remedies import advise, next_process
from model.remedy import Advice, BathChoice, Remedy, Way
from model.steels import steel_of_grade

pytestmark = pytest.mark.property

PACK = PackSupply("lump", 10.0)
SOAK_K, REHEAT_K = 1193.15, 1063.15
WINDOW = Goal("rim", 0.6e-3, 0.9e-3)
WANTED = Wanted(WINDOW, 60.0)
BATHS = (BathChoice("1", Quench("water")), BathChoice("2", Quench("oil")))


def made(
    hours: float, reheat_K: float = REHEAT_K, medium: str = "water", temper: bool = True, feed: Supply = PACK
) -> Process:
    """A 10 mm rod of 1018, soaked, cooled shut, reheated and quenched."""
    steps = (
        Carburize(History.hold(SOAK_K, 3600.0 * hours), feed),
        SlowCool(slow_cool_history(SOAK_K), feed),
        Reheat(History.hold(reheat_K, 900.0)),
        Quench(medium),
        *((Temper(453.15, 3600.0),) if temper else ()),
    )
    keys = Keys("1", "1", "1", "1", "", "thermocouple:1", "1")
    return Process(steel_of_grade("1018"), Section(Shape.ROD, 0.01), steps, keys)


def read(process: Process, hardness_HRC: float | None = None, depth_mm: float | None = None) -> list[Taken]:
    after = "temper" if isinstance(process.steps[-1], Temper) else "quench"
    taken = []
    if hardness_HRC is not None:
        reading = HardnessReading("HRC", hardness_HRC, "rockwell:1", after=after)
        taken.append(Taken(Observation("hardness", process, reading)))
    if depth_mm is not None:
        taken.append(
            Taken(Observation("depth", process, DepthReading("break", 1e-3 * depth_mm, after=after)))
        )
    return taken


def narrowed(process: Process, taken: list[Taken]) -> Narrowed:
    return narrow(handbook_belief(), taken, [process, *(next_process(process, bath) for bath in BATHS)])


def advice(process: Process, taken: list[Taken], wanted: Wanted = WANTED, **more: float) -> Advice:
    return advise(process, narrowed(process, taken), wanted, BATHS, 3600.0, **more)


def the(found: Advice, way: Way) -> Remedy:
    return next(one for one in found.ways if one.way == way)


def depth_m(process: Process, taken: list[Taken]) -> tuple[float, float, float]:
    outcome = the(advice(process, taken), "as_it_is").outcome
    assert outcome is not None
    return outcome.depth_m


def test_without_a_reading_every_draw_counts_the_same() -> None:
    found = narrowed(made(3.0), [])
    assert found.effective == pytest.approx(DRAWN)
    assert (found.used, found.widened) == ((), False)


def test_what_was_read_is_where_the_piece_is_taken_to_stand() -> None:
    process = made(3.0)
    before = depth_m(process, [])
    after = depth_m(process, read(process, depth_mm=0.40))
    assert abs(after[1] - 0.40e-3) < abs(before[1] - 0.40e-3)
    assert after[2] - after[0] < 0.6 * (before[2] - before[0])


def test_a_reading_that_the_belief_has_learnt_from_is_not_counted_twice() -> None:
    process = made(3.0)
    fresh = read(process, depth_mm=0.40)
    learnt = [replace(one, is_learnt=True) for one in fresh]
    assert narrowed(process, learnt).effective > 2.0 * narrowed(process, fresh).effective


def test_readings_that_fit_to_nothing_are_trusted_less_and_say_so() -> None:
    process = made(3.0)
    found = narrowed(process, read(process, hardness_HRC=25.0, depth_mm=1.5))
    assert found.widened
    assert found.effective == pytest.approx(LEAST_EFFECTIVE, rel=0.02)


def test_heating_again_from_the_carbon_that_is_there_is_one_story_solved_in_two_pieces() -> None:
    process = made(3.0)
    constants = narrowed(process, []).constants(process)
    now = piece_now(process, constants)
    more = (Carburize(History.hold(SOAK_K, 7200.0), PACK), SlowCool(slow_cool_history(SOAK_K), PACK))
    in_two = heat_again(process, now, constants, [more])[0]
    hot = tuple(step for step in process.steps if not isinstance(step, Quench | Temper))
    whole = Members.of([replace(process, steps=(*hot, *more))], [constants])
    depths, carbon = carbon_states(whole, CELLS)[-1].nodes()
    at_once = np.array([np.interp(now.depth_m, depths[0], row) for row in carbon])
    assert np.abs(in_two - at_once).max() < 0.01


def test_a_sealed_surface_only_spreads_the_carbon_and_a_box_adds_to_it() -> None:
    process = made(3.0)
    constants = narrowed(process, []).constants(process)
    now = piece_now(process, constants)
    centres, volumes = _rod()

    def total(carbon_wt: np.ndarray) -> np.ndarray:
        return np.array([np.interp(centres, now.depth_m, row) for row in carbon_wt]) @ volumes

    sealed = heat_again(process, now, constants, [(EvenOut(History.hold(SOAK_K, 7200.0)),)])[0]
    fed = heat_again(process, now, constants, [(Carburize(History.hold(SOAK_K, 7200.0), PACK),)])[0]
    assert total(sealed) == pytest.approx(total(now.carbon_wt), rel=2e-3)
    assert (sealed[:, 0] < now.carbon_wt[:, 0]).all()
    assert (total(fed) > 1.05 * total(now.carbon_wt)).all()


def _rod() -> tuple[np.ndarray, np.ndarray]:
    grid = Grid.of_sections([Section(Shape.ROD, 0.01)], CELLS)
    radius = 0.005 - grid.faces_m[0]
    return grid.centres_m[0], -np.diff(radius**2)


def test_a_thin_case_goes_back_in_the_box_for_as_long_as_it_lacks() -> None:
    process = made(3.0)
    thin, thinner = (the(advice(process, read(process, 62.0, mm)), "box") for mm in (0.45, 0.30))
    for way in (thin, thinner):
        assert way.outcome is not None
        assert WINDOW.depth_low_m < way.outcome.depth_m[1] < WINDOW.depth_high_m
        assert way.outcome.odds > 0.4
    assert (thinner.seconds or 0.0) > (thin.seconds or 0.0) > 900.0


def test_a_thin_case_is_not_deepened_by_a_temper_or_another_quench() -> None:
    process = made(2.0)
    found = advice(process, read(process, 61.0, 0.30))
    assert found.ways[0].way == "box"
    assert {way.why_not for way in found.ways if way.way == "reheat"} == {"too_shallow"}


def test_no_fire_makes_a_case_shallower() -> None:
    process = made(20.0)
    found = advice(process, read(process, 61.0, 1.5))
    assert the(found, "box").outcome is None
    assert {way.why_not for way in found.ways if way.way != "even_out"} == {"too_deep"}


def test_work_quenched_too_cold_is_reheated_and_quenched() -> None:
    process = made(6.0, reheat_K=980.0)
    found = advice(process, read(process, 25.0, 0.75))
    assert found.standing.hardened < 0.1
    assert found.ways[0].way == "reheat"
    assert found.ways[0].outcome is not None
    assert found.ways[0].outcome.odds_hardness > 0.5


def test_slack_work_is_quenched_in_the_faster_bath() -> None:
    process = made(6.0, medium="air")
    found = advice(process, read(process, 36.0, 0.75))
    assert found.standing.hardened < 0.9
    assert found.ways[0].way == "reheat"
    assert found.ways[0].medium == "water"


def test_a_skin_that_is_too_hard_is_tempered_hotter_than_it_was() -> None:
    process = made(6.0)
    found = advice(process, read(process, 64.5, 0.75))
    assert found.ways[0].way == "temper"
    assert (found.ways[0].temper_K or 0.0) > 453.15
    assert found.ways[0].outcome is not None
    assert found.ways[0].outcome.skin_HRC[1] == pytest.approx(60.0, abs=1.0)


def test_a_skin_that_reads_soft_is_never_tempered_softer() -> None:
    process = made(6.0)
    found = advice(process, read(process, 64.5, 0.75), reads_HRC=58.0)
    assert the(found, "temper").why_not == "soft_already"


def test_only_a_skin_that_is_too_rich_is_evened_out() -> None:
    rich, poor = made(3.0, feed=HeldSurface(1.25)), made(3.0, feed=HeldSurface(0.7))
    evened = the(advice(rich, []), "even_out")
    assert evened.outcome is not None
    assert evened.why_not != "not_rich"
    assert the(advice(poor, []), "even_out").why_not == "not_rich"


def test_odds_of_both_are_no_better_than_of_either() -> None:
    process = made(4.0)
    for way in advice(process, read(process, 60.0, 0.55)).ways:
        if way.outcome is not None:
            assert way.outcome.odds_hardness is not None
            each = (way.outcome.odds_depth, way.outcome.odds_hardness)
            assert 0.0 <= way.outcome.odds <= min(each) + 1e-12
            assert max(each) <= 1.0


def test_where_no_hardness_is_wanted_only_the_case_counts() -> None:
    process = made(4.0)
    left = the(advice(process, [], Wanted(WINDOW)), "as_it_is").outcome
    assert left is not None
    assert left.odds_hardness is None
    assert left.odds == pytest.approx(left.odds_depth)


def test_a_shop_without_a_bath_is_refused() -> None:
    process = made(4.0)
    with pytest.raises(NotPossible, match="no bath"):
        advise(process, narrowed(process, []), WANTED, (), 3600.0)


def test_the_same_question_has_the_same_answer() -> None:
    process = made(4.0)
    taken = read(process, 60.0, 0.55)
    assert advice(process, taken) == advice(process, taken)
