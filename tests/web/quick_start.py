"""What makes a fresh app and a fresh logbook cheap enough for every web test to have its own.

Nothing that a test can see is shared; only what each app would work out again to the same end: which page
answers which address, and the SQL of each query.
"""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from sqlalchemy import Dialect, Engine, create_engine
from starlette.routing import BaseRoute

from webapp.app import create_app
from webapp.clock import Clock
from webapp.settings import Settings

_ROUTES: list[BaseRoute] = []
_DIALECTS: dict[Any, Dialect] = {}
_QUERIES: dict[Any, Any] = {}


def quick_app(settings: Settings, clock: Clock) -> FastAPI:
    """Return a new app on the logbook in this folder, with the routes that the first such app worked out."""
    app = create_app(settings, clock)
    if not _ROUTES:
        _ROUTES.extend(app.router.routes)
    app.router.routes = list(_ROUTES)  # a list of its own: a test may add an address
    return app


def quick_engine(url: str, **options: Any) -> Engine:
    """Return a new engine that finds the queries which earlier ones compiled.

    SQLAlchemy keeps compiled queries by dialect, so the engines share the first one's.
    """
    engine = create_engine(url, **options)
    kind = options.get("json_serializer")
    engine.dialect = engine.pool._dialect = _DIALECTS.setdefault(kind, engine.dialect)
    engine.update_execution_options(compiled_cache=_QUERIES)
    return engine
