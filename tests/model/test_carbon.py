"""Laws that the carbon solver must keep: balance, carbide, members, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.carbon import (
    Segment,
    _Clock,
    depth_at_carbon,
    held,
    sealed,
    solve_carbon,
    steady,
)
from model.errors import NotPossible, OutOfRange
from model.faces import FewFaces, ManyFaces
from model.grid import Grid
from model.line import SIDE_BY_SIDE
from model.process import Section, Shape
from model.transport import Laid, Room
from model.tridiagonal import Chain, Columns
from tests.model.carbon_cases import (
    PACKED_TUBE,
    PLATE,
    ROD,
    SECTIONS,
    HOUR_s,
    cementite_line,
    full_history,
    hold,
    one,
    pack,
    solve_carbon_states,
)

# --- carbon is neither made nor lost -------------------------------------------------------------


def imbalance(profile, start_wt) -> tuple[np.ndarray, np.ndarray]:
    """Carbon in the section less what went in through its faces, and what went in [wt% m]."""
    grid = profile.grid
    inside = grid.carbon_content(profile.carbon_wt - start_wt)
    through = profile.gained_outer_kg_per_m2 + grid.area[:, -1] * profile.gained_inner_kg_per_m2
    return inside - through / 76.0, through / 76.0


@pytest.mark.property
def test_gain_through_the_faces_is_the_gain_of_the_cells_to_one_part_in_ten_thousand_million() -> None:
    profile = solve_carbon(
        Grid.of_sections(SECTIONS), one(0.18), full_history(), saturation_wt=cementite_line
    )
    lost, gained = imbalance(profile, 0.18)
    assert np.all(gained > 1e-5)
    assert np.all(np.abs(lost) < 1e-10 * gained)


@pytest.mark.property
@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    section=st.sampled_from(SECTIONS),
    start=st.floats(0.02, 1.3),
    stretches=st.lists(
        st.tuples(
            st.floats(0.0, 2e4),
            st.floats(1000.0, 1300.0),
            st.floats(1000.0, 1300.0),
            st.sampled_from([0.0, 3e-8, 2e-7, np.inf]),
            st.floats(0.1, 1.4),
        ),
        min_size=1,
        max_size=3,
    ),
)
def test_carbon_balances_in_any_section_and_history(section, start, stretches) -> None:
    segments = [
        Segment(one(seconds), one(first), one(last), steady(transfer, potential), steady(transfer, potential))
        for seconds, first, last, transfer, potential in stretches
    ]
    grid = Grid.of_sections([section], cells=40)
    states = solve_carbon_states(grid, one(start), segments, saturation_wt=cementite_line)
    through = [imbalance(profiles[-1], start)[1] for profiles in states]
    moved = np.abs(np.diff([np.zeros(1), *through], axis=0)).sum()
    lost, _ = imbalance(states[-1][-1], start)
    # a section holds up to a thousand times what a short feed moves: its own round-off is the floor
    floor = 1e-14 * float(grid.carbon_content(np.full((1, 40), start))[0])
    assert abs(lost[0]) <= 1e-10 * moved + floor


@pytest.mark.property
def test_sealed_section_keeps_its_carbon_and_evens_out() -> None:
    grid = Grid.of_sections([PLATE])
    start = 0.2 + 0.8 * np.exp(-grid.depth_m / 0.5e-3)
    profile = solve_carbon(grid, start, [hold(1200.0, 4 * HOUR_s, sealed)])
    assert profile.gained_kg_per_m2[0] == 0.0
    np.testing.assert_allclose(grid.carbon_content(profile.carbon_wt), grid.carbon_content(start), rtol=1e-12)
    assert profile.surface_carbon_wt[0] < start[0, 0] - 0.2
    assert profile.carbon_wt[0, -1] > 0.2


@pytest.mark.property
@pytest.mark.parametrize("supply", [held(1.1), steady(5e-8, 1.1)], ids=["held", "fed"])
def test_longer_feeding_never_leaves_less_carbon(supply) -> None:
    hours = np.array([0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0])
    profile = solve_carbon(Grid.of_sections([ROD]), one(0.2), [hold(1198.0, hours * HOUR_s, supply)])
    assert np.all(np.diff(profile.gained_kg_per_m2) > 0.0)
    assert np.all(np.diff(profile.carbon_wt, axis=0) > -1e-6)
    assert np.all(profile.carbon_wt < 1.1 + 1e-3)


# --- carbide above the saturation line -----------------------------------------------------------


@pytest.mark.property
def test_carbon_above_saturation_sits_still() -> None:
    # 1.2 % all through at 800 C, where austenite dissolves 0.95 %: nothing can diffuse, sealed or held
    grid = Grid.of_sections([PLATE])
    for supply in (sealed, held(1.4)):
        profile = solve_carbon(
            grid, one(1.2), [hold(1073.15, 4 * HOUR_s, supply)], saturation_wt=cementite_line
        )
        np.testing.assert_allclose(profile.carbon_wt, 1.2, atol=1e-12)
        assert profile.gained_kg_per_m2[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.property
def test_surface_takes_up_no_more_than_saturation_and_keeps_its_total_on_cooling() -> None:
    hot = hold(1198.15, 4 * HOUR_s, held(2.0))
    cold = hold(1073.15, 600.0, sealed)
    states = solve_carbon_states(
        Grid.of_sections([PLATE]), one(0.2), [hot, cold], saturation_wt=cementite_line
    )
    line = cementite_line(one(1198.15))[0]
    assert states[0][-1].surface_carbon_wt[0] == pytest.approx(line)
    after = states[1][-1]
    dissolved = cementite_line(one(1073.15))[0]
    assert dissolved + 0.2 < after.surface_carbon_wt[0] <= line
    # only the austenite at the saturated layer's inner edge feeds the core, so the layer thins from within
    before_depth = depth_at_carbon(states[0][-1], dissolved)[0][0]
    assert depth_at_carbon(after, dissolved)[0][0] < before_depth


# --- many members as one array --------------------------------------------------------------------


@pytest.mark.property
@pytest.mark.parametrize("members", [5, SIDE_BY_SIDE])
def test_equal_members_solved_together_equal_one_alone(members: int) -> None:
    alone = solve_carbon(Grid.of_sections([ROD]), one(0.2), full_history(), saturation_wt=cementite_line)
    together = solve_carbon(
        Grid.of_sections([ROD]), np.full(members, 0.2), full_history(), saturation_wt=cementite_line
    )
    np.testing.assert_allclose(together.carbon_wt, np.repeat(alone.carbon_wt, members, axis=0), rtol=1e-11)
    gained = np.repeat(alone.gained_kg_per_m2, members)
    np.testing.assert_allclose(together.gained_kg_per_m2, gained, rtol=1e-11)


@pytest.mark.parametrize("nodes", [6, 7])
def test_systems_side_by_side_are_solved_as_each_by_itself(nodes: int) -> None:
    rng, members, columns = np.random.default_rng(nodes), 3, Columns(3, nodes)
    for _ in range(2):  # what the first left in its room is nothing to the next
        diagonal, off = rng.uniform(2.5, 4.0, (nodes, members)), -rng.uniform(0.0, 1.0, (nodes - 1, members))
        right = rng.uniform(-1.0, 1.0, (2, nodes, members))
        first = columns.first(diagonal.copy(), off.copy(), right[0].copy())
        second = columns.second(right[1].copy())
        for member in range(members):
            chain, own = Chain(), (diagonal[:, member].copy(), off[:, member].copy())
            np.testing.assert_allclose(first[:, member], chain.first(*own, right[0, :, member]), rtol=1e-12)
            np.testing.assert_allclose(second[:, member], chain.second(right[1, :, member]), rtol=1e-12)


@pytest.mark.parametrize("transfer", [np.inf, 1.0e-7, 0.0])
def test_faces_worked_one_by_one_let_through_what_they_do_as_arrays(transfer) -> None:
    laid = Laid.of(Grid.of_sections([PACKED_TUBE], cells=12), 1)
    rng, many_room, few_room = np.random.default_rng(3), Room(laid.line), Room(laid.line)
    offers = laid.area * 3600.0, np.array([transfer, 2.0e-7]), np.array([1.1, 0.9])
    driving, flux, links = rng.uniform(0.2, 1.0, 14), rng.uniform(1e-9, 1e-3, 15), rng.uniform(-1.0, 0.0, 15)
    found = []
    for faces, room in ((ManyFaces.of(laid, *offers), many_room), (FewFaces.of(laid, *offers), few_room)):
        room.driving[:], room.flux[:], coupled = driving, flux, links.copy()
        faces.guess(room.driving)
        guessed = room.driving.copy()
        faces.feed(room)
        faces.couple(room.share, coupled)
        found.append((guessed, room.driving, room.flux, room.share, coupled))
    assert len(laid.fed) == 2
    for as_arrays, one_by_one in zip(*found, strict=True):
        np.testing.assert_allclose(one_by_one, as_arrays, rtol=1e-14)


@pytest.mark.property
def test_rounding_of_a_step_does_not_hold_the_pace() -> None:
    paces = []
    for step_s in (100.0, np.nextafter(100.0, 0.0)):
        clock = _Clock(tolerance=1.0, pace_s=100.0)
        assert clock.judge(step_s, 0.99)
        paces.append(clock.pace_s)
    assert paces[0] < 100.0
    assert paces[1] == pytest.approx(paces[0])


@pytest.mark.property
def test_unlike_members_solved_together_equal_each_alone() -> None:
    sections = [*SECTIONS, Section(Shape.PLATE, 40e-3)]
    start = np.array([0.1, 0.2, 0.15, 0.18, 0.3])
    seconds = np.array([0.0, 600.0, 2.0, 5.0, 3.0]) * np.array([1.0, 1.0, HOUR_s, HOUR_s, HOUR_s])
    first, last = np.array([1150.0, 1180, 1200, 1190, 1210]), np.array([1160.0, 1100, 1200, 1185, 1220])
    beta, potential = np.array([1e-7, 2e-7, np.inf, 5e-8, 0.0]), np.array([1.0, 1.1, 0.9, 1.2, 1.0])
    supply = steady(beta, potential)
    together = solve_carbon(
        Grid.of_sections(sections), start, [Segment(seconds, first, last, supply, supply)], tolerance=2e-5
    )
    for m, section in enumerate(sections):
        own = steady(beta[m], potential[m])
        segment = Segment(one(seconds[m]), one(first[m]), one(last[m]), own, own)
        alone = solve_carbon(Grid.of_sections([section]), one(start[m]), [segment], tolerance=2e-5)
        np.testing.assert_allclose(together.carbon_wt[m], alone.carbon_wt[0], atol=2e-4)
        np.testing.assert_allclose(
            together.gained_kg_per_m2[m], alone.gained_kg_per_m2[0], rtol=1e-3, atol=1e-12
        )
        # a section with no room for a start of its own is left exactly as it was
        if seconds[m] == 0.0:
            assert np.all(together.carbon_wt[m] == start[m])


@pytest.mark.property
def test_member_of_no_duration_keeps_its_skin_as_it_was() -> None:
    feed = hold(1198.0, HOUR_s, held(1.0))
    rest = hold(1198.0, [0.0, 900.0], sealed)
    profile = solve_carbon(Grid.of_sections([PLATE]), np.array([0.2, 0.2]), [feed, rest])
    assert profile.surface_carbon_wt[0] == pytest.approx(1.0)
    assert profile.surface_carbon_wt[1] < 0.9


@pytest.mark.property
def test_recorded_moments_equal_solves_that_stop_there() -> None:
    grid = Grid.of_sections([PLATE])
    record = (0.1, 0.25, 0.5)
    profiles = solve_carbon_states(grid, one(0.2), [hold(1198.0, 4 * HOUR_s, pack, record=record)])[0]
    assert len(profiles) == 4
    for fraction, kept in zip((*record, 1.0), profiles, strict=True):
        stopped = solve_carbon(grid, one(0.2), [hold(1198.0, 4 * HOUR_s * fraction, pack)])
        np.testing.assert_allclose(kept.carbon_wt, stopped.carbon_wt, atol=1e-3)
        np.testing.assert_allclose(kept.gained_kg_per_m2, stopped.gained_kg_per_m2, rtol=2e-3)


# --- what is refused --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("segment", "path"),
    [
        (hold(1198.0, -1.0, sealed), "segments.duration_s"),
        (hold(1198.0, np.nan, sealed), "segments.duration_s"),
        (hold(5000.0, 60.0, sealed), "segments.start_K"),
        (Segment(one(60.0), one(1198.0), one(np.inf), sealed), "segments.end_K"),
    ],
)
def test_impossible_stretches_are_refused_by_name(segment, path) -> None:
    with pytest.raises(OutOfRange) as refusal:
        solve_carbon(Grid.of_sections([PLATE]), one(0.2), [segment])
    assert refusal.value.path == path


def test_recorded_moments_outside_a_stretch_are_refused() -> None:
    with pytest.raises(NotPossible, match="recorded moment"):
        hold(1198.0, 60.0, sealed, record=(0.5, 1.5))


def test_supply_that_is_not_a_number_is_refused_and_does_not_hang() -> None:
    with pytest.raises(NotPossible, match="no step is small enough"):
        solve_carbon(Grid.of_sections([PLATE]), one(0.2), [hold(1198.0, 3600.0, steady(1e-7, np.nan))])


@pytest.mark.property
def test_cooling_to_the_room_stops_the_carbon_where_it_is() -> None:
    hot = hold(1198.0, HOUR_s, held(1.0))
    cooling = Segment(one(HOUR_s), one(600.0), one(293.15), sealed)
    states = solve_carbon_states(Grid.of_sections([PLATE]), one(0.2), [hot, cooling])
    np.testing.assert_allclose(states[1][-1].carbon_wt, states[0][-1].carbon_wt, atol=1e-4)


def test_impossible_carbon_and_empty_processes_are_refused() -> None:
    grid = Grid.of_sections([PLATE])
    with pytest.raises(OutOfRange, match="start_carbon_wt"):
        solve_carbon(grid, one(-0.1), [hold(1198.0, 60.0, sealed)])
    with pytest.raises(NotPossible, match="no stretch"):
        solve_carbon(grid, one(0.2), [])


@pytest.mark.parametrize(
    "section",
    [Section(Shape.PLATE, 0.0), Section(Shape.TUBE, 10e-3), Section(Shape.TUBE, 10e-3, 12e-3)],
    ids=["no thickness", "no bore", "bore too wide"],
)
def test_sections_that_are_none_are_refused(section) -> None:
    with pytest.raises(NotPossible, match="section"):
        Grid.of_sections([section])
