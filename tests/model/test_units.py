import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.errors import NotPossible, OutOfRange
from model.ranges import HOURS, SOAK_TEMPERATURE_C, check
from model.units import (
    UNITS,
    NumberProblem,
    celsius_to_kelvin,
    fahrenheit_to_kelvin,
    from_si,
    kelvin_to_celsius,
    kelvin_to_fahrenheit,
    parse_number,
    parse_quantity,
    show,
    show_length_m,
    show_temperature_K,
    to_si,
)

TYPED = {
    "1.5": 1.5,
    "1,5": 1.5,
    " 6 ": 6.0,
    "\u00a07\u202f": 7.0,
    ".5": 0.5,
    ",5": 0.5,
    "0,125": 0.125,
    "1/4": 0.25,
    "1 1/4": 1.25,
    "1-1/4": 1.25,
    "-1/4": -0.25,
    "\u00bd": 0.5,
    "\u00bc": 0.25,
    "\u00be": 0.75,
    "2\u00bd": 2.5,
    "1 \u215b": 1.125,
    "\u221280": -80.0,
    "\u201380": -80.0,
    "+3": 3.0,
    "5.": 5.0,
    "1.234": 1.234,
    "2e-7": 2e-7,
    "\uff11\uff12": 12.0,
}


@pytest.mark.parametrize(("text", "value"), TYPED.items())
def test_a_number_is_read_as_a_metalworker_writes_it(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Nothing was typed"),
        ("   ", "Nothing was typed"),
        ("nan", "not a number that can be used"),
        ("-NaN", "not a number that can be used"),
        ("inf", "not a number that can be used"),
        ("Infinity", "not a number that can be used"),
        ("1e999", "too large"),
        ("1,234.5", "read two ways"),
        ("1.234,5", "read two ways"),
        ("1,234,567", "read two ways"),
        ("1,234", "could mean 1234 or 1.234"),
        ("1 234", "could mean 1234 or 1.234"),
        ("1/0", "divides by nothing"),
        ("1/2/3", "is not a number"),
        ("--3", "is not a number"),
        ("red hot", "is not a number"),
        ("5\u00b2", "is not a number"),
        ("1_000", "is not a number"),
        ("0x10", "is not a number"),
        ("4" * 1_000_000, "too long"),
    ],
)
def test_text_that_is_no_single_number_is_refused_with_what_and_what_to_do(text: str, words: str) -> None:
    with pytest.raises(NumberProblem) as caught:
        parse_number(text)
    assert words in str(caught.value)
    assert "Type" in caught.value.advice or "Write" in caught.value.advice
    assert len(str(caught.value)) < 200


@given(st.text(max_size=60))
@pytest.mark.property
def test_any_text_gives_a_finite_number_or_a_refusal(text: str) -> None:
    try:
        value = parse_number(text)
    except NumberProblem:
        return
    assert math.isfinite(value)


@given(st.floats(min_value=-1e6, max_value=1e6))
@pytest.mark.property
def test_a_number_written_with_a_comma_reads_as_with_a_point(value: float) -> None:
    written = f"{value:.4f}"
    assert parse_number(written) == parse_number(written.replace(".", ",")) == float(written)


@pytest.mark.parametrize(
    ("text", "kind", "default", "si", "unit"),
    [
        ("1700 F", "temperature", "C", 1199.8167, "F"),
        ("1700f", "temperature", "C", 1199.8167, "F"),
        ("925C", "temperature", "F", 1198.15, "C"),
        ("925 \u00b0C", "temperature", "F", 1198.15, "C"),
        ("925\u00b0", "temperature", "C", 1198.15, "C"),
        ("925 deg C", "temperature", "F", 1198.15, "C"),
        ("1200 K", "temperature", "C", 1200.0, "K"),
        ("-80", "temperature", "C", 193.15, "C"),
        ("18 F", "temperature difference", "C", 10.0, "F"),
        ("1/4 in", "length", "mm", 0.00635, "in"),
        ('1/4"', "length", "mm", 0.00635, "in"),
        ("1 1/4\u2033", "length", "mm", 0.03175, "in"),
        ("6 mm", "length", "in", 0.006, "mm"),
        ("6,5", "length", "mm", 0.0065, "mm"),
        ("40 thou", "length", "mm", 0.001016, "thou"),
        ("4 h", "duration", "min", 14400.0, "h"),
        ("90 min.", "duration", "h", 5400.0, "min"),
        ("4:30", "duration", "min", 16200.0, "h"),
        ("4 h 30 min", "duration", "h", 16200.0, "h"),
        ("4h05", "duration", "h", 14700.0, "h"),
        ("1,5", "duration", "h", 5400.0, "h"),
        ("2 lb", "mass", "g", 0.90718474, "lb"),
        ("100 g", "mass", "oz", 0.1, "g"),
        ("10 psi", "pressure", "bar", 68947.5729, "psi"),
        ("12 %", "percent", "%", 12.0, "%"),
        ("1e-7", "number", "", 1e-7, ""),
    ],
)
def test_a_quantity_takes_the_unit_behind_it_or_the_forms_own(text, kind, default, si, unit) -> None:
    quantity = parse_quantity(text, kind, default)
    assert quantity.value_si == pytest.approx(si, rel=1e-7)
    assert (quantity.unit, quantity.text) == (unit, text)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("4 kg", "length"),
        ("925 mm", "temperature"),
        ("4:75", "duration"),
        ("nan", "length"),
        ("mm", "length"),
        ("", "mass"),
        ("6 mm 3", "length"),
        ("5 %", "number"),
    ],
)
def test_a_quantity_with_the_wrong_unit_or_no_number_is_refused(text, kind) -> None:
    default = {"length": "mm", "temperature": "C", "duration": "h", "mass": "g", "number": ""}[kind]
    with pytest.raises(NumberProblem):
        parse_quantity(text, kind, default)


