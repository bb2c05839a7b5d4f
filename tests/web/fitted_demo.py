"""The demo's logbook with its fit, made once for all tests that only look at it; each gets a copy."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from fastapi.testclient import TestClient

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.quick_start import quick_app
from webapp.demo import build_demo
from webapp.services.fit_job import run_fit
from webapp.services.fitting import store_fit
from webapp.services.observations import tell
from webapp.settings import Settings
from webapp.store.engine import LOGBOOK_FILE, Store, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.unit_of_work import Actor, write

_FOLDER = TemporaryDirectory(prefix="fitted-demo-")


@cache
def fitted_demo() -> Path:
    """Return the database of the fitted demo."""
    folder = Path(_FOLDER.name)
    with closing(open_store(folder)) as store:
        bring_up_to_date(store, A_SPRING_DAY)
        build_demo(store, A_SPRING_DAY)
        fit_again(store)
    return folder / LOGBOOK_FILE


def fit_again(store: Store, readings: int | None = None) -> None:
    """Fit a logbook here and now, or only its first readings."""
    with read(store) as session:
        told = tell(session, A_SPRING_DAY)
    outcome = run_fit(told.observations[:readings], told.checks, None, told.jobs, told.sides)
    with write(store, Actor("test bench"), A_SPRING_DAY) as work:
        store_fit(work, told, outcome, A_SPRING_DAY)


@contextmanager
def speaking_to_demo(settings: Settings) -> Iterator[TestClient]:
    """Give a client of an app on a copy of the fitted demo, whose keeper of the fit does not run."""
    settings.data_folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(fitted_demo(), settings.data_folder)
    with speaking_to(settings) as client:
        yield client


@contextmanager
def speaking_to(settings: Settings) -> Iterator[TestClient]:
    """Give a client of an app on a folder, whose keeper of the fit does not run."""
    app = quick_app(settings, FixedClock())
    # without `with`, the client does not start what runs beside the server
    client = TestClient(app, base_url=settings.url, follow_redirects=False, raise_server_exceptions=False)
    with closing(client), closing(app.state.context.store):
        yield client


def store_of(client: TestClient) -> Store:
    """Return the logbook of the app that a client speaks to."""
    store: Store = client.app.state.context.store  # type: ignore[attr-defined]
    return store
