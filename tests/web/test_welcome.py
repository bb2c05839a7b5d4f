"""The first page: one tap to a logbook with a usual shop in it, or the demo and out of it again."""

from __future__ import annotations

import sys
from datetime import datetime
from types import ModuleType

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests.web.conftest import Save
from tests.web.page_forms import begin, send, text_of
from webapp.services.shop_view import view_shop
from webapp.services.starting import clear_tables, machine_zone
from webapp.store.engine import Store, read
from webapp.store.tables import Bar, Bath, Box, Change, Forge, Instrument, Mix, Shop, metadata
from webapp.store.unit_of_work import Actor, write


def rows(store: Store, kind: type) -> list:
    with read(store) as session:
        return list(session.exec(select(kind)))


def test_one_tap_starts_a_logbook_with_everything_a_first_plan_needs(
    client: TestClient, app_store: Store
) -> None:
    answer = send(client, "/welcome", "/welcome")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    with read(app_store) as session:
        assert view_shop(session).is_set_up
    assert [forge.fuel for forge in rows(app_store, Forge)] == ["propane"]
    assert [(box.seal, box.fill) for box in rows(app_store, Box)] == [("fireclay", "filled")]
    assert [(mix.substance, mix.substance_percent) for mix in rows(app_store, Mix)] == [
        ("none", 0.0),
        ("soda ash", 5.0),
    ]
    assert {bath.medium for bath in rows(app_store, Bath)} == {"water", "brine", "oil"}
    kinds = {(row.role, row.method) for row in rows(app_store, Instrument)}
    assert kinds == {("heat", "colour"), ("oven", "oven"), ("hardness", "one_file")}
    assert [bar.grade for bar in rows(app_store, Bar)] == ["1018"]


def test_everything_put_in_is_marked_as_assumed_until_it_is_saved_once(client: TestClient) -> None:
    begin(client)
    assert text_of(client.get("/shop").text).count("assumed: change it to yours") == 10
    send(client, "/shop/boxes/1", "/shop/boxes/1", inner_length_m="220")
    assert text_of(client.get("/shop").text).count("assumed: change it to yours") == 9


def test_the_units_and_the_zone_that_were_picked_are_kept(client: TestClient, app_store: Store) -> None:
    begin(client, temperature_unit="F", length_unit="in", zone="Europe/Berlin", name="Old Mill")
    shop = rows(app_store, Shop)[0]
    assert (shop.name, shop.temperature_unit, shop.length_unit, shop.zone) == (
        "Old Mill",
        "F",
        "in",
        "Europe/Berlin",
    )
    page = text_of(client.get("/shop").text)
    assert "68 °F" in page
    assert "15.748 × 7.087 × 6.299 in" in page


def test_a_zone_that_is_none_is_refused_beside_its_field(client: TestClient, app_store: Store) -> None:
    answer = begin(client, zone="Nowhere/Land", name="Kept Name")
    assert answer.status_code == 422
    assert "That is not a time zone" in text_of(answer.text)
    assert 'value="Kept Name"' in answer.text
    assert rows(app_store, Shop) == []


def test_a_second_start_changes_nothing(client: TestClient, app_store: Store) -> None:
    begin(client)
    begin_again = client.post("/welcome", data={"name": "Other", "zone": "UTC", "form_id": "another-form-id"})
    assert begin_again.status_code == 303
    assert [shop.name for shop in rows(app_store, Shop)] == ["My shop"]
    assert len(rows(app_store, Forge)) == 1


def test_the_first_page_leads_on_once_the_logbook_has_begun(client: TestClient) -> None:
    begin(client)
    answer = client.get("/welcome")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")


def invent(store: Store, now: datetime) -> None:
    with write(store, Actor("demo"), now) as work:
        work.add(Shop(id=1, name="Invented works", is_demo=True, created_at=now, updated_at=now))


@pytest.fixture
def small_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    """A demo of one record, in the place of the one that takes its time."""
    module = ModuleType("webapp.demo")
    module.build_demo = invent  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "webapp.demo", module)


def test_the_demo_can_be_looked_at_and_left_with_a_copy_kept(
    client: TestClient, app_store: Store, small_demo: None
) -> None:
    assert client.post("/demo").headers["location"] == "/"
    assert "Invented demo shop" in client.get("/shop").text
    answer = send(client, "/shop", "/demo/leave")
    assert answer.headers["location"] == "/welcome"
    assert rows(app_store, Shop) == []
    assert rows(app_store, Change) == []
    assert len(list((app_store.folder / "copies").glob("*before-leaving-the-demo*.db"))) == 1
    assert begin(client).status_code == 303
    assert [shop.is_demo for shop in rows(app_store, Shop)] == [False]


def test_a_real_logbook_is_never_emptied_nor_overlaid_by_the_demo(
    client: TestClient, app_store: Store, small_demo: None
) -> None:
    begin(client)
    client.post("/demo")
    client.post("/demo/leave", data={"form_id": "a-form-id-of-a-stranger"})
    assert [shop.name for shop in rows(app_store, Shop)] == ["My shop"]
    assert len(rows(app_store, Bath)) == 3


def test_leaving_the_demo_empties_every_table_but_the_used_form_ids(client: TestClient, save: Save) -> None:
    begin(client)
    with save() as work:
        clear_tables(work.session)
        assert {table for table in metadata.tables if count(work.session, table)} == {"formuse"}


def count(session: Session, table: str) -> int:
    return len(session.execute(metadata.tables[table].select()).all())


def test_the_machines_own_zone_is_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", ":America/Chicago")
    assert machine_zone() == "America/Chicago"


def test_the_welcome_page_says_what_the_job_is_without_any_script(client: TestClient) -> None:
    page = client.get("/welcome").text
    assert "charcoal" in text_of(page)
    assert 'method="post" action="/welcome"' in page
    assert 'method="post" action="/demo"' in page
