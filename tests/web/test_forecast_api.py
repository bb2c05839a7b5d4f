"""The JSON interface and the command: what they answer, and how they refuse."""

from __future__ import annotations

import copy
import io
import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import jsonschema
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from webapp.api_forecast import router
from webapp.commands.forecast import run_forecast
from webapp.forms.json_error import LONGEST_BODY_BYTES

FULL: dict[str, Any] = {
    "steel": {"grade": "1018"},
    "section": {"shape": "rod", "diameter_mm": 12},
    "stages": [
        {
            "kind": "carburize",
            "temperature_C": 925,
            "hours": 4,
            "supply": {"mix": "charcoal", "carbonate_percent": 5},
        },
        {
            "kind": "carburize",
            "temperature_C": 930,
            "hours": 2,
            "supply": {"carbon_potential_wt": 1.0, "transfer_m_per_s": 2e-7},
        },
        {"kind": "diffuse", "temperature_C": 900, "hours": 4},
        {"kind": "slow_cool"},
        {"kind": "reheat", "temperature_C": 800, "minutes": 20},
    ],
    "quench": {
        "medium": "water",
        "bath_C": 25,
        "agitation": "moderate",
        "seconds_to_bath": 2,
        "then_cold_C": -80,
    },
    "temper": {"temperature_C": 180, "hours": 2},
    "draws": 20,
}
SHORT: dict[str, Any] = {
    "steel": {"composition_wt": {"C": 0.16, "Mn": 0.7}},
    "section": {"shape": "plate", "thickness_mm": 8},
    "stages": [{"kind": "carburize", "temperature_C": 900, "hours": 1, "supply": {"mix": "charcoal"}}],
    "quench": {"medium": "water"},
    "draws": 3,
}
Post = Callable[[Any], Any]


@pytest.fixture
def api() -> Iterator[TestClient]:
    app = FastAPI(openapi_url="/api/openapi.json")
    app.include_router(router, prefix="/api")
    with TestClient(app) as client:
        yield client


@pytest.fixture
def post(api: TestClient) -> Post:
    def send(body: Any) -> Any:
        if isinstance(body, str | bytes):
            return api.post("/api/forecast", content=body)
        return api.post("/api/forecast", json=body)

    return send


def changed(base: dict[str, Any], *path: Any, to: Any) -> dict[str, Any]:
    """Return a copy of a body with one place changed; `...` takes the place out."""
    body = copy.deepcopy(base)
    place: Any = body
    for step in path[:-1]:
        place = place[step]
    if to is ...:
        del place[path[-1]]
    else:
        place[path[-1]] = to
    return body


def numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from numbers(one)
    elif isinstance(value, float | int):
        yield float(value)


PROFILES = (
    "carbon_wt",
    "carbon_in_austenite_wt",
    "retained_austenite",
    "martensite",
    "pearlite_bainite_ferrite",
    "carbide",
    "hardness_as_quenched_HV",
    "hardness_tempered_HV",
)


def test_the_example_of_the_design_is_answered_in_full(post: Post) -> None:
    answer = post(FULL)
    assert answer.status_code == 200
    made = answer.json()
    assert made["schema"] == 1
    assert len(made["depth_mm"]) >= 60
    assert made["depth_mm"][0] == 0.0
    assert made["depth_mm"][-1] == pytest.approx(6.0)
    assert {len(made[name]) for name in PROFILES} == {len(made["depth_mm"])}
    assert set(made["case_depth_mm"]) == {"HV550", "HRC50", "core50", "total", "rim"}
    assert 58.0 < made["surface_HRC"] < 67.0
    assert made["surface_HRC_90"][0] <= made["surface_HRC_90"][1]
    assert made["reading_HRC"] <= made["surface_HRC"] + 1e-9
    assert 20.0 < made["carbon_gain_g_per_m2"] < 80.0
    assert [state["stage"] for state in made["states"]] == [0, 1, 2, 3, 4]
    assert made["constants"]["draws"] == 20
    assert made["constants"]["seed"] == 0
    assert any("moderate in motion" in text for text in made["assumptions"])
    assert all(math.isfinite(number) for number in numbers(made))


