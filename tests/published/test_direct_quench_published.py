"""Steel that needs no case, quenched and tempered with the same chain: 4340, 5160 and 1050 against handbooks.

As-quenched rounds: hardness at face, half radius and middle of 1/2, 1 and 2 in (steelmakers' data books of
single heats, values from memory, M-H; agitation of their oil and water not stated). One heat and one tank:
+-3 HRC is what such a table is worth. Where the model lies further off the test pins how far.
"""

from __future__ import annotations

import numpy as np
import pytest

from model.conversion import rockwell_c_continued
from model.process import Temper
from model.steels import Steel, steel_of_composition
from model.units import HOUR_s, celsius_to_kelvin
from tests.model.hardened_cases import OIL, WATER, heat, made, rockwell, rod

pytestmark = pytest.mark.published

STEELS = {
    "1050": steel_of_composition({"C": 0.51, "Mn": 0.75, "Si": 0.22}),
    "5160": steel_of_composition({"C": 0.60, "Mn": 0.875, "Si": 0.25, "Cr": 0.80}),
    "4340": steel_of_composition({"C": 0.40, "Mn": 0.70, "Si": 0.25, "Cr": 0.80, "Ni": 1.80, "Mo": 0.25}),
}
BATHS = {"1050": WATER, "5160": OIL, "4340": OIL}
HEAT = heat(830.0)  # 1525 F, the hardening heat of 5160 in two public pages, seen; within 15 C for the others


def round_of(grade: str, inches: float, *more: Temper) -> list[float]:
    """Return Rockwell C at face, half radius and middle of a round."""
    steel: Steel = STEELS[grade]
    radius_mm = 12.7 * inches
    piece = made(steel, rod(2.0 * radius_mm), HEAT, BATHS[grade], *more)
    return rockwell(piece, 0.0, 0.5 * radius_mm, radius_mm)


@pytest.mark.parametrize(
    ("grade", "inches", "published", "tolerance_HRC"),
    [
        ("4340", 0.5, (58.0, 58.0, 56.0), 3.0),
        ("4340", 1.0, (57.0, 57.0, 56.0), 5.0),
        ("5160", 0.5, (63.0, 62.0, 62.0), 4.0),
        ("1050", 0.5, (64.0, 59.0, 57.0), 5.0),
    ],
)
def test_rounds_that_harden_through_are_as_hard_as_the_data_books_say(
    grade: str, inches: float, published: tuple[float, ...], tolerance_HRC: float
) -> None:
    assert round_of(grade, inches) == pytest.approx(published, abs=tolerance_HRC)


def test_an_inch_of_1050_in_water_has_a_hard_face_and_a_soft_middle() -> None:
    # 60 / 35 / 33 (memory). Just's regression at half radius and middle, kinetics at the face: +-5
    assert round_of("1050", 1.0) == pytest.approx((60.0, 35.0, 33.0), abs=5.0)


def test_the_face_of_a_thick_1050_is_10_HRC_harder_than_published() -> None:
    # 2 in: 50 / 32 / 26 (memory). DISAGREES at the face by about 11 HRC: ours is the outermost hundredths of
    # a millimetre, which water takes through the nose at any size; the book's is under the scale of a cut bar
    face, half, middle = round_of("1050", 2.0)
    assert 50.0 + 5.0 < face < 50.0 + 14.0
    assert (half, middle) == pytest.approx((32.0, 26.0), abs=5.0)


def test_an_inch_of_5160_in_oil_comes_out_far_too_soft() -> None:
    # 62 / 61 / 60 (memory). DISAGREES by 12 to 20 HRC: Kirkaldy's bainite starts too soon in steel of 0.6 %C
    # with chromium. Nothing was tuned: the bainite time is a prior of a factor 0.45 to 3, and the hard end of
    # its band holds the book
    found = np.subtract((62.0, 61.0, 60.0), round_of("5160", 1.0))
    assert np.all((found > 8.0) & (found < 22.0))
    piece = made(STEELS["5160"], rod(25.4), HEAT, OIL, draws=80)
    assert piece.surface_HV is not None
    low, high = np.quantile(rockwell_c_continued(piece.surface_HV), [0.05, 0.97])
    assert low < 62.0 - 15.0
    assert high > 62.0 - 2.0


def test_two_inches_of_4340_in_oil_come_out_3_to_8_HRC_too_soft() -> None:
    # 56 / 55 / 54 (memory). DISAGREES: Just's regression and the rates of the end-quench bar lose 3 to 8 HRC
    # where this steel still hardens through
    found = np.subtract((56.0, 55.0, 54.0), round_of("4340", 2.0))
    assert np.all((found > 1.0) & (found < 10.0))


@pytest.mark.parametrize(
    ("grade", "celsius", "published_HRC", "tolerance_HRC"),
    # Brinell of quenched and tempered rounds in machine design handbooks, an hour, from memory (M-H), as
    # Rockwell C by E140 (memory): 4340 520 and 486 HB at 205 and 315 C, 5160 627 and 555, 1050 514 at 205
    [
        ("4340", 205.0, 52.6, 1.5),
        # at 315 C alloy steels come out too soft, as the room of the temper says: 1.6 and 2.7 here
        ("4340", 315.0, 50.3, 3.0),
        ("5160", 205.0, 58.6, 2.5),
        ("5160", 315.0, 54.7, 4.0),
    ],
)
def test_half_an_inch_tempered_is_as_hard_as_the_handbooks_say(
    grade: str, celsius: float, published_HRC: float, tolerance_HRC: float
) -> None:
    tempered = round_of(grade, 0.5, Temper(celsius_to_kelvin(celsius), HOUR_s))
    assert tempered[1] == pytest.approx(published_HRC, abs=tolerance_HRC)


def test_tempered_1050_is_harder_than_the_handbook_by_2_to_6_HRC() -> None:
    # 514 HB at 205 C, 52.2 HRC (memory), beside a tensile strength of 1120 MPa that fits 330 HB: the book's
    # two figures cannot both be of one place in its one-inch round. Face and middle of half an inch here
    tempered = round_of("1050", 0.5, Temper(celsius_to_kelvin(205.0), HOUR_s))
    assert all(52.2 + 1.0 < value < 52.2 + 7.0 for value in tempered)


def test_5160_quenched_in_oil_is_in_the_published_range_up_to_half_an_inch() -> None:
    # as-quenched 58 to 63 HRC (two public pages, one citing a society's handbook, seen)
    for inches in (0.25, 0.4):
        assert 58.0 <= round_of("5160", inches)[0] <= 65.0
