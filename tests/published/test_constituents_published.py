"""What the constituents are and when they form, against formulas that the model does not use."""

from __future__ import annotations

import numpy as np
import pytest

from model.as_quenched import as_quenched
from model.conversion import rockwell_c_continued
from model.hardness import ferrite_pearlite_vickers_maynier_1978, martensite_vickers
from model.jominy import core_rockwell, jominy_distance
from model.kirkaldy import Kinetics
from model.li_kinetics import ferrite_seconds_li_1998
from model.product_hardness import bainite_vickers
from model.progress_integral import progress_integral
from model.steels import Composition, ac1_andrews_1965, ac3_andrews_1965
from model.structure import Hot, retained_share_koistinen_marburger_1959
from model.transformation import Products, transform

pytestmark = pytest.mark.published

STRUCTURAL = Composition(Si=0.2, Mn=0.5)
MID_8620 = Composition(Si=0.25, Mn=0.80, Ni=0.55, Cr=0.50, Mo=0.20)
CHROME_MOLY = Composition(Si=0.25, Mn=0.85, Cr=0.95, Mo=0.2)


@pytest.mark.parametrize(
    ("steel", "carbon_wt", "martensite_HV"),
    # Maynier, Jungmann & Dollet 1978, martensite, at 360000, 108000 and 3600 K/h (memory, H; recomputed):
    # another set of steels than A255's, which we use. 2 % to 4 % apart
    [(STRUCTURAL, 0.2, 444.4), (MID_8620, 0.2, 450.5), (CHROME_MOLY, 0.4, 612.6)],
)
def test_martensite_of_cores_agrees_with_maynier(
    steel: Composition, carbon_wt: float, martensite_HV: float
) -> None:
    assert float(martensite_vickers(carbon_wt)) == pytest.approx(martensite_HV, rel=0.05)


def test_low_carbon_bainite_agrees_with_maynier_within_a_fifth() -> None:
    # 287.7 and 297.1 HV, same source: ours, at 425 C, is 0.68 of the eutectoid's by a guess of the notes
    found = float(bainite_vickers(np.array([698.15]), np.array([0.2]))[0])
    assert found == pytest.approx(287.7, rel=0.2)
    assert found == pytest.approx(297.1, rel=0.2)


def test_slow_steel_is_softer_by_maynier() -> None:
    # the two rates of one steel, Maynier 1978 (memory, H; recomputed)
    rates = (360000.0, 3600.0)
    fast, slow = (float(ferrite_pearlite_vickers_maynier_1978(STRUCTURAL, 0.2, rate)) for rate in rates)
    assert (fast, slow) == (pytest.approx(146.6, abs=0.2), pytest.approx(134.2, abs=0.2))


def half_hardened_rockwell(carbon_wt: float, share: float) -> float:
    """Return the hardness of a case that hardened in part, the rest bainite of 425 C."""
    whole, none = np.ones((1, 1)), np.zeros((1, 1))
    carbon, nowhere = np.full((1, 1), carbon_wt), np.full((1, 1), np.nan)
    formed = Products(
        none, none, (1.0 - share) * whole, share * whole, nowhere, nowhere, 698.15 * whole, carbon
    )
    hot = Hot(whole, none, none, carbon)
    left = as_quenched(hot, formed, none, 50.0 * whole, STRUCTURAL, 8.0)
    return float(rockwell_c_continued(left.hardness_HV)[0, 0])


@pytest.mark.parametrize(
    ("carbon_wt", "percent", "published_HRC", "least", "most"),
    # Hodge & Orehoski, Trans. AIME 167 (1946) 627 (memory, H). DISAGREES: mixed in proportion, hardness comes
    # out 4 too high at 95 % martensite, 8 at 80 % and 5 at 50 %
    [
        (0.60, 95.0, 60.0, 3.0, 4.5),
        (0.60, 90.0, 57.5, 4.5, 6.5),
        (0.60, 80.0, 53.8, 6.5, 8.5),
        (0.60, 50.0, 50.7, 4.0, 6.0),
    ],
)
def test_a_part_hardened_case_is_3_to_8_HRC_harder_than_hodge_and_orehoski(
    carbon_wt: float, percent: float, published_HRC: float, least: float, most: float
) -> None:
    assert least < half_hardened_rockwell(carbon_wt, percent / 100.0) - published_HRC < most


