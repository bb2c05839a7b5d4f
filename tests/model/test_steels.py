import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.errors import NotPossible, OutOfRange
from model.steels import (
    ELEMENTS,
    MYSTERY,
    Composition,
    bs_steven_haynes_1956,
    koistinen_rate_van_bohemen_2012,
    ms_andrews_1965_linear,
    ms_barbier_2014,
    ms_steven_haynes_1956,
    ms_van_bohemen_2012,
    mystery_steel,
    screened_carbon,
    steel_grades,
    steel_of_composition,
    steel_of_grade,
)
from model.tables import read_table

ROWS = read_table("steel_ranges.csv")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['grade']}-{row['element']}")
def test_every_range_of_the_table_is_in_order_and_true_to_its_basis(row: dict[str, str]) -> None:
    low, high = float(row["low_wt"]), float(row["high_wt"])
    assert 0.0 <= low < high < 4.0
    assert row["element"] in ELEMENTS
    if row["basis"] == "range":
        assert (low, high) == (float(row["stated_low_wt"]), float(row["stated_high_wt"]))
    elif row["basis"] == "maximum":
        assert row["stated_low_wt"] == ""
        assert high <= float(row["stated_high_wt"])
    else:
        assert row["basis"] == "unstated"
        assert row["stated_low_wt"] == row["stated_high_wt"] == ""


def test_the_two_steel_tables_hold_the_same_grades_with_their_main_elements() -> None:
    grades = {row.grade for row in steel_grades()}
    assert {row["grade"] for row in ROWS} == grades | {MYSTERY}
    assert len(grades) == len(steel_grades())
    for grade in grades:
        assert {"C", "Si", "Mn", "P", "S"} <= {row["element"] for row in ROWS if row["grade"] == grade}


@pytest.mark.parametrize("row", steel_grades(), ids=lambda row: row.grade)
def test_every_grade_is_a_steel_at_the_middle_of_its_carbon_range(row) -> None:
    steel = steel_of_grade(row.grade)
    assert pytest.approx((steel.carbon_low_wt + steel.carbon_high_wt) / 2.0) == steel.composition.C
    assert row.description
    assert " " not in row.description


@pytest.mark.parametrize("typed", ["16MnCr5", "16mncr5", " 16 MnCr 5 ", "16-MnCr5"])
def test_a_grade_is_found_however_it_is_spelt(typed: str) -> None:
    assert steel_of_grade(typed).name == "16MnCr5"


def test_an_unknown_grade_names_the_known_ones() -> None:
    with pytest.raises(NotPossible, match=r"1018.*8620.*16MnCr5") as caught:
        steel_of_grade("unobtainium")
    assert caught.value.path == "steel.grade"


def test_a_stated_composition_is_taken_as_it_is() -> None:
    steel = steel_of_composition({"C": 0.16, "Mn": 0.8})
    assert steel.composition == Composition(C=0.16, Mn=0.8)
    assert steel.carbon_low_wt == steel.carbon_high_wt == 0.16


def test_a_stated_composition_with_a_strange_element_or_amount_is_refused_by_field() -> None:
    with pytest.raises(NotPossible) as strange:
        steel_of_composition({"C": 0.16, "Unobtainium": 1.0})
    assert strange.value.path == "steel.composition_wt.Unobtainium"
    for amount in (-0.1, 3.0, math.nan):
        with pytest.raises(OutOfRange) as caught:
            steel_of_composition({"C": amount})
        assert caught.value.path == "steel.composition_wt.C"


def test_mystery_bar_keeps_the_range_it_was_given() -> None:
    steel = mystery_steel(0.05, 0.25)
    assert (steel.carbon_low_wt, steel.carbon_high_wt) == (0.05, 0.25)
    assert pytest.approx(0.15) == steel.composition.C
    assert steel.composition.Mn > 0.4
    with pytest.raises(NotPossible):
        mystery_steel(0.3, 0.2)
    with pytest.raises(OutOfRange):
        mystery_steel(-0.1, 0.2)


def test_screening_narrows_when_the_tests_agree_and_widens_when_they_do_not() -> None:
    soft = screened_carbon("file cuts", "few, long, plain lines")
    assert soft[:2] == (0.03, 0.25)
    assert "file still cuts" in soft[2]
    assert "plain spark lines" in soft[2]
    both = screened_carbon("file marks", "some bursts")
    assert both[:2] == (0.25, 0.50)
    quarrel = screened_carbon("file cuts", "many bushy bursts")
    assert quarrel[:2] == (0.03, 1.00)
    assert "do not agree" in quarrel[2]
    untried = screened_carbon(None, None)
    assert untried[:2] == (0.05, 0.60)
    with pytest.raises(NotPossible):
        screened_carbon("file sings", None)  # type: ignore[arg-type]


@given(
    st.lists(st.floats(min_value=0.0, max_value=1.5), min_size=2, max_size=8),
    st.floats(min_value=0.0, max_value=1.5),
)
@pytest.mark.property
def test_more_carbon_or_manganese_always_lowers_every_start(carbon: list[float], manganese: float) -> None:
    carbon_wt = np.sort(np.array(carbon))
    lean, rich = Composition(), Composition(Mn=manganese)
    for start in (
        ms_andrews_1965_linear,
        ms_steven_haynes_1956,
        bs_steven_haynes_1956,
        ms_barbier_2014,
        ms_van_bohemen_2012,
    ):
        values = start(carbon_wt, rich)
        assert values.shape == carbon_wt.shape
        assert np.all(np.diff(values) <= 1e-9)
        assert np.all(values <= start(carbon_wt, lean))
    assert np.all(koistinen_rate_van_bohemen_2012(carbon_wt, rich) > 0.0)