def test_the_bath_its_motion_its_salt_and_the_way_to_it_all_count(post: Post) -> None:
    def made(**quench: Any) -> dict[str, Any]:
        bath = {"medium": "water", "bath_C": 70.0, "agitation": "still"} | quench
        answer = post(FULL | {"quench": bath, "draws": 5})
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    still, moved, salted = made(), made(agitation="strong"), made(medium="brine", salt_percent=8.0)
    assert still["film_seconds"] > 1.0 > moved["film_seconds"]
    assert "vapour_film" in {warned["code"] for warned in still["warnings"]}
    assert moved["surface_HV"] > still["surface_HV"] + 100.0
    assert salted["surface_HV"] > still["surface_HV"] + 100.0
    oil, late = made(medium="vegetable oil"), made(agitation="strong", seconds_to_bath=80.0)
    assert late["surface_HV"] < moved["surface_HV"] - 100.0
    assert max(oil["bainite"]) > 0.01
    assert sum(oil["pearlite_bainite_ferrite"]) == pytest.approx(
        sum(sum(oil[name]) for name in ("ferrite", "pearlite", "bainite"))
    )
    too_salt = post(FULL | {"quench": {"medium": "brine", "salt_percent": 60.0}})
    assert too_salt.status_code == 422


def test_shares_sum_to_one_after_a_quench(post: Post) -> None:
    made = post(FULL).json()
    names = ("retained_austenite", "martensite", "ferrite", "pearlite", "bainite", "carbide")
    for parts in zip(*(made[name] for name in names), strict=True):
        assert sum(parts) == pytest.approx(1.0)


def test_each_band_holds_its_value(post: Post) -> None:
    for depth in post(changed(FULL, "draws", to=200)).json()["case_depth_mm"].values():
        assert depth["status"] == "found"
        assert depth["low"] < depth["value"] < depth["high"]


def test_the_same_seed_gives_the_same_answer_and_another_does_not(post: Post) -> None:
    assert post(SHORT).content == post(SHORT).content
    assert post(SHORT).json()["case_depth_mm"] != post(SHORT | {"seed": 1}).json()["case_depth_mm"]


def test_an_answer_keeps_the_published_schema(api: TestClient, post: Post) -> None:
    description = api.get("/api/openapi.json").json()
    operation = description["paths"]["/api/forecast"]["post"]
    assert operation["requestBody"]["content"]["application/json"]["schema"]["$ref"].endswith("ForecastInput")
    answer_name = operation["responses"]["200"]["content"]["application/json"]["schema"]["$ref"].rsplit(
        "/", 1
    )[-1]
    refusal_name = operation["responses"]["422"]["content"]["application/json"]["schema"]["$ref"].rsplit(
        "/", 1
    )[-1]
    schemas = {"components": description["components"]}
    for name, instance in (
        (answer_name, post(FULL).json()),
        (answer_name, post(changed(SHORT, "quench", to=None)).json()),
        (refusal_name, post({}).json()),
        ("ForecastInput", FULL),
    ):
        jsonschema.validate(instance, {"$ref": f"#/components/schemas/{name}"} | schemas)


def test_without_a_quench_hardness_is_null_and_the_reason_is_given(post: Post) -> None:
    made = post(changed(SHORT, "quench", to=None)).json()
    for name in (
        "martensite",
        "hardness_as_quenched_HV",
        "hardness_tempered_HV",
        "surface_HRC",
        "reading_HRC",
        "core_HRC",
    ):
        assert made[name] is None
    assert made["case_depth_mm"]["HV550"] == {
        "value": None,
        "low": None,
        "high": None,
        "status": "not_modelled",
    }
    assert made["case_depth_mm"]["total"]["status"] == "found"
    assert any("Not quenched" in text for text in made["assumptions"])


def test_no_stages_is_plain_hardening_and_says_from_where(post: Post) -> None:
    made = post(changed(changed(SHORT, "stages", to=...), "steel", to={"grade": "1045"})).json()
    assert made["core_HRC"] > 50.0
    assert made["carbon_gain_g_per_m2"] == 0.0
    assert any("No stage was given" in text for text in made["assumptions"])


def test_a_soft_core_is_off_the_rockwell_scale_and_given_in_vickers(post: Post) -> None:
    made = post(changed(SHORT, "stages", 0, "temperature_C", to=690)).json()
    assert made["core_HRC"] is None
    assert 90.0 < made["core_HV"] < 238.0
    assert "below_ac1" in {warning["code"] for warning in made["warnings"]}


