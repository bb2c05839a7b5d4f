"""Bodies drawn from the interface's own description, its ranges read from there: ends, and between."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st

from model.ranges import ELEMENT_WT
from model.steels import steel_grades
from webapp.forms.forecast_input import HISTORY_CELSIUS, HISTORY_MINUTES, ForecastInput

SCHEMA = ForecastInput.model_json_schema()
LASTS = ("hours", "minutes", "history")
MOST_DRAWS, MOST_POINTS = 8, 40


def resolved(part: dict[str, Any]) -> dict[str, Any]:
    """Return a part of the description without references."""
    name = part.get("$ref", "").rpartition("/")[2]
    return dict(SCHEMA["$defs"][name]) if name else part


def number(part: dict[str, Any]) -> st.SearchStrategy[float]:
    """Return numbers of a stated range: its ends, between them, and between them by orders of size."""
    low, high = float(part["minimum"]), float(part["maximum"])
    ways = [st.sampled_from((low, high)), st.floats(low, high)]
    if low > 0.0:
        ways.append(st.floats(math.log(low), math.log(high)).map(lambda x: min(max(math.exp(x), low), high)))
    return st.one_of(ways)


def value(part: dict[str, Any]) -> st.SearchStrategy[Any]:
    """Return values of one part of the description."""
    part = resolved(part)
    if "const" in part or "enum" in part:
        return st.sampled_from(part.get("enum") or [part["const"]])
    if ways := part.get("oneOf") or part.get("anyOf"):
        return st.one_of([value(way) for way in ways])
    kind = part["type"]
    if kind == "array":
        return st.lists(value(part["items"]), min_size=part.get("minItems", 0), max_size=4)
    if kind == "object":
        return record(part)
    simple: dict[str, st.SearchStrategy[Any]] = {"null": st.none(), "boolean": st.booleans()}
    return simple[kind] if kind in simple else number(part)


def record(part: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Return records of one kind; what lasts is said once."""
    names = {name: one for name, one in part["properties"].items() if name not in LASTS}
    asked = {name: value(one) for name, one in names.items()}
    lasts = [name for name in LASTS[:2] if name in part["properties"]]
    if not lasts:
        return st.fixed_dictionaries(asked)
    asked["temperature_C"] = value(_numbers_of(names["temperature_C"]))
    once = [
        st.fixed_dictionaries({**asked, name: value(_numbers_of(part["properties"][name]))}) for name in lasts
    ]
    heats = {name: one for name, one in asked.items() if name != "temperature_C"}
    if "history" in part["properties"]:
        once.append(st.fixed_dictionaries({**heats, "history": histories()}))
    return st.one_of(once)


@st.composite
def histories(draw: st.DrawFn) -> list[list[float]]:
    """Return a history of up to 40 points, minutes rising, from moments to months."""
    count = draw(st.integers(2, MOST_POINTS))
    longest = math.exp(draw(st.floats(math.log(5.0), math.log(HISTORY_MINUTES.high))))
    heats = draw(
        st.lists(st.floats(HISTORY_CELSIUS.low, HISTORY_CELSIUS.high), min_size=count, max_size=count)
    )
    return [[longest * place / (count - 1), heat] for place, heat in enumerate(heats)]


def _numbers_of(part: dict[str, Any]) -> dict[str, Any]:
    """Return the one way of a part that is a number."""
    return next((way for way in part.get("anyOf", []) if way.get("type") == "number"), part)


GRADE = st.sampled_from([row.grade for row in steel_grades()]).map(lambda grade: {"grade": grade})
COMPOSITION = st.fixed_dictionaries(
    {},
    optional={
        name: st.one_of(st.sampled_from((span.low, span.high)), st.floats(span.low, span.high))
        for name, span in ELEMENT_WT.items()
    },
).map(lambda parts: {"composition_wt": parts or {"C": 0.1}})


@st.composite
def sections(draw: st.DrawFn) -> dict[str, Any]:
    """Return a section; a tube's wall is anything from a hair to nearly all of it."""
    section: dict[str, Any] = draw(value(SCHEMA["properties"]["section"]))
    if section["shape"] == "tube":
        outside = max(section["diameter_mm"], 1.0)
        share = draw(st.sampled_from((0.3, 0.5, 0.9, 0.99, 0.999)))
        section |= {"diameter_mm": outside, "bore_mm": max(outside * share, 0.2)}
    return section


BODIES = st.fixed_dictionaries(
    {
        "steel": st.one_of(GRADE, COMPOSITION),
        "section": sections(),
        "stages": value(SCHEMA["properties"]["stages"]),
        "quench": value(SCHEMA["properties"]["quench"]),
        "temper": value(SCHEMA["properties"]["temper"]),
        "draws": st.integers(1, MOST_DRAWS),
        "seed": st.integers(0, 99),
    }
)
