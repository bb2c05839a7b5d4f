"""Numbers as a shop types them: read with their unit, held against a range, written back.

A refusal says what is wrong, what is allowed (in the unit that was typed), and what to do; a number that
would be right in another unit of the trade (1700 typed as Celsius) is asked about.
"""

from __future__ import annotations

from dataclasses import replace

from model.errors import NumberProblem, OutOfRange
from model.ranges import Range, check
from model.units import Kind, Quantity, from_si, parse_number, parse_quantity, to_si, unit_of
from webapp.forms.ask import Ask, Units

# Limits of sense where a question states none. Common practice, no source.
SENSE: dict[Kind, Range] = {
    "temperature": Range(-200.0, 1500.0, "C", "Type the temperature, as in 925 C or 1700 F."),
    "temperature difference": Range(-1500.0, 1500.0, "C", "Type a number of degrees."),
    "length": Range(0.0, 20.0, "m", "Type a size, as in 12 mm or 1/2 in."),
    "duration": Range(0.0, 9600.0, "h", "Type a time, as in 4 h, 4:30 or 45 min."),
    "mass": Range(0.0, 2000.0, "kg", "Type a weight, as in 500 g or 1 lb."),
    "pressure": Range(0.0, 400.0, "bar", "Type a pressure, as in 0.5 bar or 7 psi."),
    "percent": Range(0.0, 100.0, "%", "Type a percentage from 0 to 100."),
    "number": Range(-1e9, 1e9, "", "Type a smaller number."),
}
OTHER_UNITS: dict[Kind, tuple[str, ...]] = {
    "temperature": ("F", "C"),
    "length": ("mm", "in"),
    "duration": ("min", "h"),
    "mass": ("g", "oz", "kg"),
}
STEEL_MELTS_K = 1750.0
"""About where low-carbon steel begins to melt; only chooses words. Common practice, no source."""


def amount(value_si: float, unit: str, kind: Kind) -> str:
    """Return the bare number of an SI value in a unit, without idle zeros."""
    digits = unit_of(unit, kind).digits if kind != "number" else 6
    value = round(from_si(value_si, unit, kind), digits) + 0.0
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def sign(unit: str, ask: Ask) -> str:
    """Return how a unit is printed beside its number."""
    if ask.quantity == "number":
        return ask.unit
    degree = ask.quantity is not None and ask.quantity.startswith("temperature") and unit != "K"
    return f"°{unit}" if degree else unit


def written(value_si: float, unit: str, ask: Ask) -> str:
    """Return an SI value with its unit, as a sentence of a page shows it."""
    return f"{amount(value_si, unit, ask.quantity or 'number')} {sign(unit, ask)}".rstrip()


def read_number(name: str, text: str, ask: Ask, units: Units) -> Quantity:
    """Return the quantity typed for a question; raises NumberProblem with a message fit to show."""
    kind = ask.quantity or "number"
    label = ask.unit if kind == "number" else ""
    bare = text[: -len(label)] if label and text.casefold().endswith(label.casefold()) else text
    found = parse_quantity(bare, kind, units.unit_for(ask))
    limits = ask.range or SENSE[kind]
    unit = "" if kind == "number" else limits.unit
    value = from_si(found.value_si, unit, kind)
    # Nine decimals: 1/4 in is not refused for the rounding of its conversion.
    try:
        check(name, round(value, 9), limits)
    except OutOfRange as problem:
        raise NumberProblem(text, *_refusal(found, problem, ask, units)) from None
    inside = min(max(value, limits.low), limits.high)
    return found if inside == value else replace(found, value_si=to_si(inside, unit, kind))


def allowed(ask: Ask, unit: str) -> str:
    """Return the allowed range in a unit, as in `60 to 900 mm`."""
    kind = ask.quantity or "number"
    limits = ask.range or SENSE[kind]
    low, high = (_limit(end, limits, unit, kind) for end in (limits.low, limits.high))
    return f"{low} to {high} {sign(unit, ask)}".rstrip()


def _limit(end: float, limits: Range, unit: str, kind: Kind) -> str:
    return amount(to_si(end, "" if kind == "number" else limits.unit, kind), unit, kind)


def _refusal(found: Quantity, problem: OutOfRange, ask: Ask, units: Units) -> tuple[str, str]:
    """Say why a number is refused and what to do about it."""
    kind = ask.quantity or "number"
    shown = written(found.value_si, found.unit, ask)
    guess = _meant(found, problem, ask, units)
    within = f"Allowed: {allowed(ask, found.unit)}."
    if guess:
        return f"{shown} {_why(found, problem, kind)}. {guess}", within
    return f"{shown} {_why(found, problem, kind)}. {within}", ask.advice or problem.advice


def _why(found: Quantity, problem: OutOfRange, kind: Kind) -> str:
    if kind == "temperature" and found.value_si > STEEL_MELTS_K:
        return "is hotter than steel survives"
    if found.value_si < 0 <= problem.low:
        return "is below absolute zero" if kind == "temperature" else "is less than nothing"
    return "is too much here" if problem.value > problem.high else "is too little here"


def _meant(found: Quantity, problem: OutOfRange, ask: Ask, units: Units) -> str:
    """Ask about another unit in which the same number would be allowed, if there is one."""
    kind = ask.quantity or "number"
    typed = from_si(found.value_si, found.unit, kind)
    for other in OTHER_UNITS.get(kind, ()):
        other_si = to_si(typed, other, kind)
        if other != found.unit and problem.low <= from_si(other_si, problem.unit, kind) <= problem.high:
            number = written(other_si, other, ask)
            own = written(other_si, units.unit_for(ask), ask)
            also = f" ({own})" if own != number else ""
            return f"Did you mean {number}{also}? Then type {amount(other_si, other, kind)} {other}."
    return ""


def with_unit(found: Quantity) -> str:
    """Return a number as typed, its unit added if none was written, so that it can be read later."""
    try:
        parse_number(found.text)
    except NumberProblem:
        return found.text.strip()
    return f"{found.text.strip()} {found.unit}".rstrip()


def as_typed(value_si: float, typed: str, ask: Ask, units: Units) -> str:
    """Return the text to edit: as typed while that still means the value, else the value in shop units."""
    kind, unit = ask.quantity or "number", units.unit_for(ask)
    plain = amount(value_si, unit, kind)
    if not typed:
        return plain
    try:
        meant = parse_quantity(typed, kind, unit).value_si
    except NumberProblem:
        return plain
    if abs(meant - value_si) > 1e-9 * max(1.0, abs(value_si)):
        return plain
    return typed.removesuffix(f" {unit}") if unit else typed


def understood(found: Quantity, ask: Ask, units: Units) -> str:
    """Return what was understood when the text alone does not show it: a fraction, another unit, a comma."""
    unit = units.unit_for(ask)
    shown = written(found.value_si, unit, ask)
    typed = found.text.strip().removesuffix(sign(unit, ask)).removesuffix(unit).strip()
    try:
        plain = float(typed) == float(amount(found.value_si, unit, ask.quantity or "number"))
    except ValueError:
        plain = False
    return "" if plain else shown
