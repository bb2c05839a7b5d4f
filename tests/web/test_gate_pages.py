"""Nobody in: what a stranger on the shop's network gets, and what whoever belongs there gets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from starlette.requests import Request
from starlette.responses import PlainTextResponse

from tests.conftest import FixedClock
from tests.web.lan import OTHER, PASSCODE, SHOP, TABLET, door_of, on_a_network, sign_in, speaking
from tests.web.page_forms import read_page_form
from tests.web.quick_start import quick_app
from webapp.forms.json_error import ErrorBody
from webapp.gate.door import Door
from webapp.gate.guard import Guard
from webapp.pages.answers import reached_at
from webapp.routes import API, PAGES
from webapp.settings import Settings
from webapp.store.backup import COPIES_FOLDER, copy_database, copy_path
from webapp.store.engine import Store
from webapp.store.tables import Shop
from webapp.store.unit_of_work import Actor, write

DOOR = ("/sign-in", "/pair/{code}")
OPEN = {("GET", "/health"), *((method, path) for method in ("GET", "POST") for path in DOOR)}
ODD = (
    "//", "/./", "/sign-in/../devices", "/static/../devices", "/STATIC/../", "/sign-in/", "/health/x",
    "/pairs",
)  # fmt: skip
WAYS_OFF = ("//evil.example", "https://evil.example", "/\\evil.example", "javascript:x", "/\x00")
ANSWERS = {SHOP: 200, "shop.local": 200, "0.0.0.0": 400, "evil.example": 400, "10.0.0.1": 400}
TOLD_OPENLY = (
    ("GET", "/static/nothing.css"),
    ("DELETE", "/sign-in"),
    ("GET", "/sign-in"),
    ("GET", "/pair/x"),
)
PASSED_ON = (
    {"x-forwarded-for": "8.8.8.8"},
    {"via": "1.1 proxy"},
    {"forwarded": "for=8.8.8.8"},
    {"x-real-ip": "8.8.8.8"},
)
SECRET = "Signal levers of the narrow gauge"


@pytest.fixture
def shop_app(settings: Settings, clock: FixedClock, logbook_folder: object) -> Iterator[FastAPI]:
    app = quick_app(on_a_network(settings), clock)
    door_of(app).set_passcode(PASSCODE)
    store: Store = app.state.context.store
    with write(store, Actor("the shop"), clock.now()) as work:
        work.add(Shop(id=1, name=SECRET))
    yield app
    store.close()


@pytest.fixture
def tablet(shop_app: FastAPI) -> Iterator[TestClient]:
    with speaking(shop_app, TABLET) as client:
        yield client


@pytest.fixture
def here(shop_app: FastAPI) -> Iterator[TestClient]:
    with speaking(shop_app, "127.0.0.1", "127.0.0.1") as client:
        yield client


def every_address(app: FastAPI) -> list[tuple[str, str]]:
    """Return method and address of all that is answered: the routers' own lists and the OpenAPI document."""
    routes = [
        (method, prefix + route.path)
        for prefix, routers in (("", PAGES), ("/api", API))
        for router in routers
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in sorted(route.methods)
    ]
    documented = [
        (method.upper(), path) for path, methods in app.openapi()["paths"].items() for method in methods
    ]
    assert len(routes) > 150
    assert set(documented) <= set(routes)
    return [
        *routes,
        *documented,
        ("GET", "/api/openapi.json"),
        ("GET", "/no/such/page"),
        ("POST", "/no/such/page"),
    ]


def is_shut(answer: Any) -> bool:
    to_sign_in = answer.status_code == 303 and answer.headers["location"].startswith("/sign-in?next=")
    return (to_sign_in or answer.status_code == 401) and SECRET not in answer.text


def filled(path: str) -> str:
    return re.sub(r"\{[^}]*\}", "1", path)


def test_nothing_but_the_door_is_open_to_a_stranger(shop_app: FastAPI, tablet: TestClient) -> None:
    open_ones = {
        (method, path)
        for method, path in every_address(shop_app)
        if not is_shut(tablet.request(method, filled(path)))
    }
    assert open_ones == OPEN


