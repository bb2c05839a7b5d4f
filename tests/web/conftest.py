"""What a web test may ask for: an open logbook, a fresh app on it, and a browserless client."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from functools import partial

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from webapp.app import create_app
from webapp.clock import Clock
from webapp.settings import Settings
from webapp.store.engine import Store, open_store
from webapp.store.migrate import bring_up_to_date
from webapp.store.unit_of_work import Actor, UnitOfWork, write

Save = Callable[..., AbstractContextManager[UnitOfWork]]


@pytest.fixture
def store(settings: Settings, clock: Clock) -> Iterator[Store]:
    """A logbook of its own, up to date and empty; not to be used beside `app`, which opens its own."""
    opened = open_store(settings.data_folder)
    bring_up_to_date(opened, clock.now())
    yield opened
    opened.close()


@pytest.fixture
def app(settings: Settings, clock: Clock) -> FastAPI:
    return create_app(settings, clock)


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
