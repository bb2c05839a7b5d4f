"""Something asynchronous run in a thread of its own: a browser's tests may have left a loop in this one."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any


def run_aside(asked: Coroutine[Any, Any, None]) -> None:
    """Run it to its end; raises as it does."""
    with ThreadPoolExecutor(1) as aside:
        aside.submit(asyncio.run, asked).result()
