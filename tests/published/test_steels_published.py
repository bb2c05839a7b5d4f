"""Critical temperatures against worked values of the published formulas.

Formulas recalled from the publications named in each docstring (values from memory): these tests hold the
code to the formulas, and where two independent publications meet, to each other.
"""

import numpy as np
import pytest

from model.steels import (
    Composition,
    ac1_andrews_1965,
    ac3_andrews_1965,
    bs_steven_haynes_1956,
    koistinen_rate_van_bohemen_2012,
    ms_andrews_1965_linear,
    ms_barbier_2014,
    ms_steven_haynes_1956,
    ms_van_bohemen_2012,
    steel_of_grade,
)

pytestmark = pytest.mark.published

PLAIN = Composition(Mn=0.75)
ALLOY = Composition(Mn=0.80, Ni=0.55, Cr=0.50, Mo=0.20)
MS_ROWS = [
    # steel, carbon, Andrews linear, Steven-Haynes Ms, Barbier, van Bohemen Ms, van Bohemen rate
    (PLAIN, 0.18, 440.1, 450.9, 432.2, 446.5, 0.02225),
    (ALLOY, 0.20, 412.8, 417.8, 404.5, 418.1, 0.02167),
    (PLAIN, 0.80, 177.8, 157.0, 218.2, 220.1, 0.01298),
    (PLAIN, 1.00, 93.2, 62.2, 170.4, 171.5, 0.01146),
    (PLAIN, 1.20, 8.6, -32.5, 130.2, 131.4, 0.01034),
    (ALLOY, 0.80, 159.0, None, 199.3, 201.3, 0.01286),
]


@pytest.mark.parametrize(("steel", "carbon", "andrews", "steven", "barbier", "bohemen", "rate"), MS_ROWS)
def test_martensite_starts_equal_the_worked_values(
    steel, carbon, andrews, steven, barbier, bohemen, rate
) -> None:
    """Andrews 1965, Steven and Haynes 1956, Barbier 2014, van Bohemen 2012; +-0.1 C is the rounding."""
    carbon_wt = np.array([carbon])
    assert ms_andrews_1965_linear(carbon_wt, steel)[0] == pytest.approx(andrews, abs=0.1)
    assert ms_barbier_2014(carbon_wt, steel)[0] == pytest.approx(barbier, abs=0.1)
    assert ms_van_bohemen_2012(carbon_wt, steel)[0] == pytest.approx(bohemen, abs=0.1)
    assert koistinen_rate_van_bohemen_2012(carbon_wt, steel)[0] == pytest.approx(rate, abs=1e-5)
    if steven is not None:
        assert ms_steven_haynes_1956(carbon_wt, steel)[0] == pytest.approx(steven, abs=0.1)


def test_two_independent_martensite_starts_agree_over_the_case() -> None:
    """Barbier 2014 against van Bohemen 2012, 0.7 to 1.2 wt% C, separate data sets: within 3 C."""
    carbon_wt = np.linspace(0.7, 1.2, 26)
    for steel in (PLAIN, ALLOY):
        gap = ms_barbier_2014(carbon_wt, steel) - ms_van_bohemen_2012(carbon_wt, steel)
        assert np.max(np.abs(gap)) < 3.0


def test_bainite_start_equals_the_worked_values() -> None:
    """Steven and Haynes, JISI 183 (1956) 349; +-0.1 C."""
    assert bs_steven_haynes_1956(np.array([0.18]), PLAIN)[0] == pytest.approx(713.9, abs=0.1)
    assert bs_steven_haynes_1956(np.array([0.20]), ALLOY)[0] == pytest.approx(632.0, abs=0.1)


def test_andrews_critical_temperatures_equal_the_worked_values() -> None:
    """Andrews, JISI 203 (1965) 721; +-0.3 C."""
    plain = Composition(Mn=0.75, Si=0.20)
    alloy = Composition(Mn=0.80, Ni=0.55, Cr=0.50, Mo=0.20, Si=0.25)
    assert ac1_andrews_1965(plain) == pytest.approx(720.8, abs=0.3)
    assert ac3_andrews_1965(np.array(0.18), plain) == pytest.approx(832.8, abs=0.3)
    assert ac3_andrews_1965(np.array(0.18), plain, long_form=True) == pytest.approx(810.3, abs=0.3)
    assert ac1_andrews_1965(alloy) == pytest.approx(720.9, abs=0.3)
    assert ac3_andrews_1965(np.array(0.20), alloy) == pytest.approx(828.3, abs=0.3)
    assert ac3_andrews_1965(np.array(0.20), alloy, long_form=True) == pytest.approx(798.8, abs=0.3)


@pytest.mark.parametrize(
    ("grade", "element", "middle"),
    [
        ("1018", "C", 0.175),
        ("1018", "Mn", 0.75),
        ("8620", "Ni", 0.55),
        ("8620", "Cr", 0.50),
        ("8620", "Mo", 0.20),
        ("16MnCr5", "C", 0.165),
        ("16MnCr5", "Cr", 0.95),
        ("18CrNiMo7-6", "Ni", 1.55),
        ("9310", "Ni", 3.25),
        ("12L14", "S", 0.305),
    ],
)
def test_grades_lie_at_the_middle_of_the_standards_ranges(grade, element, middle) -> None:
    """SAE J403 and J404, EN 10084 (values from memory); exact."""
    assert getattr(steel_of_grade(grade).composition, element) == pytest.approx(middle, abs=1e-9)
