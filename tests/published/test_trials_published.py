"""Batches that someone published or a shop tried, through the full forecast; each source beside its check."""

from __future__ import annotations

import numpy as np
import pytest

from model.conversion import rockwell_c_continued
from model.forecast import Forecast
from model.process import HeldSurface, PackSupply, Quench, Step, Temper
from model.steels import steel_of_composition
from model.units import HOUR_s, celsius_to_kelvin
from tests.model.hardened_cases import (
    OIL,
    WATER,
    feed,
    hardened_of,
    heat,
    made,
    rockwell,
    rod,
    slow_cool,
)

pytestmark = pytest.mark.published

STILL_AIR = Quench("air", agitation="still")
VEGETABLE_OIL = Quench("vegetable oil", celsius_to_kelvin(40.0))


def small_shop(bath: Quench, *more: Step) -> Forecast:
    """Return the small-shop trial: 6 mm, 1.5 h in charcoal, reheated."""
    pack = feed(hours=1.5, supply=PackSupply())
    return made("1018", rod(6.0), pack, slow_cool(), heat(790.0, 15.0), bath, *more)


def test_the_small_shop_s_air_oil_and_water_come_in_order() -> None:
    # air 40, vegetable oil 55, water 65 HRC; steel and hardness method unstated (common practice, no source).
    # Order and rough spread only: 29, 54 and 65 on the true skin here, of which air is 11 too soft
    air, oil, water = (rockwell(small_shop(bath), 0.0)[0] for bath in (STILL_AIR, VEGETABLE_OIL, WATER))
    assert air < oil - 5.0
    assert oil < water - 3.0
    assert 25.0 < air < 42.0
    assert 40.0 < oil < 65.0
    assert 60.0 < water < 67.0


def test_the_small_shop_s_temper_takes_some_points_and_not_seven() -> None:
    # 65 in water, 58 after a few hours at 150 C; tables say 62 to 64: ours sides with the tables on the true
    # skin, while a Rockwell cone on so thin a case shows 56 or so, which is the trial's figure
    tempered = small_shop(WATER, Temper(celsius_to_kelvin(150.0), 3.0 * HOUR_s))
    assert 60.0 < rockwell(tempered, 0.0)[0] < 64.5
    assert tempered.reading_HRC is not None
    assert 53.0 < tempered.reading_HRC[0] < 62.0


@pytest.mark.parametrize("grade", ["8620", "16MnCr5"])
def test_an_inch_of_case_hardening_alloy_in_oil_comes_out_3_to_8_HRC_too_soft(grade: str) -> None:
    # 58 to 62 HRC (memory, M). DISAGREES: bainite starts too soon in the case of steels with chromium. The
    # upper half of the band holds the book: the bainite time is a wide prior
    skin = rockwell(made(grade, rod(25.0), feed(), OIL), 0.0)[0]
    assert 60.0 - 9.0 < skin < 60.0 - 1.0
    drawn = made(grade, rod(25.0), feed(), OIL, draws=60)
    assert drawn.surface_HV is not None
    low, high = np.quantile(rockwell_c_continued(drawn.surface_HV), [0.05, 0.95])
    assert low < 58.0
    assert high > 62.0


def test_twelve_hours_of_shell_and_charcoal_come_out_a_tenth_too_soft_at_the_face() -> None:
    # Ramli, Wu & Shaaban, Crystals 11 (2021) 1136, abstract seen: 0.2 %C Cr-Mo steel, 12 h, 1.14 %C at the
    # face and 961 HV after water. DISAGREES: with a quarter of retained austenite ours has 740 to 830 at the
    # face and 870 below it; no mixture with austenite of 225 HV reaches 961, nor does full martensite here
    # (965 at most)
    steel = steel_of_composition({"C": 0.20, "Si": 0.25, "Mn": 0.75, "Cr": 1.05, "Mo": 0.22})
    for way in ((), (slow_cool(), heat(850.0))):
        piece = made(steel, rod(10.0), feed(hours=12.0, supply=HeldSurface(1.14)), *way, WATER)
        assert piece.hardness_HV is not None
        assert 0.15 < hardened_of(piece).retained_austenite[0, 0] < 0.35
        assert 961.0 * 0.75 < piece.hardness_HV[0, 0] < 961.0 * 0.88
        assert 961.0 * 0.85 < piece.hardness_HV[0].max() < 961.0 * 0.95


def test_an_hour_of_an_energised_pack_on_structural_steel_brackets_the_published_skin() -> None:
    # Asrofi et al., AIMS Mater. Sci. 7 (2020) 354, abstract seen: plain structural steel, 60 % char and 40 %
    # BaCO3, 900 C, 1 h, quenched: 677 HV; bath and section not stated. The band holds it, the middle is
    # harder
    pack = feed(900.0, 1.0, PackSupply(carbonate_percent=40.0))
    piece = made("S235JR", rod(10.0), pack, WATER, draws=200)
    assert piece.surface_HV is not None
    low, high = np.quantile(piece.surface_HV, [0.05, 0.95])
    assert low < 677.0 < high
