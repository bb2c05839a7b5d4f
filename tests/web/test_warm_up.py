"""The pages that are got ready at the start: those that are opened most, asked for as from this computer."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from types import SimpleNamespace
from typing import Any, cast

import httpx
import pytest
import uvicorn
from fastapi import FastAPI, Request
from starlette.responses import Response
from starlette.routing import Match
from starlette.types import Receive, Scope, Send

from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.run_aside import run_aside
from webapp import warm_up as warming
from webapp.commands import running
from webapp.commands.listening import listen
from webapp.commands.patient_server import PatientProtocol
from webapp.services.usual_pages import ALWAYS, usual_pages
from webapp.settings import Settings
from webapp.store.engine import read


def test_the_usual_pages_are_pages_and_hold_the_newest_records(settings: Settings) -> None:
    with speaking_to_demo(settings) as client:
        with read(store_of(client)) as session:
            pages = usual_pages(session)
        routes = cast(FastAPI, client.app).router.routes
    assert pages[: len(ALWAYS)] == list(ALWAYS)
    assert len(pages) == len(ALWAYS) + 5
    scopes = [{"type": "http", "method": "GET", "path": page.partition("?")[0]} for page in pages]
    assert all(any(route.matches(scope)[0] is Match.FULL for route in routes) for scope in scopes)


def test_every_page_is_asked_for_until_the_server_stops_and_one_that_fails_stops_nothing(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    app, asked = FastAPI(), list[tuple[str, str, str]]()
    app.state.context = SimpleNamespace(settings=settings)

    @app.get("/{path:path}")
    def answer(request: Request) -> Response:
        host = request.client.host if request.client else ""
        asked.append((str(request.url), request.headers["host"], host))
        if request.url.path == "/broken":
            raise RuntimeError("a page that fails")
        return Response("told")

    pages = ["/", "/plans/new?part=4", "/broken", "/shop", "/parts"]
    monkeypatch.setattr(warming, "_addresses", lambda _: pages)
    run_aside(warming.warm_up(cast(Any, app), lambda: "/shop" in str(asked), lambda: False))
    own = settings.url.removeprefix("http://")
    assert asked == [(f"{settings.url}{page}", own, settings.host) for page in pages[:-1]]


def test_whoever_waits_for_an_answer_has_it_before_the_next_page_is_begun(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    app, course = FastAPI(), list[str]()
    app.state.context = SimpleNamespace(settings=settings)
    waits = iter((False, True, True, False))

    @app.get("/{path:path}")
    def answer(request: Request) -> Response:
        course.append(request.url.path)
        return Response("told")

    def is_asked() -> bool:
        course.append("looked")
        return next(waits)

    monkeypatch.setattr(warming, "LOOK_S", 0.001)
    monkeypatch.setattr(warming, "_addresses", lambda _: ["/", "/shop"])
    run_aside(warming.warm_up(cast(Any, app), lambda: False, is_asked))
    assert course == ["looked", "/", "looked", "looked", "looked", "/shop"]


def test_the_server_knows_while_somebody_waits(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    waits = list[bool]()

    async def stay_cold(*_: object) -> None:
        """Get no page ready."""

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        waits.append(server.is_asked())
        await Response("told")(scope, receive, send)

    monkeypatch.setattr(running, "warm_up", stay_cold)
    config = uvicorn.Config(answer, http=PatientProtocol, ws="none", lifespan="off", log_level="warning")
    server = running.AnnouncedServer(cast(Any, answer), config, settings, open_browser=False)
    with closing(listen("127.0.0.1", 0)) as listener, at_work(server, listener):
        assert httpx.get(f"http://127.0.0.1:{listener.getsockname()[1]}/").text == "told"
    assert waits == [True]
    assert not server.is_asked()


@contextmanager
def at_work(server: uvicorn.Server, listener: socket.socket) -> Iterator[None]:
    """Run a server beside the block."""
    thread = threading.Thread(target=server.run, args=([listener],), daemon=True)
    thread.start()
    yield
    server.should_exit = True
    thread.join()