@pytest.mark.parametrize(
    "forged",
    [
        {"host": "evil.example"},
        {"host": f"{SHOP}:9999"},
        {"host": "0.0.0.0:8350"},
        {"host": "127.0.0.1:8350"},
        {"host": "localhost:8350"},
        {"origin": "http://evil.example"},
        {"origin": f"https://{SHOP}:8350"},
        {"x-forwarded-for": "127.0.0.1"},
        {"forwarded": "for=127.0.0.1;host=localhost"},
        {"cookie": "casewright_session=guess; casewright_device=this computer"},
        {"authorization": "Basic YWRtaW46YWRtaW4="},
    ],
    ids=lambda forged: " ".join(f"{name} {value}" for name, value in forged.items()),
)
def test_forged_words_open_nothing(tablet: TestClient, forged: dict[str, str]) -> None:
    for method, path in (("GET", "/"), ("GET", "/api/batches"), ("POST", "/theme"), ("GET", "/devices")):
        answer = tablet.request(method, path, headers=forged)
        assert answer.status_code in (400, 403) or is_shut(answer)


@pytest.mark.parametrize("path", ODD)
def test_an_odd_address_is_no_way_round(tablet: TestClient, path: str) -> None:
    answer = tablet.get(path)
    assert is_shut(answer) or answer.status_code in (404, 307)
    assert SECRET not in answer.text


@pytest.mark.parametrize(("method", "path"), TOLD_OPENLY)
def test_what_is_open_tells_nothing_of_the_shop_and_leads_no_further(
    tablet: TestClient, method: str, path: str
) -> None:
    text = tablet.request(method, path).text
    assert "<h1>" in text
    assert SECRET not in text
    assert 'href="/shop"' not in text
    assert 'action="/theme"' not in text


def test_a_page_leads_to_the_sign_in_and_from_there_back_to_it(tablet: TestClient) -> None:
    asked = tablet.get("/labels?batch=16&kind=a%20b")
    assert asked.status_code == 303
    page = tablet.get(asked.headers["location"])
    way = re.search(r'name="next" value="([^"]*)"', page.text)
    assert way is not None
    answer = sign_in(tablet, way=way.group(1).replace("&amp;", "&"))
    assert (answer.status_code, answer.headers["location"]) == (303, "/labels?batch=16&kind=a%20b")
    assert tablet.get("/devices").status_code == 200


@pytest.mark.parametrize("way", WAYS_OFF)
def test_signing_in_leads_off_to_no_other_site(tablet: TestClient, way: str) -> None:
    assert sign_in(tablet, way=way).headers["location"] == "/"


def test_a_form_sent_without_a_session_leads_back_to_its_own_page(tablet: TestClient) -> None:
    own = {"referer": f"http://{SHOP}:8350/parts/new?from=plan", "origin": f"http://{SHOP}:8350"}
    assert tablet.post("/parts", headers=own).headers["location"] == "/sign-in?next=/parts/new%3Ffrom%3Dplan"
    strange = {"referer": "http://evil.example/parts/new"}
    assert tablet.post("/parts", headers=strange).headers["location"] == "/sign-in?next=/"


def test_a_piece_of_a_page_is_never_answered_with_another(tablet: TestClient) -> None:
    answer = tablet.get("/", headers={"hx-request": "true"})
    assert answer.status_code == 401
    assert answer.headers["content-type"].startswith("text/plain")
    assert "signed out" in answer.text
    assert tablet.get("/batches/1/beat", headers={"accept": "*/*"}).status_code == 401


def test_the_json_interface_refuses_in_its_own_shape(tablet: TestClient) -> None:
    answer = tablet.post("/api/forecast", json={})
    assert answer.status_code == 401
    assert "www-authenticate" in answer.headers
    (error,) = ErrorBody.model_validate(answer.json()).errors
    assert error.what == "not signed in"
    assert "/sign-in" in (error.advice or "")


def test_every_refusal_at_the_door_carries_the_strict_policy(tablet: TestClient) -> None:
    for path in ("/", "/api/batches", "/sign-in", "/health"):
        headers = tablet.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["cache-control"] == "no-store"
        assert headers["x-frame-options"] == "DENY"


