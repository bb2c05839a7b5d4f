"""Any process inside the stated ranges: a finite forecast in bounded time. Outside them: what is allowed.

CI draws a few bodies from a fixed seed; `ABUSE=10000 pytest -m long tests/abuse/test_numerics.py -s` draws
hundreds and names the slowest.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from time import process_time
from typing import Any

import pytest

from model.ranges import ELEMENT_WT
from tests.abuse.from_schema import BODIES, SCHEMA, resolved
from tests.abuse.kept_values import all_finite
from tests.abuse.thrown import throw_each
from webapp.forms.forecast_input import read_forecast_input
from webapp.forms.json_error import Refused
from webapp.services.forecasting import answer_forecast

pytestmark = pytest.mark.property

IN_CI, A_NIGHT = 40, int(os.environ.get("ABUSE", "10000")) // 20
LONGEST_S = 60.0  # of processor time, 8 draws of four stages of up to 400 h
MOST_CARBON_WT = 6.7  # of cementite
# a surface held at no carbon after a rich one, over heats that leap: the solver's steps may go so far below
LEAST_CARBON_WT = -0.02
LEAST_ANSWERED = 0.6  # the others ask what cannot be, such as a quench of what cooled in the box
PACK = {"mix": "charcoal", "carbonate_percent": 20}
ROD = {"shape": "rod", "diameter_mm": 12}


def soak(**changed: Any) -> dict[str, Any]:
    return {"kind": "carburize", "temperature_C": 925, "hours": 4, "supply": PACK} | changed


def body(**changed: Any) -> dict[str, Any]:
    return {
        "steel": {"grade": "1018"},
        "section": ROD,
        "stages": [soak()],
        "quench": {"medium": "water"},
        "temper": {"temperature_C": 180, "hours": 1},
        "draws": 8,
    } | changed


def answered(asked: dict[str, Any]) -> tuple[bool, float]:
    """Ask for a forecast, and hold it to its promises; return whether it was made, and its seconds."""
    started = process_time()
    made = made_of(asked)
    seconds = process_time() - started
    assert seconds < LONGEST_S, asked
    if made is None:
        return False, seconds
    assert all_finite(made), asked
    depths, carbon = made["depth_mm"], made["carbon_wt"]
    assert depths == sorted(depths)
    assert min(carbon) >= LEAST_CARBON_WT
    assert max(carbon) <= MOST_CARBON_WT
    return True, seconds


def made_of(asked: dict[str, Any]) -> dict[str, Any] | None:
    """Return the answer to a body; None where it is refused with what is wrong and what to do."""
    try:
        return answer_forecast(read_forecast_input(json.dumps(asked)), None).model_dump()
    except Refused as refused:
        if all(error.what and error.advice for error in refused.body.errors):
            return None
        raise


EXTREMES = {
    "a soak of 400 h": body(stages=[soak(hours=400)]),
    "half a millimetre for 400 h": body(
        section={"shape": "plate", "thickness_mm": 0.5}, stages=[soak(hours=400)]
    ),
    "a rod of 300 mm": body(section={"shape": "rod", "diameter_mm": 300}, quench={"medium": "oil"}),
    "one minute": body(stages=[soak(hours=1 / 60)]),
    "1150 C": body(stages=[soak(temperature_C=1150, hours=40)]),
    "400 C": body(stages=[soak(temperature_C=400)], quench=None, temper=None),
    "a history of 40 heats": body(
        stages=[
            {
                "kind": "carburize",
                "supply": PACK,
                "history": [[9 * n, 700 + 440 * (n % 2)] for n in range(40)],
            }
        ]
    ),
    "a history that ends colder than its bath": body(
        stages=[{"kind": "carburize", "supply": PACK, "history": [[0, 900], [60, 20]]}],
        quench={"medium": "oil", "bath_C": 250},
    ),
    "twenty stages": body(stages=[soak(hours=1), {"kind": "diffuse", "temperature_C": 900, "hours": 1}] * 10),
    "a tube of a hair's wall": body(
        section={"shape": "tube", "diameter_mm": 30, "bore_mm": 29.99, "bore_packed": True}
    ),
    "the pack's fullest and the transfer's fastest": body(
        stages=[soak(supply={"carbon_potential_wt": 2.1, "transfer_m_per_s": 1e-5})]
    ),
    "brine of 26 % at -30 C, two minutes on the way": body(
        quench={
            "medium": "brine",
            "bath_C": -30,
            "salt_percent": 26,
            "seconds_to_bath": 120,
            "then_cold_C": -196,
        }
    ),
    "every element at its most": body(
        steel={"composition_wt": {name: span.high for name, span in ELEMENT_WT.items()}}
    ),
    "200 draws of a slow cool and a reheat": body(
        stages=[soak(), {"kind": "slow_cool"}, {"kind": "reheat", "temperature_C": 1150, "minutes": 1}],
        draws=200,
    ),
}


@pytest.mark.parametrize("name", EXTREMES)
def test_an_extreme_inside_the_ranges_is_answered_with_finite_numbers(name: str) -> None:
    made, _ = answered(EXTREMES[name])
    assert made, name


def throw(examples: int, number: int) -> tuple[int, list[tuple[float, str]]]:
    """Ask for drawn bodies; return how many were answered, and all by how long they took."""
    told = []

    def one(asked: dict[str, Any]) -> None:
        told.append((*answered(asked), json.dumps(asked)))

    throw_each(BODIES, examples, number, one)
    slowest = sorted(((seconds, asked) for _, seconds, asked in told), reverse=True)
    return sum(made for made, _, _ in told), slowest


def test_any_process_inside_the_ranges_gives_finite_numbers_in_bounded_time() -> None:
    made, told = throw(IN_CI, 1)
    assert made >= LEAST_ANSWERED * len(told)


@pytest.mark.long
def test_hundreds_of_processes_inside_the_ranges_give_finite_numbers_in_bounded_time() -> None:
    made, told = throw(A_NIGHT, 100)
    print(made, "answered of", len(told), *told[:5], sep="\n")  # noqa: T201
    assert made >= LEAST_ANSWERED * len(told)


def numbers_of(part: dict[str, Any], path: tuple[Any, ...]) -> Iterator[tuple[tuple[Any, ...], float, float]]:
    """Return every number that a description gives a range, with where it stands."""
    part = resolved(part)
    for way in (part, *(resolved(one) for one in part.get("anyOf", ()))):
        if "maximum" in way and path[-1] not in ("seed", "fit"):
            yield path, way["minimum"], way["maximum"]
        for name, one in way.get("properties", {}).items():
            yield from numbers_of(one, (*path, name))


WHOLE = body(
    section={"shape": "tube", "diameter_mm": 30, "bore_mm": 10},
    stages=[
        soak(),
        soak(supply={"carbon_potential_wt": 1.0, "transfer_m_per_s": 1e-7}),
        soak(supply={"surface_carbon_wt": 0.9}),
        {"kind": "slow_cool", "rate_C_per_hour": 200},
        {"kind": "reheat", "temperature_C": 800, "minutes": 15},
    ],
    quench={"medium": "brine", "bath_C": 20, "salt_percent": 10, "seconds_to_bath": 2, "then_cold_C": -70},
)


def places(part: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Return where the numbers of a body stand."""
    for name, one in part.items() if isinstance(part, dict) else enumerate(part):
        if isinstance(one, dict | list):
            yield from places(one, (*path, name))
        elif isinstance(one, int | float):
            yield (*path, name)


RANGES = {
    (name == "TemperInput", path[-1]): (low, high)
    for name in (*SCHEMA["$defs"], None)
    for path, low, high in numbers_of(SCHEMA["$defs"][name] if name else SCHEMA, ("",))
}


@pytest.mark.parametrize("beyond", ["below", "above"])
@pytest.mark.parametrize("path", list(places(WHOLE)), ids=str)
def test_a_number_outside_its_range_is_refused_with_what_is_allowed_and_what_to_do(
    path: tuple[Any, ...], beyond: str
) -> None:
    low, high = RANGES[path[0] == "temper", path[-1]]
    wrong = json.loads(json.dumps(WHOLE))
    place = wrong
    for step in path[:-1]:
        place = place[step]
    by = 1 if path[-1] == "draws" else (high - low) * 1e-3
    place[path[-1]] = low - by if beyond == "below" else high + by
    with pytest.raises(Refused) as refused:
        read_forecast_input(json.dumps(wrong))
    error = next(one for one in refused.value.body.errors if one.path.endswith(str(path[-1])))
    assert "out of range" in error.what
    assert error.allowed
    assert error.advice
