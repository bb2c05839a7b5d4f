"""What a web test may ask for: an open logbook, a fresh app on it, and a browserless client."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from functools import partial
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.web.empty_logbook import empty_logbook
from tests.web.quick_start import quick_app, quick_engine
from webapp import templating
from webapp.clock import Clock
from webapp.settings import Settings
from webapp.store import engine as engine_module
from webapp.store.engine import Store, open_store
from webapp.store.unit_of_work import Actor, UnitOfWork, write

Save = Callable[..., AbstractContextManager[UnitOfWork]]


@pytest.fixture(autouse=True)
def _compiled_queries_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each test's logbook find the queries that an earlier one compiled."""
    monkeypatch.setattr(engine_module, "create_engine", quick_engine)


@pytest.fixture(autouse=True)
def _words_unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let tests of pages read their sentences whole; the marks in them are proven in `test_help.py`."""
    monkeypatch.setattr(templating, "marked", lambda page, _address: page)


@pytest.fixture
def logbook_folder(settings: Settings) -> Path:
    settings.data_folder.mkdir(parents=True)
    shutil.copy(empty_logbook(), settings.data_folder)
    return settings.data_folder


@pytest.fixture
def store(logbook_folder: Path) -> Iterator[Store]:
    """A logbook of its own, up to date and empty; not to be used beside `app`, which opens its own."""
    opened = open_store(logbook_folder)
    yield opened
    opened.close()


@pytest.fixture
def app(settings: Settings, clock: Clock, logbook_folder: Path) -> FastAPI:
    return quick_app(settings, clock)


@pytest.fixture
def client(app: FastAPI, settings: Settings) -> Iterator[TestClient]:
    """A client that speaks to the app as a browser on this computer would; redirects are not followed."""
    with TestClient(
        app, base_url=settings.url, follow_redirects=False, raise_server_exceptions=False
    ) as speaking:
        yield speaking


@pytest.fixture
def app_store(app: FastAPI) -> Store:
    """The logbook of the app under test."""
    opened: Store = app.state.context.store
    return opened


@pytest.fixture
def save(app_store: Store, clock: Clock) -> Save:
    """Writes into the logbook of the app under test: `with save() as work: work.add(...)`."""
    return partial(write, app_store, Actor("test bench"), clock.now())
