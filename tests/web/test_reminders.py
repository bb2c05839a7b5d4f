"""Reminders tied to use: quiet until due by count or by date, with thresholds of one's own."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.conftest import FixedClock
from tests.web.page_forms import begin, send, text_of
from webapp.store.engine import Store, read
from webapp.store.tables import Reminder

HREF = "/shop/reminders"
OLD = {"box_id": "1", "mix_id": "1", "heat_instrument_id": "1", "forge_id": "1", "temperature_K": "900",
       "soak_s": "4", "bath_id": "1"}  # fmt: skip


@pytest.fixture(autouse=True)
def _begun(client: TestClient) -> None:
    begin(client)


def asked(client: TestClient, **typed: str) -> Any:
    return send(client, HREF, HREF, **{"what": "change the oil", "thing": "baths:1", **typed})


def quench(client: TestClient, day: str) -> None:
    assert client.post("/batches/write-up", data={**OLD, "day": day}).status_code == 303


def reminder(store: Store) -> Reminder:
    with read(store) as session:
        return session.exec(select(Reminder)).one()


def test_the_oil_is_due_after_so_many_quenches_and_counted_anew_once_it_is_done(
    client: TestClient, app_store: Store
) -> None:
    assert asked(client, after_uses="2", done_on="2026-03-01").headers["location"] == HREF
    quench(client, "2026-03-01")  # the day it was done on does not count
    quench(client, "2026-03-02")
    assert "change the oil" not in client.get("/").text
    assert "after 2 uses : 1 use since 1 Mar 2026" in text_of(client.get(HREF).text).replace(":", " :")
    quench(client, "2026-03-03")
    today = text_of(client.get("/").text)
    assert "change the oil, bath: " in today
    assert "Due after 2 uses: 2 uses since 1 Mar 2026." in today
    one = reminder(app_store)
    assert client.post(f"{HREF}/{one.id}/done", data={"version": "1"}).status_code == 303
    assert reminder(app_store).done_on == date(2026, 4, 3)
    assert "change the oil" not in client.get("/").text
    assert client.post(f"{HREF}/{one.id}/done", data={"version": "1"}).status_code == 409


def test_days_alone_make_it_due_and_a_removed_one_is_quiet(
    client: TestClient, app_store: Store, clock: FixedClock
) -> None:
    asked(client, what="sweep the flue", thing="", after_days="90", done_on="2026-04-03")
    clock.move(days=89)
    assert "sweep the flue" not in client.get("/").text
    clock.move(days=1)
    assert "Due after 90 days: 90 days since 3 Apr 2026." in text_of(client.get("/").text)
    one = reminder(app_store)
    assert client.post(f"{HREF}/{one.id}/remove", data={}).status_code == 303
    assert "sweep the flue" not in client.get("/").text
    assert client.post(f"{HREF}/{one.id}/put-back", data={}).status_code == 303
    assert "sweep the flue" in client.get("/").text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Say after how many uses, or after how many days."),
        ({"after_uses": "0"}, "Allowed: 1 to 10000"),
        ({"after_uses": "2.5"}, "whole number"),
        ({"after_uses": "2", "thing": ""}, "Pick whose uses are counted"),
        ({"after_uses": "2", "thing": "baths:99"}, "not in the list"),
        ({"after_uses": "2", "thing": "baths:x"}, "not in the list"),
        ({"after_days": "2", "done_on": "2026-04-04"}, "still to come"),
        ({"after_days": "2", "what": ""}, "What is to be done is needed"),
    ],
)
def test_what_makes_no_sense_is_refused_and_kept_on_the_form(
    client: TestClient, app_store: Store, typed: dict[str, str], words: str
) -> None:
    answer = asked(client, **typed)
    assert answer.status_code == 422
    assert words in text_of(answer.text)
    with read(app_store) as session:
        assert session.exec(select(Reminder)).all() == []
