"""An old table brought in: read however it was saved, shown first, kept whole or not at all, undone."""

from __future__ import annotations

import csv
import io
import sqlite3
import time
from contextlib import closing, suppress
from datetime import date
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sqlmodel import func, select

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.page_forms import begin
from webapp.forms.ask import Units
from webapp.forms.bring_in import BringInAsked
from webapp.services.batch_rows import row_id
from webapp.services.batches import write_up
from webapp.services.bring_in import bring_in
from webapp.services.bring_in_look import look_through
from webapp.services.items import add_item
from webapp.services.observations import tell
from webapp.services.old_columns import KNOWN, known_headings, understand
from webapp.services.old_days import read_day, usual_order
from webapp.services.readings import add_readings
from webapp.services.sheet_text import MOST_BYTES, MOST_ROWS, SheetRefused, read_sheet
from webapp.store import many_rows
from webapp.store.engine import Store, read
from webapp.store.tables import Batch, BroughtIn, Change, Fire, Item, Reading, Step
from webapp.store.unit_of_work import Actor, plain_fields, write

HEADING = (
    "Batch;Date;Heat (°C);Hours;Quench;Temper (C);Temper time (min);Mark;Size mm;HRC;Case depth (in);Notes"
)
TABLE = f"""{HEADING}
A1;14.03.2024;about 900;4,5;oil;180;60;a;12;61,5;0.027;first go, in the rain
A1;;;;;;;b;10;60;;second pin
;2.4.2024;905;6:00;oil;;;;1/2 in;63;0.035;'=SUM(A1)
"""


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


def sent(client: TestClient, content: str | bytes, name: str = "old.csv") -> Any:
    data = content.encode() if isinstance(content, str) else content
    return client.post("/bring-in", files={"table": (name, data, "text/csv")})


def looked_at(client: TestClient, content: str | bytes) -> str:
    answer = sent(client, content)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def kept(client: TestClient, address: str, form_id: str = "form-of-the-test-1") -> Any:
    page = client.get(address)
    action = page.text.split('<form method="post" action="/bring-in/')[1].split('"')[0].replace("&amp;", "&")
    return client.post(f"/bring-in/{action}", data={"form_id": form_id})


def rows(store: Store, kind: Any) -> list[Any]:
    with read(store) as session:
        return [row for row in session.exec(select(kind).order_by(kind.id)) if row.deleted_at is None]


def test_a_table_is_shown_first_and_then_kept_as_it_was_shown(client: TestClient, app_store: Store) -> None:
    address = looked_at(client, TABLE)
    page = client.get(address).text
    assert rows(app_store, Batch) == []
    for words in (
        "14 Mar 2024",
        "about 4.5 h at about 900 °C",
        "61.5 HRC, 0.69 mm deep, after the first temper",
        "2 batches with 3 coupons and 5 readings",
        "as the row of its batch",
    ):
        assert words in page, words
    answer = kept(client, address)
    assert (answer.status_code, answer.headers["location"]) == (303, "/logbook")
    first, second = rows(app_store, Batch)
    assert (first.day, second.day) == (date(2024, 3, 14), date(2024, 4, 2))
    assert first.note == "Batch A1 in the old table. first go, in the rain"
    assert second.note == "=SUM(A1)"
    assert first.state == second.state == "hardened"
    items = rows(app_store, Item)
    assert [(item.mark, round(item.size_m, 6), item.typed) for item in items] == [
        ("a", 0.012, {"size_m": "12 mm"}),
        ("b", 0.010, {"size_m": "10 mm"}),
        ("A", 0.0127, {"size_m": "1/2 in"}),
    ]
    assert items[1].note == "second pin"
    soak, other = (step for step in rows(app_store, Step) if step.kind == "soak")
    assert (soak.temperature_K, soak.seconds, soak.typed) == (
        pytest.approx(1173.15), 4.5 * 3600, {"temperature_K": "900 C", "seconds": "4,5 h"},
    )  # fmt: skip
    assert (soak.temperature_spread_K, other.seconds) == (20.0, 6 * 3600)
    readings = rows(app_store, Reading)
    assert [(r.kind, r.value, r.unit, r.after) for r in readings] == [
        ("hardness", 61.5, "HRC", "temper_1"),
        ("depth", pytest.approx(0.027 * 0.0254), "m", "temper_1"),
        ("hardness", 60.0, "HRC", "temper_1"),
        ("hardness", 63.0, "HRC", "quench"),
        ("depth", pytest.approx(0.035 * 0.0254), "m", "quench"),
    ]
    assert readings[1].typed == {"value": "0.027 in"}
    assert readings[0].measured_at.date() == date(2024, 3, 14)
    with read(app_store) as session:
        told = tell(session, A_SPRING_DAY)
    assert {str(one.key) for one in told.observations} == {str(reading.id) for reading in readings}


