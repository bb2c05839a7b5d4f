"""The logbook for programs: batches, coupons, the newest fit, and a forecast by that fit."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.fitted_demo import speaking_to_demo, store_of
from webapp.commands.forecast import run_forecast
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Fit, Item, Reading

JOB: dict[str, Any] = {
    "steel": {"grade": "1018"},
    "section": {"shape": "rod", "diameter_mm": 12},
    "stages": [
        {
            "kind": "carburize",
            "temperature_C": 925,
            "hours": 4,
            "supply": {"mix": "charcoal", "carbonate_percent": 5},
        }
    ],
    "quench": {"medium": "water"},
}


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def asked(client: TestClient, address: str) -> dict[str, Any]:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = json.loads(answer.content, parse_constant=lambda name: pytest.fail(name))
    return found


def test_batches_come_with_their_results_and_page_by_page(demo: TestClient) -> None:
    first = asked(demo, "/api/batches?rows=10&sort=number")
    second = asked(demo, "/api/batches?rows=10&sort=number&page=2")
    assert (first["total"], first["pages"]) == (16, 2)
    assert [b["number"] for b in (*first["batches"], *second["batches"])] == list(range(1, 17))
    sixth = first["batches"][5]
    assert sixth["odd"] == "shallow"
    assert sixth["soak"]["temperature_K"] == pytest.approx(915 + 273.15)
    assert 0.0 < sixth["depth_by_eye_m"]["least"] <= sixth["depth_by_eye_m"]["greatest"] < 0.002


def test_batches_are_filtered_as_in_the_list(demo: TestClient) -> None:
    found = asked(demo, "/api/batches?q=clay&state=measured&odd=true")
    assert [batch["number"] for batch in found["batches"]] == [6]
    assert found["total"] == 1


def test_coupons_come_with_every_reading_and_whether_it_was_used(demo: TestClient) -> None:
    coupons: list[dict[str, Any]] = []
    page = pages = 1
    while page <= pages:
        answer = asked(demo, f"/api/coupons?rows=20&page={page}")
        coupons += answer["coupons"]
        page, pages = page + 1, answer["pages"]
    with read(store_of(demo)) as session:
        kept = {row.id: row for row in session.exec(select(Item)) if row.kind == "coupon"}
        readings = [row for row in session.exec(select(Reading)) if row.item_id in kept]
    assert [coupon["id"] for coupon in coupons] == sorted(kept)
    assert sum(len(coupon["readings"]) for coupon in coupons) == len(readings)
    unused = [r for coupon in coupons for r in coupon["readings"] if not r["used"]]
    assert unused
    assert all(reading["not_used_because"] for reading in unused if reading["id"])
    of_third = asked(demo, "/api/coupons?batch=3")
    assert {coupon["batch_id"] for coupon in of_third["coupons"]} == {3}


def test_the_newest_fit_comes_with_its_belief(demo: TestClient) -> None:
    fit = asked(demo, "/api/fit")["fit"]
    belief = fit["belief"]
    assert len(belief["names"]) == len(belief["mean"]) == len(belief["covariance"])
    assert all(len(row) == len(belief["names"]) for row in belief["covariance"])
    assert fit["coupons"] == belief["coupons"] > 30
    assert {str(key) for key in fit["readings_used"]} == set(fit["summary"]["used"])


def test_before_anything_was_fitted_there_is_no_fit(client: TestClient) -> None:
    assert asked(client, "/api/fit")["fit"] is None
    assert asked(client, "/api/batches")["batches"] == []
    assert asked(client, "/api/coupons")["total"] == 0


@pytest.mark.parametrize(
    ("address", "path"),
    [
        ("/api/batches?box=elm", "box"),
        ("/api/batches?state=lost", "state"),
        ("/api/batches?rows=0", "rows"),
        ("/api/batches?rows=501", "rows"),
        ("/api/batches?page=nan", "page"),
        ("/api/coupons?batch=-1", "batch"),
        ("/api/coupons?page=1e9", "page"),
    ],
)
def test_a_query_that_makes_no_sense_is_refused_in_the_one_shape(
    demo: TestClient, address: str, path: str
) -> None:
    answer = demo.get(address)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["path"] == path
    assert error["what"]
    assert error["advice"]


def test_every_answer_is_described_and_keeps_its_description(demo: TestClient) -> None:
    schema = asked(demo, "/api/openapi.json")
    for name in ("batches", "coupons", "fit", "export"):
        described = schema["paths"][f"/api/{name}"]["get"]["responses"]
        assert "$ref" in described["200"]["content"]["application/json"]["schema"]
        assert described["422"]["content"]["application/json"]["schema"]["$ref"].endswith("/ErrorBody")
    told = schema["components"]["schemas"]["BatchAnswer"]["properties"]
    assert set(asked(demo, "/api/batches")["batches"][0]) == set(told)


def fit_id(client: TestClient) -> int:
    found: int = asked(client, "/api/fit")["fit"]["id"]
    return found


def test_a_forecast_by_the_fit_is_narrower_than_the_handbooks(demo: TestClient) -> None:
    books = demo.post("/api/forecast", json=JOB).json()
    own = demo.post("/api/forecast", json={**JOB, "fit": fit_id(demo)}).json()
    assert (books["constants"]["source"], own["constants"]["source"]) == ("handbook", "logbook")
    assert (books["constants"]["fit"], own["constants"]["fit"]) == (None, fit_id(demo))
    rim = {
        name: answer["constants"]["values"]["rim_carbon_wt"] for name, answer in (("b", books), ("o", own))
    }
    assert rim["o"]["high"] - rim["o"]["low"] < 0.8 * (rim["b"]["high"] - rim["b"]["low"])
    assert any("learnt from" in words for words in own["assumptions"])
    assert not any("learnt from" in words for words in books["assumptions"])


@pytest.mark.parametrize("wanted", [999, 2**53])
def test_a_fit_that_is_not_there_is_refused_at_its_field(demo: TestClient, wanted: int) -> None:
    answer = demo.post("/api/forecast", json={**JOB, "fit": wanted})
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["path"] == "fit"


def test_a_fit_of_an_earlier_model_is_not_used(demo: TestClient) -> None:
    number, store = fit_id(demo), store_of(demo)
    with store.lock, store.writer.begin() as connection:
        connection.execute(Fit.__table__.update().values(model_version="0.0"))  # type: ignore[attr-defined]
    assert demo.post("/api/forecast", json={**JOB, "fit": number}).status_code == 422
    assert asked(demo, "/api/fit")["fit"] is None


def test_the_command_opens_no_logbook_and_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "job.json"
    file.write_text(json.dumps({**JOB, "fit": 1}))
    assert run_forecast(str(file)) == 2
    (error,) = json.loads(capsys.readouterr().err)["errors"]
    assert error["path"] == "fit"