def test_a_history_and_several_tempers_are_taken(post: Post) -> None:
    history = [[5, 700], [45, 915], [120, 910.5]]
    stage = {"kind": "carburize", "history": history, "supply": {"surface_carbon_wt": 0.9}}
    body = changed(SHORT, "stages", 0, to=stage)
    body["temper"] = [{"temperature_C": 160, "minutes": 90}, {"temperature_C": 180, "hours": 1}]
    answer = post(body)
    assert answer.status_code == 200
    assert answer.json()["carbon_wt"][0] == pytest.approx(0.9, abs=1e-6)


def test_a_temper_beyond_the_formula_is_null_not_wrong(post: Post) -> None:
    made = post(SHORT | {"temper": {"temperature_C": 400, "hours": 1}}).json()
    assert made["hardness_tempered_HV"] is None
    assert made["hardness_as_quenched_HV"] is not None
    assert made["surface_HRC"] is None


MIX = {"mix": "charcoal"}
DIFFUSE = {"kind": "diffuse"}
HOT = {"temperature_C": 5000, "hours": 1}
SUPPLY = "stages[0].supply"


def staged(to: Any) -> dict[str, Any]:
    return changed(SHORT, "stages", 0, to=to)


def supplied(to: Any) -> dict[str, Any]:
    return changed(SHORT, "stages", 0, "supply", to=to)


def sectioned(to: Any) -> dict[str, Any]:
    return changed(SHORT, "section", to=to)


def made_of(to: Any) -> dict[str, Any]:
    return changed(SHORT, "steel", to=to)


REFUSALS: list[tuple[Any, str, str]] = [
    ({}, "steel", "missing"),
    ([], "", "valid dictionary"),
    (SHORT | {"colour": "red"}, "colour", "unknown key"),
    (made_of({"grade": "9999"}), "steel.grade", "not a grade"),
    (made_of({"grade": 1018}), "steel.grade", "string"),
    (made_of({"composition_wt": {"Xx": 1.0}}), "steel", "not an element"),
    (made_of({"composition_wt": {"C": -0.1}}), "steel", "C is -0.1"),
    (made_of({"grade": "1018", "composition_wt": {"C": 0.2}}), "steel.grade", "unknown key"),
    (sectioned({"shape": "cone"}), "section", "does not match"),
    (sectioned({"thickness_mm": 8}), "section", "shape"),
    (changed(SHORT, "section", "thickness_mm", to=-8), "section.thickness_mm", "out of range"),
    (changed(SHORT, "section", "thickness_mm", to="8"), "section.thickness_mm", "number"),
    (changed(SHORT, "section", "thickness_mm", to=True), "section.thickness_mm", "number"),
    (changed(SHORT, "section", "thickness_mm", to=10**400), "section.thickness_mm", "number"),
    (sectioned({"shape": "tube", "diameter_mm": 20}), "section.bore_mm", "missing"),
    (sectioned({"shape": "tube", "diameter_mm": 20, "bore_mm": 20}), "section", "no wall"),
    (changed(SHORT, "stages", 0, "kind", to="melt"), "stages[0]", "does not match"),
    (supplied(...), "stages[0].supply", "missing"),
    (changed(SHORT, "stages", 0, "hours", to=...), "stages[0]", "exactly one"),
    (staged(SHORT["stages"][0] | {"minutes": 60}), "stages[0]", "exactly one"),
    (changed(SHORT, "stages", 0, "temperature_C", to=...), "stages[0]", "temperature_C"),
    (changed(SHORT, "stages", 0, "hours", to=0), "stages[0].hours", "out of range"),
    (supplied({"mix": "bone"}), SUPPLY + ".mix", "charcoal"),
    (supplied({"carbon_potential_wt": 1.0}), SUPPLY + ".transfer_m_per_s", "missing"),
    (supplied(MIX | {"carbonate_percent": 95}), SUPPLY + ".carbonate_percent", "out of range"),
    (changed(SHORT, "stages", to=[SHORT["stages"][0]] * 21), "stages", "20"),
    (staged(DIFFUSE | {"history": [[0, 900], [0, 910]]}), "stages[0]", "rise"),
    (staged(DIFFUSE | {"history": [[0, 900], [60, 2910]]}), "stages[0]", "out of range"),
    (staged(DIFFUSE | {"history": [[0, 900, 1], [60, 910]]}), "stages[0].history[0]", "2 items"),
    (changed(SHORT, "quench", to={"medium": "lava"}), "quench.medium", "air"),
    (
        changed(SHORT, "quench", to={"medium": "water", "then_cold_C": -300}),
        "quench.then_cold_C",
        "out of range",
    ),
    (SHORT | {"temper": {"temperature_C": 180}}, "temper", "exactly one"),
    (SHORT | {"temper": HOT}, "temper.temperature_C", "out of range"),
    (SHORT | {"temper": [HOT]}, "temper[0].temperature_C", "out of range"),
    (SHORT | {"temper": []}, "temper", "at least 1"),
    (changed(SHORT, "stages", to=[{"kind": "slow_cool"}]), "stages[0]", "nothing is hot"),
    (SHORT | {"draws": 0}, "draws", "out of range"),
    (SHORT | {"draws": 2.5}, "draws", "integer"),
    (SHORT | {"seed": -1}, "seed", "greater"),
    (changed(SHORT, "stages", to=[SHORT["stages"][0], {"kind": "slow_cool"}]), "quench", "cooled in the box"),
]


