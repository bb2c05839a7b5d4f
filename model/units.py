"""Typed numbers and units: SI inside, the shop's own units outside.

Percent stays percent and carbon stays wt%, as everywhere in the model.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from model.errors import NotPossible
from model.errors import NumberProblem as NumberProblem

Kind = Literal[
    "temperature", "temperature difference", "length", "duration", "mass", "pressure", "percent", "number"
]
Number = TypeVar("Number", float, NDArray[np.float64])

ZERO_CELSIUS_K = 273.15
STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2 K4, exact to the digits shown (SI)
MM_m = 1e-3
INCH_m = 0.0254
MINUTE_s = 60.0
HOUR_s = 3600.0
OUNCE_kg = 0.028349523125
BAR_Pa = 1e5
PSI_Pa = 6894.757293168

LONGEST_NUMBER = 40


@dataclass(frozen=True)
class Unit:
    """A unit: SI value = (value + `shift`) x `factor`; `digits` is what is worth showing."""

    symbol: str
    kind: Kind
    factor: float
    digits: int
    names: tuple[str, ...] = ()
    shift: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """A number as understood: its SI value, the unit it was read in, and the text as typed."""

    value_si: float
    unit: str
    text: str


# Exact by definition (SI brochure; international yard and pound 1959); psi rounded at 13 digits.
UNITS: tuple[Unit, ...] = (
    Unit("C", "temperature", 1.0, 0, ("celsius", "degc", "centigrade"), ZERO_CELSIUS_K),
    Unit("F", "temperature", 5.0 / 9.0, 0, ("fahrenheit", "degf"), 459.67),
    Unit("K", "temperature", 1.0, 0, ("kelvin",)),
    Unit("C", "temperature difference", 1.0, 0, ("celsius", "degc")),
    Unit("F", "temperature difference", 5.0 / 9.0, 0, ("fahrenheit", "degf")),
    Unit("K", "temperature difference", 1.0, 0, ("kelvin",)),
    Unit("mm", "length", MM_m, 2, ("millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", "length", 0.01, 2, ("centimetre", "centimetres", "centimeter", "centimeters")),
    Unit("m", "length", 1.0, 3, ("metre", "metres", "meter", "meters")),
    Unit("in", "length", INCH_m, 3, ("inch", "inches", '"', "''")),
    Unit("thou", "length", INCH_m / 1000.0, 0, ("thousandths", "mil", "mils")),
    Unit("ft", "length", 12.0 * INCH_m, 2, ("foot", "feet", "'")),
    Unit("s", "duration", 1.0, 0, ("sec", "secs", "second", "seconds")),
    Unit("min", "duration", MINUTE_s, 0, ("m", "mins", "minute", "minutes")),
    Unit("h", "duration", HOUR_s, 2, ("hr", "hrs", "hour", "hours")),
    Unit("d", "duration", 24.0 * HOUR_s, 2, ("day", "days")),
    Unit("g", "mass", 1e-3, 0, ("gram", "grams", "gm")),
    Unit("kg", "mass", 1.0, 3, ("kilo", "kilos", "kilogram", "kilograms")),
    Unit("oz", "mass", OUNCE_kg, 2, ("ounce", "ounces")),
    Unit("lb", "mass", 16.0 * OUNCE_kg, 2, ("lbs", "pound", "pounds")),
    Unit("bar", "pressure", BAR_Pa, 2, ("bars",)),
    Unit("mbar", "pressure", BAR_Pa / 1000.0, 0, ("millibar",)),
    Unit("psi", "pressure", PSI_Pa, 1),
    Unit("kPa", "pressure", 1000.0, 0),
    Unit("Pa", "pressure", 1.0, 0, ("pascal",)),
    Unit("%", "percent", 1.0, 1, ("percent", "pct")),
    Unit("", "number", 1.0, 3),
)


def celsius_to_kelvin(temperature_C: Number) -> Number:
    """Return kelvin of degrees Celsius."""
    return temperature_C + ZERO_CELSIUS_K


def kelvin_to_celsius(temperature_K: Number) -> Number:
    """Return degrees Celsius of kelvin."""
    return temperature_K - ZERO_CELSIUS_K


def fahrenheit_to_kelvin(temperature_F: Number) -> Number:
    """Return kelvin of degrees Fahrenheit."""
    return (temperature_F + 459.67) / 1.8


def kelvin_to_fahrenheit(temperature_K: Number) -> Number:
    """Return degrees Fahrenheit of kelvin."""
    return temperature_K * 1.8 - 459.67


def unit_of(name: str, kind: Kind) -> Unit:
    """Return the unit of a kind by its symbol or any of its names; capitals do not matter."""
    wanted = name.strip().rstrip(".").casefold()
    known = [unit for unit in UNITS if unit.kind == kind]
    for unit in known:
        if wanted in (unit.symbol.casefold(), *unit.names):
            return unit
    listed = ", ".join(unit.symbol for unit in known) or "none"
    raise NotPossible("unit", f"'{name[:20]}' is not a unit of {kind}", f"Use one of: {listed}.")


def to_si(value: float, unit: str, kind: Kind) -> float:
    """Return the SI value of a value in a unit."""
    found = unit_of(unit, kind)
    return (value + found.shift) * found.factor


def from_si(value_si: float, unit: str, kind: Kind) -> float:
    """Return the value in a unit of an SI value."""
    found = unit_of(unit, kind)
    return value_si / found.factor - found.shift


def _one_character(character: str) -> str:
    """Return a fraction sign as ` 1/2` and a wide digit as a digit; a raised 2 is left to be refused."""
    decomposition = unicodedata.decomposition(character)
    if decomposition.startswith("<fraction>"):
        return " " + unicodedata.normalize("NFKC", character).replace("\u2044", "/")
    return unicodedata.normalize("NFKC", character) if decomposition.startswith("<wide>") else character


def _plain(text: str) -> str:
    """Return text with one kind of minus, space, point and fraction, and no doubled spaces."""
    if len(text) > LONGEST_NUMBER:
        raise NumberProblem(text, "That is too long to be a number.", "Type the number alone, as in 6.5.")
    flat = "".join(_one_character(character) for character in text)
    for minus in "\u2212\u2013\u2010\u2011":
        flat = flat.replace(minus, "-")
    return re.sub(r"\s+", " ", flat.replace("\u201d", '"').replace("\u2033", '"')).strip()


_DECIMAL = re.compile(r"[+-]? ?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")
_FRACTION = re.compile(r"([+-]?) ?(?:([0-9]+)[ -])?([0-9]+) ?/ ?([0-9]+)")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[,. ][0-9]{3})+")


def _fraction(text: str, match: re.Match[str]) -> float:
    """Return the value of `1/4` or `1 1/4`."""
    sign, whole, top, bottom = match.groups()
    if int(bottom) == 0:
        raise NumberProblem(text, f"'{text}' divides by nothing.", "Write a fraction such as 1/4.")
    value = int(whole or 0) + int(top) / int(bottom)
    return -value if sign == "-" else value


def _refuse_two_readings(text: str) -> None:
    """Refuse what a decimal comma and a thousands comma would read differently."""
    marks = {mark for mark in ",." if mark in text}
    if len(marks) == 2 or any(text.count(mark) > 1 for mark in marks):
        raise NumberProblem(
            text,
            f"'{text}' has a comma and a point, or one of them twice, so it can be read two ways.",
            "Type it without thousands marks: 1234.5 or 1234,5.",
        )
    if _THOUSANDS.fullmatch(text) and "." not in text:
        digits = re.sub(r"[, ]", "", text)
        raise NumberProblem(
            text,
            f"'{text}' could mean {digits} or {text.replace(',', '.').replace(' ', '.')}.",
            "Type thousands without a mark, and a decimal with a point.",
        )


def parse_number(text: str) -> float:
    """Return the one number that a person typed.

    Parameters: text : `1.5`, `1,5`, `1/4`, `1 1/4`, `1-1/4`, a fraction sign, any minus sign, spaces around.
    Returns: the number [the caller's unit].
    Raises: NumberProblem for a blank, words, NaN, the infinities, a division by nothing, and a text such as
    `1,234.5` or `1,234`, which two people would read differently.
    """
    plain = _plain(text)
    if not plain:
        raise NumberProblem(text, "Nothing was typed.", "Type a number, as in 6.5 or 1/4.")
    if plain.lstrip("+-").casefold() in ("nan", "inf", "infinity"):
        raise NumberProblem(text, f"'{plain}' is not a number that can be used.", "Type a plain number.")
    fraction = _FRACTION.fullmatch(plain)
    if fraction:
        return _fraction(plain, fraction)
    _refuse_two_readings(plain)
    if not _DECIMAL.fullmatch(plain):
        raise NumberProblem(text, f"'{plain}' is not a number.", "Type a number, as in 6.5, 6,5 or 1/4.")
    value = float(plain.replace(",", ".").replace(" ", ""))
    if not math.isfinite(value):
        raise NumberProblem(text, f"'{plain}' is too large to be used.", "Type a plain number.")
    return value


_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])(?: ?(?:h|hr|hrs|hours))?", re.IGNORECASE)
_HOURS_MINUTES = re.compile(
    r"([0-9]{1,3}) ?(?:h|hr|hrs|hour|hours) ?(?:and )?([0-9]{1,3}) ?(?:m|min|mins|minutes)?", re.IGNORECASE
)
_UNIT_TAIL = re.compile(r"(.*?)(?:deg(?:rees)? ?|\u00b0 ?)?([a-zA-Z%]+\.?|\"|'{1,2})?")


def _hours_and_minutes(plain: str) -> float | None:
    """Return the seconds of `4:30` or `4 h 30 min`, None for any other form."""
    match = _CLOCK.fullmatch(plain) or _HOURS_MINUTES.fullmatch(plain)
    return int(match[1]) * HOUR_s + int(match[2]) * MINUTE_s if match else None


def parse_quantity(text: str, kind: Kind, default_unit: str) -> Quantity:
    """Return the quantity that a person typed, with the unit written behind it or the form's own.

    Parameters: text : a number as `parse_number` takes it, then a unit or none: `1700 F`, `1/4"`, `90 min`;
    a duration may also be `4:30` [h:min] or `4 h 30 min`. kind : what it measures. default_unit : its unit
    if none is written.
    Returns: the SI value [K, m, s, kg, Pa; percent and plain numbers as they are], unit, text as typed.
    Raises: NumberProblem for text that is no number, or carries a unit of another kind.
    """
    plain = _plain(text)
    if kind == "duration" and (seconds := _hours_and_minutes(plain)) is not None:
        return Quantity(seconds, "h", text)
    match = _UNIT_TAIL.fullmatch(plain)
    number, written = (match[1], match[2]) if match else (plain, None)
    if written and not number.strip():
        number, written = plain, None
    value = parse_number(number)
    try:
        unit = unit_of(written or default_unit, kind)
    except NotPossible as problem:
        raise NumberProblem(text, f"{problem.what[0].upper()}{problem.what[1:]}.", problem.advice) from None
    return Quantity((value + unit.shift) * unit.factor, unit.symbol, text)


def show(value_si: float, unit: str, kind: Kind) -> str:
    """Return an SI value as text in a unit, with the digits that are worth showing."""
    found = unit_of(unit, kind)
    value = round(from_si(value_si, unit, kind), found.digits) + 0.0  # + 0.0: no -0
    degree = "\u00b0" if kind.startswith("temperature") and found.symbol != "K" else ""
    return f"{value:.{found.digits}f} {degree}{found.symbol}".rstrip()


def show_length_m(value_m: float, unit: str) -> str:
    """Return a length [m] as text: hundredths of a millimetre, thousandths of an inch."""
    return show(value_m, unit, "length")


def show_temperature_K(temperature_K: float, unit: str) -> str:
    """Return a temperature [K] as text in whole degrees."""
    return show(temperature_K, unit, "temperature")
