"""Freed memory is given back without anything being lost, and the giving back ends with the server."""

from __future__ import annotations

import asyncio

import numpy as np
import pytest

from tests.web.run_aside import run_aside
from webapp import freed_memory


def test_what_is_held_stays_as_memory_is_given_back() -> None:
    held = np.arange(200_000)
    rest = [np.arange(1000) for _ in range(500)]
    del rest[::2]
    freed_memory.keep_few_arenas()
    freed_memory.give_back()
    assert held[-1] == 199_999
    assert all(one[-1] == 999 for one in rest)


def test_memory_is_given_back_until_the_server_stops(monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[bool] = []
    monkeypatch.setattr(freed_memory, "EVERY_S", 0.001)
    monkeypatch.setattr(freed_memory, "give_back", lambda: given.append(True))

    async def serve() -> None:
        task = asyncio.create_task(freed_memory.give_back_now_and_then())
        while len(given) < 2:
            await asyncio.sleep(0.001)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    run_aside(serve())
    assert len(given) >= 2
