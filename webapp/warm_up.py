"""Opens the usual pages once, as the server starts, so that the first tap is as quick as the next.

The first look at a page reads its templates and works out its queries: a fifth of a second of processor time
each, and a second for the sums of a plan. Nothing waits for it, and a tap that comes meanwhile is answered,
before the next page is begun.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.types import Message

from webapp.context import AppContext
from webapp.services.usual_pages import usual_pages
from webapp.settings import Settings
from webapp.store.engine import read
from webapp.store.errors import StoreError

LOOK_S = 0.05


async def warm_up(app: FastAPI, is_over: Callable[[], bool], is_asked: Callable[[], bool]) -> None:
    """Ask for the usual pages, one after another; one that fails will say so to who asks for it next.

    is_over : whether the server stops, and no further page is wanted
    is_asked : whether somebody waits for an answer, which would be the slower for a page worked out beside it
    """
    context: AppContext = app.state.context
    try:
        addresses = await asyncio.to_thread(_addresses, context)
    except StoreError:
        return
    for address in addresses:
        while is_asked() and not is_over():
            await asyncio.sleep(LOOK_S)
        if is_over():
            return
        with suppress(Exception):  # nobody asked, and whoever does is told what is wrong
            await _ask(app, context.settings, address)


def _addresses(context: AppContext) -> list[str]:
    with read(context.store) as session:
        return usual_pages(session)


async def _ask(app: FastAPI, settings: Settings, address: str) -> None:
    """Ask for a page as somebody at this computer would, and throw the answer away."""
    own, asked = urlsplit(settings.url), urlsplit(address)
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": settings.scheme,
        "path": asked.path,
        "raw_path": asked.path.encode(),
        "root_path": "",
        "query_string": asked.query.encode(),
        "headers": [(b"host", own.netloc.encode()), (b"accept", b"text/html")],
        "client": (settings.host, 0),
        "server": (settings.host, settings.port),
        "state": {},
    }
    is_told = False

    async def receive() -> Message:
        nonlocal is_told
        if is_told:
            await asyncio.Event().wait()
        is_told = True
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(_: Message) -> None:
        return None

    await app(scope, receive, send)
