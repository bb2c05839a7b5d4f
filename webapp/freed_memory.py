"""Memory that was freed and that the C library keeps: held in few places, and given back from time to time.

A page that works out large sums once would else leave the server as large as it was then. Where the C library
is another, these do nothing.
"""

from __future__ import annotations

import asyncio
import ctypes
from contextlib import suppress
from typing import Final

M_ARENA_MAX: Final = -8  # of glibc's malloc.h
M_MMAP_THRESHOLD: Final = -3
M_TRIM_THRESHOLD: Final = -1
ARENAS: Final = 2
"""The places it takes memory from; as a rule there are eight a processor, each with its own rest."""
EVERY_S: Final = 10.0
LARGE: Final = 4 * 2**20
"""Bytes from which an array has pages of its own, which are given back as it is freed."""
LOOSE: Final = 32 * 2**20
"""Bytes that may lie free behind all others: less would be asked for anew all the time."""


def keep_few_arenas() -> None:
    """Let all threads take their memory from few places; to be called before there are threads."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, ARENAS)


def give_back_large() -> None:
    """Give large arrays back as they are freed; as a rule they leave holes once a larger one was freed."""
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        library.mallopt(M_MMAP_THRESHOLD, LARGE)
        library.mallopt(M_TRIM_THRESHOLD, LOOSE)


def give_back() -> None:
    """Give freed memory back to the system: some milliseconds."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


async def give_back_now_and_then() -> None:
    """Give freed memory back every ten seconds, until it is cancelled."""
    while True:
        await asyncio.sleep(EVERY_S)
        await asyncio.to_thread(give_back)
