"""Memory that was freed and that the C library keeps: held in few places, and given back from time to time.

A page that works out large sums once would else leave the server as large as it was then. Where the C library
is another, both do nothing.
"""

from __future__ import annotations

import asyncio
import ctypes
from contextlib import suppress
from typing import Final

M_ARENA_MAX: Final = -8  # of glibc's malloc.h
ARENAS: Final = 2
"""The places it takes memory from; as a rule there are eight a processor, each with its own rest."""
EVERY_S: Final = 10.0


def keep_few_arenas() -> None:
    """Let all threads take their memory from few places; to be called before there are threads."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, ARENAS)


def give_back() -> None:
    """Give freed memory back to the system: some milliseconds."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


async def give_back_now_and_then() -> None:
    """Give freed memory back every ten seconds, until it is cancelled."""
    while True:
        await asyncio.sleep(EVERY_S)
        await asyncio.to_thread(give_back)
