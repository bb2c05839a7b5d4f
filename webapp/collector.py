"""The collector of garbage at rest where nearly all that is made stays: it would look at it over and over."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Let it rest while the block runs."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@contextmanager
def kept_for_good() -> Iterator[None]:
    """Let it rest, and never look at what stands at the end of the block: modules, which stay to the end."""
    with uncollected():
        yield
        gc.freeze()