def test_the_cookie_of_a_session_is_for_the_server_alone(tablet: TestClient) -> None:
    cookies = sign_in(tablet).headers.get_list("set-cookie")
    session = next(cookie for cookie in cookies if cookie.startswith("casewright_session="))
    assert "HttpOnly" in session
    assert "SameSite=lax" in session
    assert "Max-Age=31536000" in session
    assert "Domain" not in session


def test_over_https_the_cookie_goes_nowhere_else(
    settings: Settings, clock: FixedClock, logbook_folder: object
) -> None:
    app = quick_app(on_a_network(settings, certificate=settings.data_folder / "x"), clock)
    door_of(app).set_passcode(PASSCODE)
    with speaking(app, TABLET, scheme="https") as client:
        own = {"origin": f"https://{SHOP}:8350"}
        answer = client.post("/sign-in", data={"passcode": PASSCODE}, headers=own)
        session = next(c for c in answer.headers.get_list("set-cookie") if c.startswith("__Host-casewright="))
        assert "Secure" in session
        assert "Path=/" in session
        assert client.get("/devices").status_code == 200
        assert "Plain http" not in client.get("/devices").text
        assert client.post("/theme", headers={"origin": f"http://{SHOP}:8350"}).status_code == 403
    app.state.context.store.close()


def test_a_wrong_passcode_is_told_and_the_name_is_kept_but_never_the_passcode(tablet: TestClient) -> None:
    answer = sign_in(tablet, "a wrong guess", "forge tablet")
    assert answer.status_code == 401
    assert "That is not the passcode" in answer.text
    assert 'value="forge tablet"' in answer.text
    assert "a wrong guess" not in answer.text
    assert sign_in(tablet, "").status_code == 422


def test_too_many_wrong_tries_are_told_how_long_to_wait(tablet: TestClient, clock: FixedClock) -> None:
    for _ in range(5):
        assert sign_in(tablet, "a wrong guess").status_code == 401
    answer = sign_in(tablet)
    assert answer.status_code == 429
    assert "Wait 10 seconds, then type it again" in answer.text
    assert answer.headers["retry-after"] == "11"
    clock.move(seconds=10)
    assert sign_in(tablet).status_code == 303


def test_signing_in_gives_a_new_session_and_ends_the_old_one(shop_app: FastAPI, tablet: TestClient) -> None:
    planted = {"cookie": "casewright_session=planted-by-somebody"}
    tablet.post("/sign-in", data={"passcode": PASSCODE}, headers=planted)
    first = door_of(shop_app).devices()
    assert door_of(shop_app).find("planted-by-somebody") is None
    sign_in(tablet)
    assert [device.number for device in door_of(shop_app).devices()] == [first[0].number + 1]


