"""A client of an app that does all in one thread: hops to others are most of what a small request costs."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any

import anyio.to_thread
import pytest
from httpx import ASGITransport, AsyncClient, Response

from tests.conftest import FixedClock
from tests.web.quick_start import quick_app
from webapp import templating
from webapp.settings import Settings
from webapp.store.engine import Store


class OneThread:
    """Speaks to an app as a browser on this computer would; redirects are followed only where asked."""

    def __init__(self, app: Any, url: str) -> None:
        self.app, self.base_url = app, url
        self._loop = asyncio.new_event_loop()
        transport = ASGITransport(app, raise_app_exceptions=False)
        # packed and unpacked in one process, a page costs a tenth more and shows nothing
        self._client = AsyncClient(transport=transport, base_url=url, headers={"accept-encoding": "identity"})

    def request(self, method: str, url: str, **more: Any) -> Response:
        return self._loop.run_until_complete(self._client.request(method, url, **more))

    def get(self, url: str, **more: Any) -> Response:
        return self.request("GET", url, **more)

    def post(self, url: str, **more: Any) -> Response:
        return self.request("POST", url, **more)

    @property
    def store(self) -> Store:
        store: Store = self.app.state.context.store
        return store

    def close(self) -> None:
        self._loop.run_until_complete(self._client.aclose())
        self._loop.close()
        self.app.state.context.worker.close()
        self.store.close()


@contextmanager
def one_thread(settings: Settings) -> Iterator[OneThread]:
    """Give a client of an app on a folder, whose keeper of the fit does not run."""

    async def here(act: Callable[..., Any], *given: Any, **_: Any) -> Any:
        return act(*given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(anyio.to_thread, "run_sync", here)
        with closing(OneThread(quick_app(settings, FixedClock()), settings.url)) as client:
            yield client


@contextmanager
def words_unmarked() -> Iterator[None]:
    """Leave out the marks on words of the trade, which take half of the time of a walk over all pages."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(templating, "marked", lambda page, _address: page)
        yield