@pytest.mark.parametrize(("body", "path", "what"), REFUSALS)
def test_a_bad_body_is_refused_at_the_field_with_what_is_wrong(
    post: Post, body: Any, path: str, what: str
) -> None:
    answer = post(json.dumps(body))
    assert answer.status_code == 422
    errors = answer.json()["errors"]
    assert path in [error["path"] for error in errors]
    assert any(what in error["what"] for error in errors if error["path"] == path)
    assert all(set(error) == {"path", "what", "allowed", "advice"} for error in errors)


def test_a_range_is_told_with_the_refusal(post: Post) -> None:
    (error,) = post(changed(SHORT, "stages", 0, "temperature_C", to=1700)).json()["errors"]
    assert error["path"] == "stages[0].temperature_C"
    assert error["allowed"] == "400 to 1150 C"
    assert "927 C" in error["advice"]  # 1700 F is 927 C: asked about, never taken silently


def test_a_temper_hotter_than_ac1_is_refused(post: Post) -> None:
    steel = {"composition_wt": {"C": 0.1, "Ni": 4.0}}  # nickel brings Ac1 down to about 655 C (Andrews 1965)
    answer = post(changed(SHORT, "steel", to=steel) | {"temper": {"temperature_C": 690, "hours": 1}})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["path"] == "temper"


@pytest.mark.parametrize("name", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_what_is_no_number_is_refused(post: Post, name: str) -> None:
    answer = post(json.dumps(SHORT).replace('"hours": 1', f'"hours": {name}'))
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["path"] == "stages[0].hours"
    assert "NaN" in error["what"]


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b'{"steel": "\xff"}', "UTF-8"),
        (b"[" * 100_000, "nested"),
        (b'{"draws": ' + b"9" * 5000 + b"}", "digits"),
        (b'{"draws": 1, "draws": 2}', "twice"),
        (b" " * (LONGEST_BODY_BYTES + 1), "too long"),
        (b"null", "dictionary"),
    ],
)
def test_broken_json_is_refused_and_never_a_500(post: Post, body: bytes, what: str) -> None:
    answer = post(body)
    assert answer.status_code == 422
    assert what in answer.json()["errors"][0]["what"]


@pytest.mark.parametrize("body", [SHORT | {"\ud800": 1}, changed(SHORT, "steel", to={"grade": "\ud800"})])
def test_half_a_character_is_refused_and_never_a_500(post: Post, body: dict[str, Any]) -> None:
    answer = post(json.dumps(body))
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["what"]


def test_many_errors_are_a_page_not_a_book(post: Post) -> None:
    answer = post(SHORT | {f"k{place}": 1 for place in range(500)})
    assert answer.status_code == 422
    assert len(answer.json()["errors"]) == 50


def test_the_command_prints_what_the_interface_answers(
    post: Post, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "job.json"
    file.write_text(json.dumps(SHORT))
    assert run_forecast(str(file)) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out) == post(SHORT).json()
    assert printed.err == ""


def test_the_command_reads_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(buffer=io.BytesIO(json.dumps(SHORT).encode())))
    assert run_forecast("-") == 0
    assert json.loads(capsys.readouterr().out)["schema"] == 1


def test_the_command_refuses_as_the_interface_does(
    post: Post, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bad.json"
    file.write_text('{"draws": NaN}')
    assert run_forecast(str(file)) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert json.loads(printed.err) == post('{"draws": NaN}').json()


def test_the_command_says_when_there_is_no_such_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run_forecast(str(tmp_path / "none.json")) == 2
    assert "cannot read" in json.loads(capsys.readouterr().err)["errors"][0]["what"]
