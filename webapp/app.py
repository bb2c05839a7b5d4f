"""The app factory: opens the logbook, brings it up to date, and puts the rooms together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware

from webapp.asked_sums import AskedSums
from webapp.clock import Clock, SystemClock
from webapp.context import AppContext
from webapp.copy_keeper import CopyKeeper
from webapp.fit_keeper import FitKeeper
from webapp.gate.door import Door
from webapp.gate.guard import Guard
from webapp.pages.refusals import add_refusals
from webapp.resources import static_folder
from webapp.routes import API, PAGES
from webapp.security import LimitedBody, OnlyKnownHosts, SafeHeaders
from webapp.settings import Settings
from webapp.static_files import KeptStaticFiles
from webapp.store.engine import open_store
from webapp.store.revision import is_up_to_date
from webapp.store.swap import settle
from webapp.store.word_index import ensure_words
from webapp.worker import Worker

SMALLEST_TO_COMPRESS = 1000


def create_app(settings: Settings, clock: Clock | None = None) -> FastAPI:
    """Return the app on the logbook in the settings' data folder; `CannotOpen` if there is no using it."""
    context = open_context(settings, clock or SystemClock())
    app = FastAPI(
        title="casewright",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=close_at_end,
    )
    app.state.context = context
    for router in PAGES:
        # the pages themselves: of a router that is included each would be worked out a second time
        app.router.routes.extend(router.routes)
    for router in API:
        app.include_router(router, prefix="/api")
    app.mount("/static", KeptStaticFiles(directory=static_folder()))
    add_refusals(app)
    # the last one added stands outermost
    app.add_middleware(LimitedBody)
    app.add_middleware(GZipMiddleware, minimum_size=SMALLEST_TO_COMPRESS)
    app.add_middleware(Guard, door=context.door, settings=settings)
    app.add_middleware(OnlyKnownHosts, settings=settings)
    app.add_middleware(SafeHeaders)
    return app


def open_context(settings: Settings, clock: Clock) -> AppContext:
    """Open the logbook and bring it up to date; a restore that was cut short is settled first."""
    settle(settings.data_folder)
    store = open_store(settings.data_folder)
    try:
        if not is_up_to_date(store):
            # seldom needed, and slow to load for a start that should be quick
            from webapp.store.migrate import bring_up_to_date

            bring_up_to_date(store, clock.now())
        ensure_words(store)
    except BaseException:
        store.close()
        raise
    worker = Worker()
    fit_keeper, copy_keeper = FitKeeper(store, worker, clock), CopyKeeper(store, clock)
    door = Door(settings.data_folder, clock, settings.passcode_cost)
    return AppContext(settings, store, worker, clock, fit_keeper, AskedSums(worker), copy_keeper, door)


@asynccontextmanager
async def close_at_end(app: FastAPI) -> AsyncIterator[None]:
    """Keep the fit in step while the server runs; end the worker and close the logbook when it stops."""
    context: AppContext = app.state.context
    context.fit_keeper.start()
    context.copy_keeper.start()
    yield
    context.copy_keeper.close()
    context.worker.close()
    context.fit_keeper.close()
    context.store.close()
