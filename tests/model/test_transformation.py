"""Laws of the transformation and of the part from fire to cold, whatever the steel and the bath."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.as_quenched import CASE_FROM_WT, CORE_TO_WT
from model.baths import BathKind, Baths
from model.conversion import rockwell_c_continued
from model.jominy import core_rockwell, jominy_distance
from model.kirkaldy import Kinetics, bainite_brake
from model.pack import alloy_factor_gunn_1967
from model.process import Section, Shape
from model.progress_integral import (
    brake_place,
    braked_integral,
    progress_integral,
    share_after,
    share_and_braked,
)
from model.quench import QUENCH_TOLERANCE_K, quench, quench_grid
from model.quenched_part import HotPart, QuenchedPart, quench_part
from model.steels import Composition
from model.transformation import Forming, Products, transform

Array = NDArray[np.float64]
MILD = Composition(C=0.18, Mn=0.6, Si=0.2, Cr=0.06, Ni=0.06)

STEEL = st.builds(
    Composition,
    C=st.just(0.2),
    Mn=st.floats(0.3, 1.4),
    Si=st.floats(0.0, 0.5),
    Cr=st.floats(0.0, 1.5),
    Ni=st.floats(0.0, 2.0),
    Mo=st.floats(0.0, 0.3),
)


def straight(carbon_wt: Array, steel: Composition, rates: Array, grain_number: float = 7.0) -> Products:
    """Transform along straight coolings from 870 C, one a member."""
    celsius = np.linspace(870.0, 20.0, 300)
    seconds = (870.0 - celsius) / rates[:, None]
    members = len(rates)
    kelvin = np.broadcast_to(celsius[None, :, None] + 273.15, (members, 300, len(carbon_wt)))
    return transform(np.tile(carbon_wt, (members, 1)), steel, grain_number, seconds, kelvin)


def part_of(
    section: Section,
    kinds: list[BathKind],
    steel: Composition = MILD,
    case_wt: float = 0.85,
    fire_C: float = 850.0,
    severity: float = 1.0,
) -> QuenchedPart:
    """Quench a part with a case half a millimetre deep, one member a bath."""
    count = len(kinds)
    through_m = 0.5 * section.size_m
    depth = (through_m * np.linspace(0.0, 1.0, 30) ** 2)[None]
    carbon = steel.C + (case_wt - steel.C) * np.exp(-((depth / 0.5e-3) ** 2))
    part = HotPart(
        sections=[section],
        depth_m=depth,
        carbon_wt=np.tile(carbon, (count, 1)),
        temperature_K=np.full(count, fire_C + 273.15),
        composition=steel,
        alloy_factor=np.full(count, alloy_factor_gunn_1967(steel)),
        grain_number=np.full(count, 8.0),
        retained_factor=np.ones(count),
        martensite_shift_HV=np.zeros(count),
    )
    baths = Baths.of(kinds, np.full(count, severity))
    return quench_part(part, baths, np.full(count, 2.0), np.full(count, 293.15))


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(share=st.floats(0.001, 0.999), brake=st.floats(0.0, 10.0))
def test_a_share_is_found_again_from_its_integral(share: float, brake: float) -> None:
    assert float(share_after(progress_integral(share, 2.0 / 3.0))) == pytest.approx(share, abs=1e-3)
    nearest = round(brake / 0.05) * 0.05
    place = brake_place(np.array(nearest))
    spent = braked_integral(share, nearest)
    assert float(share_after(spent, place)) == pytest.approx(share, abs=5e-3)
    plain = progress_integral(share, 2.0 / 3.0)
    shares, braked = share_and_braked(np.array([plain]), place)
    assert shares == pytest.approx([share], abs=1e-3)
    assert float(braked) == pytest.approx(float(spent), rel=5e-3, abs=5e-3)


@pytest.mark.property
def test_a_hold_transforms_as_the_isothermal_equation_says() -> None:
    steel = Composition(C=0.77, Mn=0.6, Si=0.2)
    kinetics = Kinetics.of(np.array([[0.77]]), steel, 7.0)
    for celsius, name in ((620.0, "pearlite"), (450.0, "bainite")):
        pace = getattr(kinetics.paces(np.array([[[celsius + 273.15]]])), name)[0, 0, 0]
        brake = float(bainite_brake(np.array(0.77), steel))
        for share in (0.1, 0.5, 0.9):
            whole = (
                progress_integral(share, 2.0 / 3.0) if name == "pearlite" else braked_integral(share, brake)
            )
            seconds = np.linspace(0.0, float(whole) / pace, 60)
            products = transform(
                np.array([[0.77]]), steel, 7.0, seconds, np.full((1, 60, 1), celsius + 273.15)
            )
            assert float(getattr(products, name)[0, 0]) == pytest.approx(share, abs=0.01)
            assert float(getattr(products, f"{name}_K")[0, 0]) == pytest.approx(celsius + 273.15)


@pytest.mark.property
@settings(max_examples=40, deadline=None)
@given(steel=STEEL, rate=st.floats(0.01, 1000.0), grain=st.floats(3.0, 10.0))
def test_shares_sum_to_one_and_lie_between_nothing_and_all(
    steel: Composition, rate: float, grain: float
) -> None:
    products = straight(np.linspace(0.05, 1.4, 12), steel, np.array([rate]), grain)
    shares = np.stack([products.ferrite, products.pearlite, products.bainite, products.left])
    assert np.isfinite(shares).all()
    assert shares.min() >= -1e-12
    assert shares.max() <= 1.0 + 1e-9
    assert shares.sum(axis=0) == pytest.approx(np.ones((1, 12)), abs=1e-9)
    formed = np.stack([products.ferrite_K, products.pearlite_K, products.bainite_K])
    known = formed[np.isfinite(formed)]
    assert ((known > 273.15) & (known < 1143.2)).all()


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(steel=STEEL, grain=st.floats(3.0, 10.0))
def test_faster_cooling_never_leaves_less_for_martensite(steel: Composition, grain: float) -> None:
    products = straight(np.linspace(0.05, 1.4, 12), steel, np.geomspace(0.1, 500.0, 9), grain)
    assert (np.diff(products.left, axis=0) >= -1e-9).all()


@pytest.mark.property
def test_a_coarser_grain_and_more_alloy_leave_more_for_martensite() -> None:
    carbon, rates = np.array([0.3, 0.5, 0.8]), np.array([20.0])
    left = [straight(carbon, MILD, rates, grain).left for grain in (9.0, 7.0, 4.0)]
    assert (left[0] <= left[1] + 1e-12).all()
    assert (left[1] <= left[2] + 1e-12).all()
    richer = Composition(C=0.18, Mn=1.2, Si=0.2, Cr=1.0)
    assert (straight(carbon, richer, rates).left >= straight(carbon, MILD, rates).left - 1e-12).all()


@pytest.mark.property
def test_slower_times_of_the_shop_leave_more() -> None:
    celsius = np.linspace(870.0, 20.0, 200)
    seconds, kelvin = (870.0 - celsius) / 60.0, np.tile(celsius[None, :, None] + 273.15, (3, 1, 1))
    times = np.array([0.5, 1.0, 2.0])
    products = transform(np.full((3, 1), 0.77), MILD, 7.0, seconds, kelvin, (times, times, times))
    assert (np.diff(products.left[:, 0]) > 0.0).all()


@pytest.mark.property
def test_austenite_grows_richer_as_ferrite_forms_but_not_past_the_eutectoid() -> None:
    products = straight(np.array([0.1, 0.2, 0.4, 0.9]), MILD, np.array([1.0, 200.0]))
    assert (products.carbon_left_wt >= np.array([0.1, 0.2, 0.4, 0.9]) - 1e-12).all()
    assert (products.carbon_left_wt[:, :3] <= 0.77 + 1e-12).all()
    assert products.carbon_left_wt[:, 3] == pytest.approx([0.9, 0.9])
    slow, fast = products.carbon_left_wt[:, 1]
    assert slow > fast


@pytest.mark.property
def test_members_do_not_touch_each_other_whatever_the_block() -> None:
    rates = np.geomspace(1.0, 300.0, 40)
    together = straight(np.linspace(0.1, 1.0, 30), MILD, rates)
    alone = straight(np.linspace(0.1, 1.0, 30), MILD, rates[17:18])
    assert together.left[17] == pytest.approx(alone.left[0], abs=1e-12)
    assert together.bainite[17] == pytest.approx(alone.bainite[0], abs=1e-12)


@pytest.mark.property
def test_waiting_hot_before_and_cold_after_changes_nothing() -> None:
    carbon = np.array([[0.2, 0.5, 0.8], [0.3, 0.6, 0.9]])
    celsius, seconds = np.linspace(860.0, 60.0, 40), np.linspace(0.0, 60.0, 40)
    waits = np.concatenate([np.full(7, 1100.0), celsius, np.full(9, 20.0)])
    since = np.concatenate([np.linspace(-90.0, -1.0, 7), seconds, np.linspace(61.0, 900.0, 9)])

    def formed(at_C: Array, at_s: Array) -> Products:
        kelvin = np.broadcast_to(at_C[None, :, None] + 273.15, (2, len(at_C), 3))
        return transform(carbon, MILD, 7.0, at_s, kelvin)

    plain, waited = formed(celsius, seconds), formed(waits, since)
    assert (plain.left < 0.99).any()
    for name, values in vars(plain).items():
        assert np.array_equal(values, getattr(waited, name), equal_nan=True), name


@pytest.mark.property
def test_austenite_that_begins_too_cold_for_all_but_martensite_is_left_whole() -> None:
    carbon, cold = np.full((1, 2), 0.6), np.full((1, 5, 2), 350.0)
    never = transform(carbon, MILD, 7.0, np.arange(5.0), cold)
    assert (never.left == 1.0).all()
    assert (never.ferrite + never.pearlite + never.bainite == 0.0).all()


@pytest.mark.property
@settings(max_examples=8, deadline=None)
@given(
    steel=STEEL, size_mm=st.floats(0.5, 300.0), bath_C=st.floats(5.0, 95.0), fire_C=st.floats(700.0, 950.0)
)
def test_any_part_comes_out_whole_and_bounded(
    steel: Composition, size_mm: float, bath_C: float, fire_C: float
) -> None:
    kinds = [BathKind(medium, bath_C + 273.15, "still") for medium in ("air", "oil", "water", "brine")]
    found = part_of(Section(Shape.ROD, size_mm * 1e-3), kinds, steel, fire_C=fire_C)
    parts = {name: value for name, value in vars(found.structure).items() if name != "hardness_HV"}
    total = np.sum(list(parts.values()), axis=0)
    assert total == pytest.approx(np.ones_like(total), abs=1e-6)
    assert all((value >= -1e-9).all() for value in parts.values())
    assert np.isfinite(found.structure.hardness_HV).all()
    assert ((found.structure.hardness_HV > 60.0) & (found.structure.hardness_HV < 1100.0)).all()


@pytest.mark.property
@pytest.mark.parametrize("size_m", [0.003, 0.006, 0.012, 0.030])
def test_a_bath_that_bites_harder_never_gives_less_martensite(size_m: float) -> None:
    # a hundredth is left for the steps of the solver, which differ from member to member
    shares = [
        part_of(Section(Shape.ROD, size_m), [BathKind("oil")], severity=severity).structure
        for severity in (0.6, 0.9, 1.3, 2.0)
    ]
    hard = np.stack([one.martensite + one.retained for one in shares])
    assert (np.diff(hard, axis=0) > -0.03).all()


@pytest.mark.property
def test_a_part_quenched_from_below_ac1_does_not_harden() -> None:
    found = part_of(Section(Shape.ROD, 0.006), [BathKind("water")], fire_C=690.0)
    assert found.structure.martensite.max() == 0.0
    assert found.structure.ferrite == pytest.approx(np.ones((1, 30)))


@pytest.mark.property
def test_air_oil_and_water_come_in_that_order_on_a_small_part_and_size_tells_in_oil() -> None:
    # small-shop trial, 6 mm, steel and method unstated (common practice, no source): air 40, vegetable oil
    # 55, water 65. Order only, and the rough spread of our own best estimate: air 25-42, oil 40-62, water
    # 62-67.
    kinds = [BathKind("air", agitation="still"), BathKind("vegetable oil", 313.15), BathKind("water")]
    found = part_of(Section(Shape.ROD, 0.006), kinds)
    air, oil, water = rockwell_c_continued(found.structure.hardness_HV[:, 0])
    assert 25.0 < air < 42.0
    assert 40.0 < oil < 62.0
    assert 62.0 < water < 67.0
    thicker = part_of(Section(Shape.ROD, 0.012), kinds[1:2])
    assert float(rockwell_c_continued(thicker.structure.hardness_HV[:, 0])[0]) < oil


@pytest.mark.property
def test_case_and_core_meet_without_a_step() -> None:
    carbon = np.linspace(CORE_TO_WT - 0.1, CASE_FROM_WT + 0.1, 81)
    found = part_of(Section(Shape.ROD, 0.020), [BathKind("water")], case_wt=CASE_FROM_WT + 0.2)
    assert np.abs(np.diff(found.structure.hardness_HV[0])).max() < 250.0
    places = core_rockwell(carbon, MILD, 8.0, jominy_distance(np.full(81, 100.0)))
    assert np.abs(np.diff(places)).max() < 1.0


@pytest.mark.property
@settings(deadline=None)
@given(rate=st.floats(0.01, 5000.0), more=st.floats(1.0, 3.0), carbon=st.floats(0.05, 0.6))
def test_a_core_that_cooled_faster_is_never_softer(rate: float, more: float, carbon: float) -> None:
    places = jominy_distance(np.array([rate, rate * more]))
    slow, fast = core_rockwell(np.full(2, carbon), MILD, 7.0, places)
    assert fast >= slow - 1e-6


def test_drawn_compositions_and_sections_go_through_as_columns() -> None:
    steel = Composition(C=0.18, Mn=np.array([[0.5], [0.9]]), Si=0.2)  # type: ignore[arg-type]
    depth = np.array([[0.0, 1e-3, 3e-3], [0.0, 1e-3, 6e-3]])
    part = HotPart(
        sections=[Section(Shape.ROD, 0.006), Section(Shape.PLATE, 0.012)],
        depth_m=depth,
        carbon_wt=np.array([[0.8, 0.4, 0.2], [0.8, 0.4, 0.2]]),
        temperature_K=np.full(2, 1123.15),
        composition=steel,
        alloy_factor=np.ones(2),
        grain_number=np.array([7.0, 8.0]),
        retained_factor=np.ones(2),
        martensite_shift_HV=np.zeros(2),
        time_factors=(1.0, np.array([1.0, 1.5]), 1.0),
    )
    baths = Baths.of([BathKind("oil")], np.array([0.9, 1.1]), np.zeros(2, dtype=np.intp))
    found = quench_part(part, baths, np.full(2, 2.0), np.full(2, 293.15))
    assert found.structure.hardness_HV.shape == (2, 3)
    assert np.isfinite(found.structure.hardness_HV).all()
    assert found.rate_K_per_s[0, -1] > found.rate_K_per_s[1, -1]


@pytest.mark.convergence
@pytest.mark.parametrize("size_m", [0.005, 0.006, 0.008])
def test_the_default_steps_leave_as_much_martensite_as_fine_ones(size_m: float) -> None:
    # oil on small rods: the case is half hardened, where what is left depends on the steps the most
    section, depth = [Section(Shape.ROD, size_m)], np.array([[0.0, 2e-4, 4e-4]])
    carbon = np.array([[0.85, 0.75, 0.55]])
    left = []
    for cells, tolerance_K in ((24, QUENCH_TOLERANCE_K), (48, 0.3)):
        grid = quench_grid(section, cells)
        inside = np.interp(grid.centres_m, depth[0], carbon[0])
        forming = Forming(inside, np.ones_like(inside), MILD, 8.0)
        baths = Baths.of([BathKind("oil")], np.ones(1))
        start_K, entry_s = np.array([1123.15]), np.array([2.0])
        cooling = quench(section, start_K, baths, entry_s, forming, grid, tolerance_K=tolerance_K)
        at = cooling.at_depths(depth)
        left.append(transform(carbon, MILD, 8.0, at.seconds, at.temperature_K).left[0])
    assert left[0] == pytest.approx(left[1], abs=0.06)


@pytest.mark.property
def test_a_rate_is_read_from_what_is_left_of_the_span() -> None:
    found = part_of(Section(Shape.ROD, 0.010), [BathKind("water")], fire_C=720.0)
    cooler = part_of(Section(Shape.ROD, 0.010), [BathKind("water")], fire_C=670.0)
    assert np.isfinite(found.rate_K_per_s).all()
    assert found.rate_K_per_s.max() < 1.0e5
    assert np.isnan(cooler.rate_K_per_s).all()
    assert np.isfinite(cooler.structure.hardness_HV).all()
