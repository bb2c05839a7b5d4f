"""The logbook as tables and as one file: units in the heading, as typed beside SI, no live formulas."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.web.fitted_demo import speaking_to_demo, store_of
from webapp.services.export import BATCH_COLUMNS
from webapp.services.table_text import table_text
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.tables import Batch, Item, Reading, Step, metadata
from webapp.store.unit_of_work import Actor, UnitOfWork, write


@pytest.fixture
def demo(settings: Settings) -> Iterator[TestClient]:
    with speaking_to_demo(settings) as client:
        yield client


def writing(client: TestClient) -> Any:
    clock = client.app.state.context.clock  # type: ignore[attr-defined]
    return write(store_of(client), Actor("test bench"), clock.now())


def table(client: TestClient, address: str) -> list[dict[str, str]]:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def one(work: UnitOfWork, kind: type[Any], *conditions: Any) -> Any:
    return work.session.exec(select(kind).where(*conditions).order_by(kind.id)).first()


def test_each_batch_is_a_line_with_its_soak_and_its_results(demo: TestClient) -> None:
    lines = {int(line["batch"]): line for line in table(demo, "/logbook.csv")}
    assert sorted(lines) == list(range(1, 17))
    fifteenth = lines[15]
    assert float(fifteenth["soak temperature (K)"]) == pytest.approx(920 + 273.15)
    assert float(fifteenth["soak time (s)"]) == 3.5 * 3600
    assert (fifteenth["coupons"], fifteenth["parts"]) == ("3", "8")
    least, greatest = (float(fifteenth[f"{end} case depth by eye (m)"]) for end in ("least", "greatest"))
    assert 1e-4 < least < greatest < 2e-3
    assert lines[6]["odd one out"] == "shallow"


def test_a_table_holds_what_the_list_was_narrowed_to_all_pages_of_it(demo: TestClient) -> None:
    narrowed = table(demo, "/logbook.csv?q=clay+corner&page=1")
    assert [line["batch"] for line in narrowed] == ["6"]


def test_each_reading_is_a_line_with_its_unit_and_whether_it_was_used(demo: TestClient) -> None:
    lines = table(demo, "/readings.csv")
    with read(store_of(demo)) as session:
        readings = {str(row.id): row for row in session.exec(select(Reading))}
    assert {line["reading"] for line in lines} == set(readings)
    for line in lines:
        row = readings[line["reading"]]
        assert (float(line["value"]) if line["value"] else None) == (
            pytest.approx(row.value) if row.value is not None else None
        )
        assert line["unit of value"] == row.unit
    sizes = [line for line in lines if line["kind of reading"] == "size"]
    assert all("kept for you to read" in line["not used because"] for line in sizes)
    unused = [line for line in lines if line["used by the newest fit"] == "no" and line not in sizes]
    assert unused
    assert all("does not harden" in line["not used because"] for line in unused)
    traverse = next(line for line in lines if line["kind of reading"] == "traverse")
    assert len(json.loads(traverse["more (JSON)"])["points"]) == 8


def test_numbers_stand_as_they_were_typed_beside_si(demo: TestClient) -> None:
    with writing(demo) as work:
        soak = one(work, Step, Step.kind == "soak", Step.batch_id == 3)
        work.change(soak, typed={"temperature_K": "1675 F", "seconds": "4:00"})
        reading = one(work, Reading, Reading.kind == "depth")
        work.change(reading, typed={"value": "1/64 in"})
        reading_id = str(reading.id)
    third = next(line for line in table(demo, "/logbook.csv") if line["batch"] == "3")
    assert third["soak as typed"] == "1675 F; 4:00"
    assert float(third["soak temperature (K)"]) == pytest.approx(915 + 273.15)
    typed = {line["reading"]: line["as typed"] for line in table(demo, "/readings.csv")}
    assert typed[reading_id] == "1/64 in"


@pytest.mark.parametrize(
    "typed", ["=HYPERLINK(1)", "+1", "-1+2", "@SUM(A1)", "\tcmd", "\r=1", "=\u20ac", "-- notes"]
)
def test_a_text_that_a_spreadsheet_would_run_is_made_harmless(demo: TestClient, typed: str) -> None:
    with writing(demo) as work:
        work.change(one(work, Batch, Batch.number == 5), note=typed)
        work.change(one(work, Item, Item.batch_id == 5), name=typed)
    raw = demo.get("/logbook.csv").content.decode("utf-8-sig")
    row = next(row for row in csv.reader(io.StringIO(raw, newline="")) if row[0] == "5")
    cell = row[BATCH_COLUMNS.index("note")]
    assert cell == "'" + typed
    named = [line["name"] for line in table_of(demo.get("/readings.csv").content) if line["batch"] == "5"]
    assert "'" + typed in named


def table_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_numbers_below_nought_stay_numbers_and_texts_stay_whole() -> None:
    texts = 'one, "two"\nthree; Käthe – ½″'
    text = table_text(("a", "b", "c", "d"), [(-1.5, texts, None, 0.1 + 0.2)])
    heading, cells = csv.reader(io.StringIO(text, newline=""))
    assert heading == ["a", "b", "c", "d"]
    assert cells == ["-1.5", texts, "", "0.3"]


def test_the_file_is_named_after_the_shop_in_plain_letters(demo: TestClient) -> None:
    name = demo.get("/logbook.csv").headers["content-disposition"]
    assert name == 'attachment; filename="heathergill-light-railway-signal-workshop-invented-batches.csv"'


def test_everything_holds_every_table_and_what_lies_in_the_bin(demo: TestClient) -> None:
    with writing(demo) as work:
        work.remove(one(work, Batch, Batch.number == 9))
    answer = demo.get("/api/export")
    whole = json.loads(answer.content, parse_constant=lambda name: pytest.fail(f"{name} is no JSON number"))
    assert set(whole["tables"]) == {table.name for table in metadata.sorted_tables} - {"formuse"}
    ninth = next(row for row in whole["tables"]["batch"] if row["number"] == 9)
    assert ninth["deleted_at"] is not None
    with read(store_of(demo)) as session:
        stored = session.exec(select(Reading)).all()
    exported = {row["id"]: row for row in whole["tables"]["reading"]}
    assert len(exported) == len(stored)
    assert all(exported[row.id]["value"] == row.value for row in stored)
    assert all(exported[row.id]["details"] == row.details for row in stored)
    assert any(row["action"] == "removed" for row in whole["tables"]["change"])


def test_an_empty_logbook_gives_headings_and_no_lines(client: TestClient) -> None:
    for address in ("/logbook.csv", "/readings.csv"):
        assert table(client, address) == []
        assert client.get(address).content.decode("utf-8-sig").count("\r\n") == 1