def test_it_is_taken_out_and_put_back_as_one_act_and_never_kept_twice_by_a_second_tap(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    address = looked_at(client, TABLE)
    assert kept(client, address).status_code == kept(client, address).status_code == 303
    assert len(rows(app_store, Batch)) == 2
    assert "brought in before" in client.get(address).text
    first = rows(app_store, Batch)[0]
    client.post(f"/batches/{first.id}/remove", data={"form_id": "form-of-the-test-2"})
    clock.move(minutes=5)
    (brought,) = rows(app_store, BroughtIn)
    assert (brought.file_name, brought.rows, brought.batch_ids) == ("old.csv", 3, [1, 2])
    assert "Take old.csv out again" in client.get("/bring-in").text
    assert client.post(f"/brought-in/{brought.id}/remove", data={}).status_code == 303
    assert rows(app_store, Batch) == []
    assert "Put old.csv back" in client.get("/bring-in").text
    assert client.post(f"/brought-in/{brought.id}/put-back", data={}).status_code == 303
    assert [batch.id for batch in rows(app_store, Batch)] == [2]  # the other one was removed by hand
    assert client.post("/brought-in/99/put-back", data={}).status_code == 404


PROBLEMS = (
    ("A1;31.4.2024;900;4;oil;;;;12;60;;", "Row 2, Date", "31.4.2024&#39; is no date. Allowed: 2025-03-31"),
    ("A1;1.4.2024;1700;4;oil;;;;12;60;;", "Row 2, Heat (°C)", "Did you mean 1700 °F"),
    ("A1;1.4.2024;900;4;milk;;;;12;60;;", "Row 2, Quench", "milk&#39; is not known here. Allowed: "),
    ("A1;1.4.2024;900;4;oil;;;;12;99;;", "Row 2, HRC", "99 HRC cannot be. Allowed: 20 to 70"),
    ("A1;1.4.2024;900;4;oil;;;;twelve;60;;", "Row 2, Size mm", "twelve"),
    ("A1;1.4.2024;900;4;;200;60;;12;60;;", "Row 2, Quench", "It was tempered, so it was quenched before"),
    ("A1;1.4.2027;900;4;oil;;;;12;60;;", "Row 2, Date", "That day has not come yet"),
    ("A1;1.4.2024;900;4;oil;;;;3;60;0.2;", "Row 2, Case depth (in)", "deeper than the middle"),
    ("A1;1.4.2024;900;4;oil;;;;250;60;;", "Row 2, Size mm", "box"),
    (
        "A1;1.4.2024;900;4;oil;;;a;12;60;;\nA1;;950;;;;;b;12;60;;",
        "Row 3, Heat (°C)",
        "Row 2 of the same batch",
    ),
    ("A1;1.4.2024;900;4;oil;;;a;12;60;;\nA1;;;;;;;a;12;60;;", "Row 3, Mark", "is marked a already"),
)


@pytest.mark.parametrize(("line", "place", "words"), PROBLEMS)
def test_each_problem_says_its_row_its_column_and_what_is_allowed(
    client: TestClient, app_store: Store, line: str, place: str, words: str
) -> None:
    good = "B7;3.4.2024;900;4;oil;;;;12;60;;"
    address = looked_at(client, f"{HEADING}\n{line}\n{good}\n")
    page = client.get(address).text
    assert f"<b>{place}</b>" in page
    assert words in page
    assert "Put them in the logbook" not in page
    refused = client.post(address, data={"form_id": "form-of-the-test-3"})
    assert refused.status_code == 422
    assert rows(app_store, Batch) == rows(app_store, Item) == []


def test_refused_rows_come_back_as_a_table_with_the_reason_and_can_be_sent_again(client: TestClient) -> None:
    address = looked_at(
        client, f"{HEADING}\n;31.4.2024;900;4;oil;;;;12;60;;=1\n;3.4.2024;900;4;oil;;;;12;60;;\n"
    )
    path, _, query = address.partition("?")
    content = client.get(f"{path}/refused.csv?{query}").content.decode("utf-8-sig")
    headings, line = csv.reader(io.StringIO(content, newline=""))
    assert headings == [*HEADING.split(";"), "reason"]
    assert line[1] == "31.4.2024"
    assert line[-2] == "'=1"
    assert line[-1].startswith("Date: '31.4.2024' is no date")
    assert "Row 2, Date" in client.get(looked_at(client, content)).text


def test_many_problems_are_all_counted_and_a_few_shown_and_the_table_has_each(client: TestClient) -> None:
    days = [day for day in range(1, 31) for _ in (1, 2)]
    bad = "\n".join(f";{day}.4.2024;900;4;milk {day};;;;12;{70 + day};;" for day in days)
    path, _, query = looked_at(client, f"{HEADING}\n{bad}\n").partition("?")
    page = client.get(f"{path}?{query}").text
    assert "120 problems, 60 different ones; the first 40:" in page
    assert "<b>Rows 2 and 3, Quench</b>" in page
    assert page.count("<b>Row") == 40
    assert page.count("Quench: “milk") == 20
    assert "And 10 more words" in page
    content = client.get(f"{path}/refused.csv?{query}").content.decode("utf-8-sig")
    assert len(list(csv.reader(io.StringIO(content, newline="")))) == 61


def test_rows_sent_together_are_what_their_pages_would_keep_one_by_one(
    app_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(many_rows, "BLOCK", 7)  # so that a short table goes in several blocks too
    store = app_store
    with read(store) as session:
        today = A_SPRING_DAY.date()
        looked = look_through(session, TABLE.encode(), BringInAsked(), Units(), A_SPRING_DAY, today)
    assert looked.problems == []
    with write(store, Actor("tablet"), A_SPRING_DAY) as work:
        ids: dict[str, int] = {}
        for row in looked.kept:
            if row.batch is not None:
                ids[row.label] = row_id(write_up(work, row.batch))
            assert row.coupon is not None
            item = add_item(work, ids[row.label], row.coupon)
            add_readings(work, row_id(item), row.readings)
    with write(store, Actor("tablet"), A_SPRING_DAY) as work:
        bring_in(work, looked.kept, looked.how, "old.csv", TABLE.encode())
    for kind, linked in LINKED.items():
        kept_rows = [plain_fields(row) for row in rows(store, kind)]
        half = len(kept_rows) // 2
        alone, together = (
            [bare(row, linked) for row in some] for some in (kept_rows[:half], kept_rows[half:])
        )
        assert together == alone != []
        with read(store) as session:
            told = session.exec(select(Change).where(Change.table_name == kind.__name__.lower()))
            noted = {change.record_id: change for change in told if change.action == "added"}
        assert [noted[row["id"]].after for row in kept_rows[half:]] == kept_rows[half:]
    with closing(sqlite3.connect(store.file)) as book:
        assert book.execute("PRAGMA foreign_key_check").fetchall() == []


LINKED: dict[Any, tuple[str, ...]] = {
    Fire: (), Batch: ("fire_id", "number"), Step: ("batch_id",), Item: ("batch_id",), Reading: ("item_id",)
}  # fmt: skip


def bare(row: dict[str, Any], linked: tuple[str, ...]) -> dict[str, Any]:
    """Return a record without its number, those it points to, and how often it was changed."""
    return {name: value for name, value in row.items() if name not in ("id", "version", *linked)}


@pytest.mark.long
def test_twenty_thousand_rows_go_in_whole_and_out_again(client: TestClient, app_store: Store) -> None:
    days = [f"{1 + batch % 28}.4.{2000 + batch % 24}" for batch in range(MOST_ROWS // 3 + 1)]
    row = "B{0};{1};9{2:02};4;oil;;;;12;60;0.03;"
    lines = [row.format(number // 3, days[number // 3], number // 3 % 60) for number in range(MOST_ROWS)]
    lines[15_000] = lines[15_000].replace("oil", "milk")
    spoilt = client.get(looked_at(client, "\n".join((HEADING, *lines)))).text
    assert "<b>Row 15002, Quench</b>" in spoilt
    assert len(spoilt) < 100_000
    lines[15_000] = lines[15_000].replace("milk", "oil")
    address = looked_at(client, "\n".join((HEADING, *lines)))
    begun = time.process_time()
    assert kept(client, address).status_code == 303
    taken_s = time.process_time() - begun
    assert taken_s < 120.0, f"looked at twice and kept in {taken_s:.0f} s of processor time"
    with read(app_store) as session:
        assert session.exec(select(func.count()).select_from(Item)).one() == MOST_ROWS
    assert client.post("/brought-in/1/remove", data={}).status_code == 303
    assert rows(app_store, Batch) == []


def test_a_word_that_names_nothing_is_picked_by_hand_and_columns_too(
    client: TestClient, app_store: Store
) -> None:
    address = looked_at(client, "When,Tin,How hot,Hours\n2024-03-14,biscuit tin,900,4\n")
    page = client.get(address + "&c.0=day&c.1=box_id&c.2=temperature_K&c.3=soak_s").text
    assert "Box: “biscuit tin”" in page
    answer = kept(client, address + "&c.0=day&c.1=box_id&c.2=temperature_K&c.3=soak_s&m.box_id.biscuit tin=1")
    assert answer.status_code == 303
    (batch,) = rows(app_store, Batch)
    assert batch.box_id == 1
    assert rows(app_store, Item) == []


def test_a_table_without_dates_asks_which_column_they_are_in(client: TestClient) -> None:
    page = client.get(looked_at(client, "Heat,Hours\n900,4\n")).text
    assert "No column is taken for the date. Pick it below." in page


def test_what_nobody_noted_is_kept_with_a_wide_doubt(client: TestClient, app_store: Store) -> None:
    kept(client, looked_at(client, "Date\n2024-03-14\n"))
    soak = next(step for step in rows(app_store, Step) if step.kind == "soak")
    assert (soak.temperature_spread_K, soak.seconds_spread) == (40.0, pytest.approx(0.4 * soak.seconds))


def test_the_empty_table_is_understood_whole(client: TestClient) -> None:
    content = client.get("/bring-in/template.csv").content.decode("utf-8-sig")
    (headings,) = csv.reader(io.StringIO(content))
    assert [column.field for column in understand(headings, {})] == [known.field for known in KNOWN]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty"),
        (b"Date;Heat\n", "no row beneath them"),
        (b"PK\x03\x04rest", "Save as, and pick CSV"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"Date\n\x00\x01\x02", "not a table saved as text"),
        (b'Date,Note\n2024-03-14,"never closed\n', "quotation mark is not closed"),
        (b"Date,Heat,Hours\n2024-03-14,900,4,5\n", "more cells than there are headings"),
        (b"Date\n" + b"2024-03-14\n" * (MOST_ROWS + 1), "20,001 rows; 20,000 can be brought in"),
        (b"Date\n" + b"2" * (MOST_BYTES + 1), "larger than 5 MB"),
        (b"," * 61 + b"x\n1\n", "62 columns; up to 60"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_words(
    client: TestClient, content: bytes, words: str
) -> None:
    answer = sent(client, content)
    assert answer.status_code == 422
    assert words in answer.text


def test_a_file_past_the_limit_of_the_door_and_no_file_are_refused_too(client: TestClient) -> None:
    assert sent(client, b"x" * (6 * 1024 * 1024)).status_code == 413
    assert "No file was picked" in client.post("/bring-in", files={"table": ("", b"")}).text
    for key in ("0" * 64, "../logbook.db", "x"):
        assert client.get(f"/bring-in/{key}").status_code == 404


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_letters_and_separators_are_told_apart(separator: str, encoding: str) -> None:
    lines = [
        ("Date", "Heat (°C)", "Note"),
        ("2024-03-14", '"4,5"', "Käthe"),
        ("", "", ""),
        ("1.4.2024", "", "ß"),
    ]
    text = "\r\n".join(separator.join(line) for line in lines)
    sheet = read_sheet(text.encode(encoding), known_headings())
    assert sheet.headings == lines[0]
    assert [(row.number, row.cells) for row in sheet.rows] == [
        (2, ("2024-03-14", "4,5", "Käthe")),
        (4, ("1.4.2024", "", "ß")),
    ]
    assert read_sheet(f"sep={separator}\n{text}".encode(), known_headings()).headings == lines[0]


@pytest.mark.property
@hypothesis_settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200))
def test_any_bytes_are_a_table_or_refused_in_words(content: bytes) -> None:
    with suppress(SheetRefused):
        sheet = read_sheet(content, known_headings())
        assert all(len(row.cells) == len(sheet.headings) for row in sheet.rows)


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2024-03-04", "month", date(2024, 3, 4)),
        ("2024-03-04 00:00:00", "day", date(2024, 3, 4)),
        ("3/4/24", "day", date(2024, 4, 3)),
        ("3/4/24", "month", date(2024, 3, 4)),
        ("03.04.1998", "day", date(1998, 4, 3)),
        ("4 Mar 2024", "month", date(2024, 3, 4)),
        ("March 4, 2024", "day", date(2024, 3, 4)),
        ("45321", "day", None),
        ("31.4.2024", "day", None),
        ("4 Mai 2024", "day", None),
    ],
)
def test_dates_are_read_in_the_order_that_is_said(text: str, order: Any, day: date | None) -> None:
    assert read_day(text, order) == day


def test_the_order_of_dates_is_told_by_a_day_past_the_twelfth() -> None:
    assert usual_order(["1/2/2024", "1/13/2024"]) == "month"
    assert usual_order(["1/2/2024", "13/1/2024"]) == "day"
    assert usual_order(["1/2/2024"]) == "day"


@pytest.mark.parametrize(
    ("heading", "field", "unit"),
    [
        ("Depth (in)", "depth_m", "in"),
        ("case depth [mm]", "depth_m", "mm"),
        ("HEAT °F", "temperature_K", "F"),
        ("Temp. (C)", "", "C"),
        ("soak_time (min)", "soak_s", "min"),
        ("Hours", "soak_s", "h"),
        ("HV", "hardness", "HV"),
        ("Hardness (HR15N)", "hardness", "HR15N"),
        ("Weather", "", ""),
        ("Case looks", "", ""),
    ],
)
def test_headings_are_understood_with_their_unit(heading: str, field: str, unit: str) -> None:
    (column,) = understand([heading], {})
    assert (column.field, column.unit) == (field, unit)
