"""Whatever can be removed is in the bin and comes back; every record's page tells who changed what."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.batch_steps import press, rows, start, walk
from tests.web.conftest import Save
from tests.web.kept_books import add_photo
from tests.web.page_forms import begin, send, text_of
from webapp.services.history import history_of
from webapp.services.history_pages import history_of_page
from webapp.services.history_words import Teller
from webapp.services.record_names import KINDS, TABLE_WORDS, name_of
from webapp.services.showing import Showing
from webapp.store.engine import Store, read
from webapp.store.tables import (
    Bar,
    Batch,
    Box,
    BroughtIn,
    Event,
    GasWeighing,
    HeatNote,
    InstrumentCheck,
    Item,
    OwnLine,
    Part,
    PartPrice,
    Plan,
    PlanSupplies,
    Prices,
    Reading,
    Record,
    Reminder,
    Shop,
    ShopChange,
    Step,
)
from webapp.store.unit_of_work import UnitOfWork, plain_fields

INCHES = Showing("F", "in", ZoneInfo("America/Los_Angeles"))
METRIC = Showing("C", "mm", ZoneInfo("UTC"))
CHECKOUT = Path(__file__).resolve().parents[2]
RAW = re.compile(r"_|\bNone\b|[{}\[\]]|\b\d+\.\d{6,}")


def one_of_each(work: UnitOfWork, store: Store) -> None:
    """Put a record of each kind in the logbook that has a first batch with a coupon."""
    day = A_SPRING_DAY.date()
    part = work.add(
        Part(
            name="Pin", bar_id=1, shape="rod", size_m=0.012, wanted_depth_low_m=4e-4, wanted_depth_high_m=8e-4
        )
    )
    work.add(PartPrice(part_id=part.id, plain_bar=2.0))
    work.add(Prices(id=1, money="EUR"))
    plan = work.add(
        Plan(part_id=part.id, box_id=1, mix_id=1, heat_instrument_id=1, temperature_K=1190.0, soak_s=14400.0)
    )
    work.add(PlanSupplies(plan_id=plan.id))
    work.add(GasWeighing(fire_id=1, before_kg=11.0))
    work.add(HeatNote(fire_id=1, instrument_id=1, noted_at=work.now, temperature_K=1200.0))
    work.add(Event(batch_id=1, kind="seal cracked", happened_at=work.now))
    work.add(Reading(item_id=1, kind="hardness", value=60.0, unit="HRC", measured_at=work.now))
    work.add(InstrumentCheck(instrument_id=1, checked_on=day, against="ice", known=273.0, reading=274.0))
    work.add(ShopChange(kind="relined", changed_on=day, instrument_id=1))
    work.add(BroughtIn(file_name="old.csv", sha256="0" * 64, rows=1))
    work.add(Reminder(what="Change the oil", after_days=30, done_on=day))
    work.add(OwnLine(about="batch", label="Charcoal from", kind="words"))
    add_photo(work, store)


@pytest.fixture
def full(client: TestClient, app_store: Store, save: Save) -> Store:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in")
    with save() as work:
        one_of_each(work, app_store)
    return app_store


def newest(session: Session, kind: type[Record]) -> Any:
    return session.exec(select(kind).order_by(kind.id.desc())).first()  # type: ignore[union-attr]


def test_every_kind_of_record_has_words_and_comes_back_out_of_the_bin(
    client: TestClient, full: Store, save: Save, clock: FixedClock
) -> None:
    assert set(KINDS.values()) == set(Record.__subclasses__())
    for key, kind in KINDS.items():
        with save() as work:
            row = newest(work.session, kind)
            if row is None and kind not in TABLE_WORDS:
                continue  # told by its name; its own tests fill it
            assert row is not None, key
            work.remove(row)
            named = name_of(work.session, row, METRIC)
        page = client.get("/bin")
        text = text_of(page.text)
        assert page.status_code == 200
        assert named.words in text
        assert "removed 3 Apr 2026, 12:02, from: test bench" in text
        assert RAW.search(named.words) is None
        if kind is Shop:
            with save() as work:
                work.put_back(work.session.get_one(Shop, row.id))
            continue
        answer = send(client, "/bin", f"/bin/{key}/{row.id}/put-back")
        assert answer.status_code == 303, (key, text_of(answer.text))
        with read(full) as session:
            assert session.get_one(kind, row.id).deleted_at is None, key
        if kind not in (BroughtIn, Plan, PlanSupplies):  # bare rows here, whose pages ask more
            assert client.get(answer.headers["location"]).status_code == 200, key
    assert "Nothing was removed" in text_of(client.get("/bin").text)


def test_what_hangs_on_something_in_the_bin_waits_for_that(
    client: TestClient, full: Store, save: Save
) -> None:
    with save() as work:
        work.remove(work.get(Reading, 1))
        work.remove(work.get(Item, 1))
    text = client.get("/bin").text
    assert "which is in the bin too. Put that back first." in text_of(text)
    assert 'action="/bin/reading/1/put-back"' not in text
    answer = client.post("/bin/reading/1/put-back", data={"form_id": "x" * 12})
    assert answer.status_code == 422
    send(client, "/bin", "/bin/item/1/put-back")
    assert send(client, "/bin", "/bin/reading/1/put-back").headers["location"] == "/items/1"
    for address in ("/bin/nothing/1/put-back", "/bin/item/999/put-back"):
        assert client.post(address, data={"form_id": "x" * 12}).status_code == 404


def test_a_long_bin_is_shown_by_pages(client: TestClient, full: Store, save: Save) -> None:
    with save() as work:
        for number in range(60):
            work.remove(work.add(Reminder(what=f"Job {number}", after_days=1, done_on=A_SPRING_DAY.date())))
    first, second = client.get("/bin").text, client.get("/bin?page_number=2").text
    assert "60 things in the bin" in text_of(first)
    assert (first.count("/put-back"), second.count("/put-back")) == (50, 10)
    assert client.get("/bin?page_number=99").status_code == 200
    assert client.get("/bin?page_number=0").status_code == 422


def test_a_step_that_was_taken_back_is_put_back_by_the_undo_bar_and_the_batch_stands_as_before(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    begin(client)
    start(client)
    for action in ("box_in", "at_heat", "box_out"):
        walk(client, "/batches/1", action)
        clock.move(hours=2)
    before = {(step.id, step.kind, step.seconds) for step in rows(app_store, Step)}
    state = rows(app_store, Batch)[0].state
    page = client.get("/batches/1").text
    undo = re.search(r'action="(/steps/\d+/undo)"', page)
    assert undo is not None
    answer = press(client, "/batches/1", undo[1])
    assert rows(app_store, Batch)[0].state != state
    assert "The step was taken back." in text_of(client.get(answer.headers["location"]).text)
    assert client.post(undo[1].replace("/steps", "/bin/step").replace("undo", "put-back")).status_code == 303
    assert {(step.id, step.kind, step.seconds) for step in rows(app_store, Step)} == before
    assert rows(app_store, Batch)[0].state == state


def test_a_step_whose_place_was_taken_stays_in_the_bin(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    begin(client)
    start(client)
    walk(client, "/batches/1", "box_in")
    clock.move(hours=1)
    press(client, "/batches/1", "/steps/1/undo")
    walk(client, "/batches/1", "box_in")
    answer = client.post("/bin/step/1/put-back", data={"form_id": "x" * 12})
    assert answer.status_code == 422
    assert "Take that one back first" in text_of(answer.text)


def test_a_records_page_tells_who_changed_what_in_the_shops_units_and_zone(
    client: TestClient, full: Store, save: Save, clock: FixedClock
) -> None:
    with save() as work:
        work.change(
            work.session.get_one(Shop, 1),
            zone="America/Los_Angeles",
            temperature_unit="F",
            length_unit="in",
        )
        work.change(work.get(Box, 1), inner_length_m=0.254, seal="mortar", note="new lid")
        work.change(work.get(Part, 1), wanted_depth_low_m=0.000508, bar_id=1, duties=["wear", "blows"])
        work.change(work.get(Reading, 1), value=61.5)
    text = text_of(client.get("/history/box/1").text)
    assert "changed box" in text
    assert "3 Apr 2026, 05:02, test bench" in text
    assert re.search(r"Inside length: [\d.]+ in → 10 in", text)
    assert re.search(r"Closed with: .* → .*mortar", text)
    assert "new lid" in text
    assert "0.02 in" in text_of(client.get("/history/part/1").text)
    assert "60 HRC → 61.5 HRC" in text_of(client.get("/history/item/1").text)
    page = client.get("/parts/1").text
    assert 'hx-get="/history/part/1/list"' in page
    assert 'href="/history/part/1"' in page
    assert "<html" not in client.get("/history/part/1/list").text
    assert client.get("/history/part/99").status_code == 404
    assert client.get("/history/nothing/1").status_code == 404


def test_every_page_of_a_record_leads_to_its_history(client: TestClient, full: Store) -> None:
    pages = (
        "/parts/1", "/plans/1", "/items/1", "/readings/1", "/steps/1", "/photos/1", "/bars/1",
        "/shop/boxes/1", "/shop/mixes/1", "/shop/baths/1", "/shop/forges/1", "/shop/heats/1",
        "/shop/ovens/3", "/shop/testers/2", "/shop/settings", "/shop/prices",
    )  # fmt: skip
    for path in pages:
        assert history_of_page(path), path
    for path in ("/readings/1", "/shop/boxes/1", "/shop/heats/1", "/shop/settings", "/bars/1", "/photos/1"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert f'href="{history_of_page(path)}"' in answer.text, path
    assert "Who changed what" in client.get("/batches/1").text
    assert history_of_page("/parts/1/case-or-not") == ""
    assert "Who changed what" not in client.get("/parts/999").text


def test_each_field_of_each_record_is_told_in_words(client: TestClient, full: Store) -> None:
    walk(client, "/batches/1", "at_heat", "box_out", "reheat", "quench", "temper")
    odd = []
    with read(full) as session:
        for key, kind in KINDS.items():
            for row in session.exec(select(kind)):
                kept = plain_fields(row)
                fields = {name: value for name, value in kept.items() if value not in (None, "")}
                for showing in (METRIC, INCHES):
                    told = Teller(session, key, row, showing).lines(fields, dict.fromkeys(fields))
                    odd += [f"{key}: {line}" for line in told if RAW.search(line)]
        assert history_of(session, "batch", 1, INCHES).changes
    assert odd == []


def test_nothing_is_written_past_the_change_record(client: TestClient, full: Store, save: Save) -> None:
    def by_hand(work: UnitOfWork) -> None:
        work.get(Bar, 1).name = "another"

    def added(work: UnitOfWork) -> None:
        work.session.add(Bar(name="x", carbon_low_wt=0.1, carbon_high_wt=0.2, created_at=work.now))

    def deleted(work: UnitOfWork) -> None:
        work.session.delete(work.get(Reminder, 1))

    def tried(act: Callable[[UnitOfWork], None], sent_early: bool) -> None:
        with save() as work:
            act(work)
            if sent_early:
                work.session.exec(select(Box)).all()  # sends what was set so far

    for act in (by_hand, added, deleted):
        for sent_early in (False, True):
            with pytest.raises(TypeError, match="past the change record"):
                tried(act, sent_early)
    with read(full) as session:
        assert session.get_one(Bar, 1).name != "another"
        assert session.get(Reminder, 1) is not None


# what may write whole tables at once: forms of the file, what is read back whole, fits that are worked out
# anew, and the demo that is left with a copy taken first
# (backup.py only reads, and from a copy)
WHOLE_TABLES = {f"services/{name}.py" for name in ("fitting", "starting", "read_back", "backup")}


def test_only_the_unit_of_work_and_the_store_send_statements_that_write() -> None:
    writing = {"insert", "update", "delete", "merge", "add_all", "bulk_save_objects", "exec_driver_sql"}
    found = set()
    for file in sorted((CHECKOUT / "webapp").rglob("*.py")):
        short = file.relative_to(CHECKOUT / "webapp").as_posix()
        if short.startswith("store/"):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and str(node.module).startswith(("sqlalchemy", "sqlmodel")):
                found |= {short for alias in node.names if alias.name in writing}
            if isinstance(node, ast.Attribute) and node.attr in writing | {"add"}:
                on = ast.unparse(node.value)
                found |= {short for end in ("session", "connection", "table") if on.endswith(end)}
    assert found <= WHOLE_TABLES, found - WHOLE_TABLES