@pytest.mark.parametrize(
    ("distance_mm", "low_HRC", "high_HRC"),
    # hardenability band of 16MnCr5+H, EN 10084 (memory, M-L), over distance from the quenched end
    [(5.0, 31.0, 44.0), (9.0, 24.0, 39.0), (15.0, 20.0, 33.0)],
)
def test_16mncr5_lies_in_its_hardenability_band(distance_mm: float, low_HRC: float, high_HRC: float) -> None:
    steel = Composition(Mn=1.15, Si=0.25, Cr=0.95)
    found = float(core_rockwell(np.array(0.165), steel, 7.0, np.array(distance_mm * 16.0 / 25.4)))
    # 0.7 HRC at 15 mm: the end of the regression
    assert low_HRC - 1.0 <= found <= high_HRC


def test_the_core_of_16mncr5_needs_five_times_the_published_critical_rate() -> None:
    # full martensite from 20 to 40 K/s (memory, L). DISAGREES, as does the band above, which is half
    # martensite where the bar cools at 40: ours reaches 95 % of full hardness near 200 K/s
    steel = Composition(Mn=1.15, Si=0.25, Cr=0.95)
    at = jominy_distance(np.array([40.0, 200.0]))
    slow, fast = core_rockwell(np.full(2, 0.165), steel, 7.0, at)
    full = float(core_rockwell(np.array(0.165), steel, 7.0, np.array(0.05)))
    assert slow < full - 8.0
    assert fast > 0.95 * full


def test_1020_begins_ferrite_sooner_than_any_diagram_draws() -> None:
    # under 0.1 s at 600 to 650 C; 0.03 by Li, grain and alloy not stated with it (recomputed): 0.02 at grain
    # 7
    steel = Composition(C=0.20, Mn=0.45, Si=0.2)
    ae3_C = float(ac3_andrews_1965(np.array(0.20), steel))
    start = ferrite_seconds_li_1998(0.01, np.array([600.0, 625.0, 650.0]), steel, 7.0, ae3_C)
    assert np.all((start > 0.01) & (start < 0.05))


def test_the_floor_of_hardening_is_723_C() -> None:
    # eutectoid of plain steel in the trade's books (common practice, no source); Andrews' constant is the
    # same
    assert ac1_andrews_1965(Composition()) == 723.0


def test_transformation_adds_up_over_two_holds() -> None:
    # additivity (Scheil): half of the time to 40 % at 640 C and half of it at 600 C make 40 %
    steel, share = Composition(C=0.77, Mn=0.6, Si=0.2), 0.4
    kinetics = Kinetics.of(np.array([[0.77]]), steel, 7.0)
    whole = float(progress_integral(share, 2.0 / 3.0))
    halves = [
        0.5 * whole / kinetics.paces(np.array([[[kelvin]]])).pearlite[0, 0, 0] for kelvin in (913.15, 873.15)
    ]
    seconds = np.concatenate([np.linspace(0.0, halves[0], 40), halves[0] + np.linspace(1e-9, halves[1], 40)])
    kelvin = np.repeat([913.15, 873.15], 40)[None, :, None]
    products = transform(np.array([[0.77]]), steel, 7.0, seconds, kelvin)
    assert float(products.pearlite[0, 0]) == pytest.approx(share, abs=0.01)


@pytest.mark.parametrize(("lowest_C", "share"), [(20.0, 0.191), (-75.0, 0.0673), (-196.0, 0.0178)])
def test_cold_takes_retained_austenite_on_along_koistinen_and_marburger(
    lowest_C: float, share: float
) -> None:
    # exp(-0.011 (170.4 - T)), 1.0 %C 0.75 %Mn by Barbier's start; recomputed, +-0.001
    found = retained_share_koistinen_marburger_1959(np.array(170.4), 0.011, lowest_C)
    assert float(found) == pytest.approx(share, abs=0.001)