def test_another_sites_page_cannot_sign_anybody_in(tablet: TestClient) -> None:
    for headers in ({"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}, {"origin": "null"}):
        assert tablet.post("/sign-in", data={"passcode": PASSCODE}, headers=headers).status_code == 403


def test_signing_out_ends_the_session_itself(tablet: TestClient) -> None:
    sign_in(tablet)
    token = tablet.cookies["casewright_session"]
    assert tablet.post("/sign-out").status_code == 303
    assert "casewright_session" not in tablet.cookies
    tablet.cookies.set("casewright_session", token)
    assert is_shut(tablet.get("/"))


def test_a_lost_tablet_is_signed_out_from_another_device(shop_app: FastAPI, tablet: TestClient) -> None:
    sign_in(tablet, called="lost tablet")
    with speaking(shop_app, OTHER) as phone:
        sign_in(phone, called="owner's phone")
        text = phone.get("/devices").text
        assert "lost tablet" in text
        assert "Last seen 12:02" in text
        lost = next(device for device in door_of(shop_app).devices() if device.name == "lost tablet")
        assert phone.post(f"/devices/{lost.number}/end").status_code == 303
        assert is_shut(tablet.get("/"))
        assert phone.get("/devices").status_code == 200


def test_a_device_is_given_another_name(shop_app: FastAPI, tablet: TestClient) -> None:
    sign_in(tablet)
    (device,) = door_of(shop_app).devices()
    tablet.post(f"/devices/{device.number}/name", data={"called": "<b>anvil</b>"})
    assert "&lt;b&gt;anvil&lt;/b&gt;" in tablet.get("/devices").text


@pytest.mark.parametrize("path", ["/passcode", "/ask-here", "/code", "/end-all"])
def test_only_the_shops_computer_rules_the_door(shop_app: FastAPI, tablet: TestClient, path: str) -> None:
    sign_in(tablet)
    form = {"passcode": "my own passcode", "again": "my own passcode", "wanted": "no"}
    answer = tablet.post(f"/devices{path}", data=form)
    assert answer.status_code == 403
    assert "the computer that keeps the logbook" in answer.text
    assert door_of(shop_app).sign_in(PASSCODE, OTHER, "x").token


def test_the_shops_computer_needs_no_passcode_unless_it_is_wished(here: TestClient) -> None:
    assert here.get("/devices").status_code == 200
    assert here.post("/devices/ask-here", data={"wanted": "yes"}).status_code == 303
    assert here.get("/devices").status_code == 200  # the browser that wished it has a session
    here.cookies.clear()
    assert is_shut(here.get("/devices"))
    sign_in(here)
    assert here.post("/devices/ask-here", data={"wanted": "no"}).status_code == 303
    here.cookies.clear()
    assert here.get("/devices").status_code == 200


@pytest.mark.parametrize("passed_on", PASSED_ON)
def test_what_a_proxy_on_this_computer_passes_on_does_not_come_from_here(
    settings: Settings, here: TestClient, clock: FixedClock, passed_on: dict[str, str]
) -> None:
    assert is_shut(here.get("/", headers=passed_on))
    alone = Guard(PlainTextResponse(SECRET), Door(settings.data_folder, clock), settings)
    with speaking(alone, "127.0.0.1", "127.0.0.1") as only_here:  # started without --lan
        assert is_shut(only_here.get("/", headers=passed_on))
        assert only_here.get("/").text == SECRET
        assert is_shut(only_here.get("/", headers={"host": "shop.local"}))  # by a name, it was passed on


def test_without_a_passcode_the_network_is_shut_and_told_why(
    shop_app: FastAPI, tablet: TestClient, here: TestClient
) -> None:
    door_of(shop_app).forget_passcode()
    assert is_shut(tablet.get("/"))
    for answer in (tablet.get("/sign-in"), sign_in(tablet, "")):
        assert answer.status_code == 503
        assert "No passcode is set" in answer.text
    assert "nobody gets in from another device yet" in here.get("/devices").text
    assert here.post("/devices/code").status_code == 422
    assert here.post("/devices/ask-here", data={"wanted": "yes"}).status_code == 422


def test_a_passcode_is_set_on_the_page_of_this_computer(shop_app: FastAPI, here: TestClient) -> None:
    def send(passcode: str, again: str) -> Any:
        return here.post("/devices/passcode", data={"passcode": passcode, "again": again})

    assert "8 signs or more" in send("short", "short").text
    assert "not the same" in send("pawl rod clay", "pawl rod clax").text
    assert door_of(shop_app).sign_in(PASSCODE, TABLET, "x").token
    assert send("pawl rod clay", "pawl rod clay").status_code == 303
    assert not door_of(shop_app).sign_in(PASSCODE, TABLET, "x").token
    assert door_of(shop_app).sign_in("pawl rod clay", TABLET, "x").token


def test_a_code_on_this_computers_page_lets_a_tablet_in_once(here: TestClient, tablet: TestClient) -> None:
    text = here.post("/devices/code").text
    found = re.search(rf"http://{re.escape(SHOP)}:8350(/pair/[\w-]+)", text)
    assert found is not None
    assert "<svg" in text
    for _ in range(2):  # to look, or to be looked at beforehand, uses nothing up
        assert tablet.get(found.group(1)).status_code == 200
    assert tablet.post(found.group(1), data={"called": "anvil tablet"}).status_code == 303
    assert "anvil tablet" in tablet.get("/devices").text
    for answer in (tablet.get(found.group(1)), tablet.post(found.group(1), data={"called": "second"})):
        assert answer.status_code == 410
        assert "used up" in answer.text


def test_codes_printed_on_this_computer_lead_a_tablet_here(shop_app: FastAPI, settings: Settings) -> None:
    def asked(app: FastAPI) -> Request:
        headers = [(b"host", b"127.0.0.1:8350")]
        return Request({"type": "http", "app": app, "path": "/", "query_string": b"", "headers": headers})

    assert reached_at(asked(shop_app)) == f"http://{SHOP}:8350"
    shop_app.state.context = replace(shop_app.state.context, settings=settings)
    assert reached_at(asked(shop_app)) == "http://127.0.0.1:8350/"


def test_a_tablet_that_named_itself_wrongly_keeps_its_code(shop_app: FastAPI, tablet: TestClient) -> None:
    code = door_of(shop_app).new_code()
    answer = tablet.post(f"/pair/{code}", data={"called": "x" * 60})
    assert answer.status_code == 422
    assert "x" * 60 in answer.text
    assert tablet.post(f"/pair/{code}", data={"called": "anvil"}).status_code == 303


def test_what_a_device_saves_is_noted_under_its_sessions_name(shop_app: FastAPI, tablet: TestClient) -> None:
    sign_in(tablet, called="forge tablet")
    tablet.cookies.set("casewright_device", "somebody else")
    form = read_page_form(tablet.get("/bars/new").text, "/bars")
    assert tablet.post("/bars", data=form | {"name": "scrap", "grade": "mystery"}).status_code == 303
    store: Store = shop_app.state.context.store
    with store.reader.connect() as connection:
        query = "SELECT device FROM change WHERE table_name = 'bar'"
        assert connection.exec_driver_sql(query).scalars().all() == ["forge tablet"]


def test_a_door_that_cannot_be_read_shuts_the_network_and_not_this_computer(
    shop_app: FastAPI, tablet: TestClient, here: TestClient
) -> None:
    sign_in(tablet)
    path = door_of(shop_app).file.path
    path.unlink()
    path.mkdir()
    for client in (tablet, here):
        answer = client.get("/devices")
        assert answer.status_code == 503
        assert "cannot be used" in answer.text


def test_every_address_is_answered_by_its_number_when_all_are_bound_and_by_no_other_name(
    settings: Settings, clock: FixedClock, logbook_folder: object
) -> None:
    everywhere = replace(on_a_network(settings), address="0.0.0.0", opened_at=SHOP, names=("shop.local",))
    assert "0.0.0.0:8350" not in everywhere.allowed_hosts
    app = quick_app(everywhere, clock)
    with speaking(app, TABLET) as client:
        for host, status in ANSWERS.items():
            assert client.get("/health", headers={"host": f"{host}:8350"}).status_code == status, host
    app.state.context.store.close()


def test_a_tablet_puts_a_copy_back_only_with_the_passcode_once_more(
    shop_app: FastAPI, tablet: TestClient, here: TestClient, clock: FixedClock
) -> None:
    store: Store = shop_app.state.context.store
    copy = copy_path(store.folder, "by-hand", clock.now())
    copy_database(store.file, copy)
    look, action = (f"/copies/{what}/{COPIES_FOLDER}/{copy.stem}" for what in ("look", "put-back"))
    assert sign_in(tablet).status_code == 303
    with write(store, Actor("the shop"), clock.now()) as work:
        work.change(work.get(Shop, 1), name="Renamed since")
    assert 'name="passcode"' in tablet.get(look).text
    for typed in ({}, {"passcode": ""}, {"passcode": "guessed words"}):
        answer = tablet.post(action, data={"form_id": "long-enough", **typed})
        assert (answer.status_code, "guessed" in answer.text) == (422, False)
        assert "Renamed since" in here.get("/").text
    assert tablet.post(action, data={"form_id": "long-enough", "passcode": PASSCODE}).status_code == 303
    assert SECRET in here.get("/").text
    assert 'name="passcode"' not in here.get(look).text
    assert here.post(action, data={"form_id": "long-enough"}).status_code == 303


def test_wrong_passcodes_before_a_copy_slow_a_tablet_down_as_at_the_door(
    shop_app: FastAPI, tablet: TestClient, clock: FixedClock
) -> None:
    assert sign_in(tablet).status_code == 303
    door = door_of(shop_app)
    assert [door.confirm("a guess", TABLET).wait_s > 0.0 for _ in range(6)] == [False] * 5 + [True]
    assert door.confirm(PASSCODE, TABLET).wait_s > 0.0
    clock.move(minutes=20)
    assert door.confirm(PASSCODE, TABLET).token