def test_a_refused_unit_names_the_units_that_would_do() -> None:
    with pytest.raises(NumberProblem, match="mm, cm, m, in, thou, ft"):
        parse_quantity("4 kg", "length", "mm")
    with pytest.raises(NotPossible):
        to_si(1.0, "furlong", "length")


@given(st.sampled_from(UNITS), st.floats(min_value=-1e5, max_value=1e5))
@pytest.mark.property
def test_there_and_back_is_the_same_number_in_every_unit(unit, value: float) -> None:
    back = from_si(to_si(value, unit.symbol, unit.kind), unit.symbol, unit.kind)
    assert back == pytest.approx(value, rel=1e-9, abs=1e-6)


@pytest.mark.published
def test_temperature_scales_meet_at_their_fixed_points() -> None:
    """SI brochure and the definition of the Fahrenheit scale: 0 C = 32 F = 273.15 K, -40 C = -40 F; exact."""
    assert celsius_to_kelvin(0.0) == fahrenheit_to_kelvin(32.0) == 273.15
    assert kelvin_to_celsius(fahrenheit_to_kelvin(-40.0)) == pytest.approx(-40.0, abs=1e-9)
    assert kelvin_to_fahrenheit(celsius_to_kelvin(1000.0)) == pytest.approx(1832.0, abs=1e-9)


@pytest.mark.published
def test_inch_pound_and_psi_are_the_international_ones() -> None:
    """International yard and pound 1959: inch 25.4 mm, pound 453.59237 g, exact; psi 6894.757 Pa follows."""
    assert to_si(1.0, "in", "length") == pytest.approx(0.0254, rel=1e-15)
    assert to_si(1.0, "lb", "mass") == pytest.approx(0.45359237, rel=1e-12)
    assert to_si(1.0, "psi", "pressure") == pytest.approx(0.45359237 * 9.80665 / 0.0254**2, rel=1e-12)


def test_values_are_shown_with_the_digits_that_are_worth_showing() -> None:
    assert show_length_m(0.0008, "mm") == "0.80 mm"
    assert show_length_m(0.00635, "in") == "0.250 in"
    assert show_temperature_K(1198.15, "C") == "925 \u00b0C"
    assert show_temperature_K(1198.15, "F") == "1697 \u00b0F"
    assert show_temperature_K(1198.15, "K") == "1198 K"
    assert show(-1e-9, "mm", "length") == "0.00 mm"
    assert show(10.0, "F", "temperature difference") == "18 \u00b0F"


def test_a_value_in_its_range_comes_back_and_the_ends_count() -> None:
    assert check("stages[0].temperature_C", 925.0, SOAK_TEMPERATURE_C) == 925.0
    assert check("hours", 1.0 / 60.0, HOURS) == 1.0 / 60.0
    assert check("hours", 400.0, HOURS) == 400.0


@pytest.mark.parametrize("value", [1700.0, 399.9, -1.0, math.nan, math.inf, -math.inf])
def test_a_value_out_of_range_or_not_finite_says_field_limits_and_advice(value: float) -> None:
    with pytest.raises(OutOfRange) as caught:
        check("stages[0].temperature_C", value, SOAK_TEMPERATURE_C)
    assert caught.value.path == "stages[0].temperature_C"
    assert (caught.value.low, caught.value.high, caught.value.unit) == (400.0, 1150.0, "C")
    assert "400 to 1150 C" in str(caught.value)
    assert caught.value.advice in str(caught.value)
