"""The pages that are got ready at the start: those that are opened most, asked for as from this computer."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest
from fastapi import FastAPI, Request
from starlette.responses import Response
from starlette.routing import Match

from tests.web.fitted_demo import speaking_to_demo, store_of
from tests.web.run_aside import run_aside
from webapp import warm_up as warming
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
    run_aside(warming.warm_up(cast(Any, app), lambda: "/shop" in str(asked)))
    own = settings.url.removeprefix("http://")
    assert asked == [(f"{settings.url}{page}", own, settings.host) for page in pages[:-1]]
