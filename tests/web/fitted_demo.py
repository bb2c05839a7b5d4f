"""The demo's logbook with its fit, made once for all tests that only look at it; each gets a copy.

Tests run in several processes, side by side and one after another, and making it takes ten seconds: so it
lies in the machine's temporary folder under the mark of the source it comes from, which any change renews.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date
from functools import cache
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

import numpy as np
import scipy
from fastapi.testclient import TestClient
from sqlmodel import Session, col, func, select

from tests.conftest import A_SPRING_DAY, FixedClock
from tests.web.quick_start import quick_app
from webapp.demo import build_demo
from webapp.services.book_fit import made_of
from webapp.services.fit_job import run_fit
from webapp.services.fit_news import fingerprint_of
from webapp.services.fitting import store_fit
from webapp.services.observations import tell
from webapp.settings import Settings
from webapp.store.engine import LOGBOOK_FILE, Store, open_store, read
from webapp.store.migrate import bring_up_to_date
from webapp.store.tables import Batch, Fire
from webapp.store.unit_of_work import Actor, write

CHECKOUT = Path(__file__).resolve().parents[2]


@cache
def fitted_demo() -> Path:
    """Return the database of the fitted demo."""
    ready = Path(gettempdir()) / f"casewright-fitted-demo-{mark_of_source()}.db"
    if not ready.exists():
        with TemporaryDirectory(prefix="fitted-demo-") as folder:
            make_fitted_demo(Path(folder))
            # whole, whenever another process looks for it
            (Path(folder) / LOGBOOK_FILE).replace(ready)
    return ready


def copy_fitted_demo(folder: Path) -> None:
    """Put a copy of the fitted demo's logbook into a data folder."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(fitted_demo(), folder / LOGBOOK_FILE)


def make_fitted_demo(folder: Path) -> None:
    """Build the invented shop in an empty folder and fit it."""
    with closing(open_store(folder)) as store:
        bring_up_to_date(store, A_SPRING_DAY)
        build_demo(store, A_SPRING_DAY)
        fit_again(store)


@cache
def mark_of_source() -> str:
    """Return the mark of the source, of this file, and of what does the sums."""
    mark = sha256(f"{sys.version} {np.__version__} {scipy.__version__}".encode())
    rooms = ("model", "webapp", "migrations")
    files = [file for room in rooms for file in sorted((CHECKOUT / room).rglob("*")) if file.is_file()]
    for file in (*files, *sorted(Path(__file__).parent.glob("*book*.py")), Path(__file__)):
        if file.suffix in (".py", ".csv"):
            mark.update(str(file.relative_to(CHECKOUT)).encode() + file.read_bytes())
    return mark.hexdigest()[:16]


def fit_again(store: Store, readings: int | None = None) -> None:
    """Fit a logbook here and now, or only its first readings."""
    with read(store) as session:
        told = tell(session, A_SPRING_DAY)
    outcome = run_fit(told.observations[:readings], told.checks, None, told.jobs, told.sides)
    with write(store, Actor("test bench"), A_SPRING_DAY) as work:
        store_fit(work, made_of(told, fingerprint_of(told), outcome), A_SPRING_DAY)


@contextmanager
def speaking_to_demo(settings: Settings) -> Iterator[TestClient]:
    """Give a client of an app on a copy of the fitted demo, whose keeper of the fit does not run."""
    copy_fitted_demo(settings.data_folder)
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


def fire_days(session: Session, heat: int) -> list[date]:
    """Return the days of the fires that were run by one way of telling heat, in order."""
    query = select(Batch.fire_id, func.min(Batch.day)).join(Fire, col(Fire.id) == Batch.fire_id)
    rows = session.exec(query.where(Fire.heat_instrument_id == heat).group_by(col(Batch.fire_id)))
    return sorted(day for _, day in rows)
