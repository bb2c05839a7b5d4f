"""Freed memory is given back without anything being lost, and the giving back ends with the server."""

from __future__ import annotations

import asyncio
import multiprocessing
import sys
from pathlib import Path

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


def left_MB(is_asked: bool) -> float:
    """Return what a process still holds of large arrays between small ones, once they are freed [MB]."""
    if is_asked:
        freed_memory.give_back_large()
    for size in (30, 6):  # the first lets the library keep what is as large
        begun = resident_MB()
        large = [(np.ones(size * 2**17), np.ones(2**10)) for _ in range(8)]
        small = [one for _, one in large]
        del large
    assert len(small) == 8
    return resident_MB() - begun


def resident_MB() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 2**20


@pytest.mark.skipif(sys.platform != "linux", reason="the C library there is another")
def test_large_arrays_leave_no_holes_as_they_are_freed() -> None:
    with multiprocessing.get_context("spawn").Pool(1, maxtasksperchild=1) as own:
        as_a_rule, asked = (own.apply(left_MB, (is_asked,)) for is_asked in (False, True))
    assert as_a_rule > 20.0
    assert asked < 5.0


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
