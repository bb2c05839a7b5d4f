"""The child process of the compute worker: reads a job, runs it, writes its result, until its parent is gone.

It is started as `python -m webapp.worker_child`, is told no data folder and never opens the database.
"""

from __future__ import annotations

import importlib
import os
import pickle
import queue
import sys
import threading
import traceback
from typing import Any, BinaryIO

Request = tuple[str, tuple[Any, ...]]


def run_function(name: str, arguments: tuple[Any, ...]) -> Any:
    """Call `package.module:function` with these arguments."""
    module, _, function = name.partition(":")
    return getattr(importlib.import_module(module), function)(*arguments)


def answer(name: str, arguments: tuple[Any, ...]) -> bytes:
    """Run one job and return its pickled outcome: (True, result) or (False, what went wrong)."""
    try:
        return pickle.dumps((True, run_function(name, arguments)))
    except Exception as error:  # noqa: BLE001 - whatever a job raises belongs to the one who asked
        detail = "".join(traceback.format_exception(error))
        return pickle.dumps((False, (f"{type(error).__name__}: {error}", detail)))


def read_requests(source: BinaryIO, requests: queue.Queue[Request]) -> None:
    """Pass requests on; when the parent closes the pipe or dies, end at once even in mid-sum."""
    while True:
        try:
            requests.put(pickle.load(source))
        except Exception:  # noqa: BLE001 - a broken pipe says so in several ways
            os._exit(0)


def main() -> None:
    """Serve jobs over standard input and output."""
    # stray prints of a library must not fall into the stream of results
    with os.fdopen(os.dup(sys.stdout.fileno()), "wb") as results:
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
        requests: queue.Queue[Request] = queue.Queue()
        threading.Thread(target=read_requests, args=(sys.stdin.buffer, requests), daemon=True).start()
        while True:
            results.write(answer(*requests.get()))
            results.flush()


if __name__ == "__main__":
    main()
