"""The app as a whole: pages answer, saves are shown once, refusals are plain words."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI, Request
from fastapi.testclient import TestClient
from starlette.responses import Response

from webapp.clock import Clock
from webapp.dependencies import CurrentShop, RawForm, RecordId, Saving, ShopUnits
from webapp.pages.answers import saved
from webapp.settings import Settings
from webapp.store.engine import Store
from webapp.store.revision import newest_revision
from webapp.store.tables import Bar, Box, Shop

BOX = {
    "name": "old pipe",
    "inner_length_m": 0.3,
    "inner_width_m": 0.1,
    "inner_height_m": 0.1,
    "wall_m": 0.006,
    "seal": "fireclay",
}


@pytest.fixture
def bench(app: FastAPI) -> FastAPI:
    """The app with a page family that only tests know."""

    @app.post("/bench/boxes")
    def add_box(request: Request, raw: RawForm, save: Saving) -> Response:
        with save(str(raw.get("form_id") or "") or None) as work:
            box = work.add(Box(**(BOX | {"name": raw["name"]}), typed={"inner_length_m": "30 cm"}))
            location = f"/?box={box.id}"
            work.answered_at(location)
        return saved(request, location, undo_words="Box added", undo_action=f"/bench/boxes/{box.id}/remove")

    @app.post("/bench/boxes/{box_id}")
    def change_box(request: Request, box_id: RecordId, raw: RawForm, save: Saving) -> Response:
        fields: dict[str, Any] = {
            "inner_length_m": float(raw["length"]),
            "typed": {"inner_length_m": raw["length"]},
        }
        with save(None) as work:
            work.change(work.get(Box, box_id), version=int(raw["version"]), **fields)
        return saved(request, "/")

    @app.get("/bench/units")
    def show_units(shop: CurrentShop, units: ShopUnits) -> dict[str, Any]:
        return {"shop": shop.name, "units": units.__dict__}

    return app


@pytest.mark.parametrize("path", ["/welcome", "/condition"])
def test_each_page_answers_on_an_empty_logbook(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert answer.text.count("<h1>") == 1
    assert "undefined" not in answer.text.lower()


def test_the_logbooks_files_are_shown(client: TestClient, settings: Settings) -> None:
    text = client.get("/condition").text
    assert str(settings.data_folder) in text
    assert newest_revision() in text


def test_a_save_is_answered_by_a_redirect_that_says_when_and_offers_the_undo(
    bench: FastAPI, client: TestClient
) -> None:
    answer = client.post("/bench/boxes", data={"name": "old pipe", "form_id": "form-0001"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/?box=1")
    text = client.get("/condition").text
    assert "Saved 12:02" in text
    assert 'action="/bench/boxes/1/remove"' in text
    assert "Saved" not in client.get("/condition").text


def test_a_double_tap_saves_one_record_and_leads_to_the_same_place(
    bench: FastAPI, client: TestClient, app_store: Store
) -> None:
    for _ in range(2):
        answer = client.post("/bench/boxes", data={"name": "old pipe", "form_id": "form-0001"})
        assert (answer.status_code, answer.headers["location"]) == (303, "/?box=1")
    with app_store.reader.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM box").scalar_one() == 1


def test_a_second_tablet_sees_both_versions(bench: FastAPI, client: TestClient) -> None:
    client.post("/bench/boxes", data={"name": "old pipe"})
    client.post("/bench/boxes/1", data={"length": "0.4", "version": "1"})
    answer = client.post("/bench/boxes/1", data={"length": "0.5", "version": "1"})
    assert answer.status_code == 409
    row = re.search(r"<tr>.*Inner length.*</tr>", answer.text)
    assert row is not None
    assert "<td>0.5</td><td>0.4</td>" in row.group()
    assert "Saved at 12:02" in answer.text


def test_the_device_that_saved_is_in_the_change_record(
    bench: FastAPI, client: TestClient, app_store: Store
) -> None:
    client.cookies.set("casewright_device", "bench tablet")
    client.post("/bench/boxes", data={"name": "old pipe"})
    with app_store.reader.connect() as connection:
        assert connection.exec_driver_sql("SELECT device FROM change").scalars().all() == ["bench tablet"]


def test_pages_follow_the_shops_zone_units_and_invented_mark(
    bench: FastAPI, client: TestClient, save: Any
) -> None:
    with save() as work:
        work.add(
            Shop(
                id=1,
                name="Narrow gauge",
                zone="America/Los_Angeles",
                temperature_unit="F",
                length_unit="in",
                is_demo=True,
            )
        )
    assert client.get("/bench/units").json() == {
        "shop": "Narrow gauge",
        "units": {"temperature": "F", "length": "in", "mass": "oz", "zone": "America/Los_Angeles"},
    }
    client.post("/bench/boxes", data={"name": "old pipe"})
    text = client.get("/condition").text
    assert "Saved 05:02" in text
    assert "Invented demo shop" in text


@pytest.mark.parametrize("path", ["/nothing-here", "/bench/boxes/99999999999999999999"])
def test_an_address_that_leads_nowhere_is_said_plainly(bench: FastAPI, client: TestClient, path: str) -> None:
    answer = client.post(path) if "boxes" in path else client.get(path)
    assert answer.status_code == 404
    assert "Nothing here" in answer.text


def test_a_record_that_is_not_there_is_said_plainly(bench: FastAPI, client: TestClient) -> None:
    answer = client.post("/bench/boxes/7", data={"length": "0.4", "version": "1"})
    assert answer.status_code == 404
    assert "There is no box number 7" in answer.text


def test_a_wrong_method_is_said_plainly(client: TestClient) -> None:
    answer = client.delete("/condition")
    assert answer.status_code == 405
    assert "allow" in answer.headers
    assert "Not possible here" in answer.text


def test_a_refusal_leads_back_to_the_page_of_ours_it_came_from(bench: FastAPI, client: TestClient) -> None:
    for referer, back in (
        ("http://127.0.0.1:8350/condition", "/condition"),
        ("http://evil.example/trap", "/"),
        ("http://127.0.0.1:8350//evil.example", "/"),
    ):
        answer = client.post(
            "/bench/boxes/7", data={"length": "1", "version": "1"}, headers={"referer": referer}
        )
        assert f'class="button plain" href="{back}">Back without saving' in answer.text


def test_a_full_disk_gives_a_plain_page_and_loses_nothing(
    bench: FastAPI, client: TestClient, app_store: Store
) -> None:
    client.post("/bench/boxes", data={"name": "before"})
    with app_store.writer.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    answer = client.post("/bench/boxes", data={"name": "x" * 200_000})
    assert answer.status_code == 503
    assert "the disk is full" in answer.text
    assert "sqlite" not in answer.text.lower()
    with app_store.reader.connect() as connection:
        assert connection.exec_driver_sql("SELECT name FROM box").scalars().all() == ["before"]


def test_a_page_still_answers_when_the_logbook_cannot_be_read(
    client: TestClient, app_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    app_store.reader.dispose()
    app_store.file.rename(app_store.file.with_suffix(".away"))
    app_store.file.mkdir()
    answer = client.get("/nothing-here")
    assert answer.status_code == 404
    assert "Nothing here" in answer.text


@pytest.mark.parametrize("note", ["", "x", "bm90IGpzb24=", "WzFd", "eyJhdCI6IDV9", "ÿ"])
def test_a_saved_cookie_that_makes_no_sense_is_ignored(client: TestClient, note: str) -> None:
    answer = client.get("/condition", headers={"cookie": f"casewright_saved={note}".encode("latin-1")})
    assert answer.status_code == 200
    assert "Saved" not in answer.text


def test_an_undo_never_leads_off_the_site(client: TestClient) -> None:
    import base64
    import json

    note = {"at": "12:02", "undo": "x", "action": "//evil.example/x"}
    client.cookies.set("casewright_saved", base64.urlsafe_b64encode(json.dumps(note).encode()).decode())
    assert "evil.example" not in client.get("/condition").text


def test_the_json_interface_alone_is_documented(client: TestClient) -> None:
    document = client.get("/api/openapi.json").json()
    assert document["info"]["title"] == "casewright"
    assert all(path.startswith("/api/") for path in document["paths"])


def test_the_json_interface_refuses_in_json(client: TestClient) -> None:
    answer = client.get("/api/nothing-here")
    assert answer.status_code == 404
    assert answer.json() == {"detail": "There is no such page or record, or it was removed."}


def test_a_static_file_is_kept_for_good_only_under_its_own_mark(client: TestClient) -> None:
    marked = re.search(r"/static/css/base\.css\?v=\w+", client.get("/condition").text)
    assert marked is not None
    assert "immutable" in client.get(marked.group()).headers["cache-control"]
    for other in ("/static/css/base.css", "/static/css/base.css?v=other"):
        assert client.get(other).headers["cache-control"] == "no-cache"


def test_long_pages_travel_compressed(client: TestClient) -> None:
    assert client.get("/condition", headers={"accept-encoding": "gzip"}).headers["content-encoding"] == "gzip"


def test_the_end_of_the_server_closes_logbook_and_worker(app: FastAPI, settings: Settings) -> None:
    with TestClient(app, base_url=settings.url) as client:
        client.get("/condition")
    assert not (settings.data_folder / "logbook.db-wal").exists()
    with pytest.raises(RuntimeError, match="closed"):
        app.state.context.worker.submit("operator:add", 1, 1)


def test_two_apps_with_two_folders_do_not_mix(tmp_path: Any, clock: Clock) -> None:
    from webapp.app import create_app
    from webapp.store.unit_of_work import Actor, write

    stores = [create_app(Settings(tmp_path / name), clock).state.context.store for name in ("one", "two")]
    with write(stores[0], Actor("test bench"), clock.now()) as work:
        work.add(Bar(name="rod", carbon_low_wt=0.1, carbon_high_wt=0.2))
    counts = []
    for store in stores:
        with store.reader.connect() as connection:
            counts.append(connection.exec_driver_sql("SELECT count(*) FROM bar").scalar_one())
        store.close()
    assert counts == [1, 0]
