"""The child process of the compute worker: reads a job, runs it, writes its result, until its parent is gone.

It is started as `python -m webapp.worker_child`. Of the database it knows nothing; the fit's job opens it, to
read (`services/book_fit.py`). A job can be cut in its middle: the thread that reads what the parent says
interrupts the one at work, as Ctrl-C would, and what the process has kept stays.
"""

from __future__ import annotations

import _thread
import importlib
import os
import pickle
import queue
import signal
import sys
import threading
import traceback
from types import FrameType
from typing import Any, BinaryIO

from webapp.freed_memory import give_back, give_back_large
from webapp.side_by_side import UNCUT

Request = tuple[int, str, tuple[Any, ...]]

TRY_AGAIN_S = 0.05
IMPORTING = "importlib._bootstrap"
CUT_SHORT = pickle.dumps(("dropped", None))


class Cut(BaseException):
    """The job at work is not wanted any more; no error, so that no sum takes it for one of its own."""


class Desk:
    """Which job is at work, and which is to be cut; by their numbers."""

    def __init__(self) -> None:
        """Begin with no job."""
        self.at_work = self.unwanted = 0

    def interrupted(self, _signal: int, frame: FrameType | None) -> None:
        """Cut the job at work, in the main thread, if that is the one; not where `must_go_on`."""
        if self.at_work == 0 or self.at_work != self.unwanted:
            return
        if must_go_on(frame):
            threading.Timer(TRY_AGAIN_S, _thread.interrupt_main).start()
            return
        self.at_work = 0
        raise Cut

    def answer(self, number: int, name: str, arguments: tuple[Any, ...]) -> bytes:
        """Run one job and return its pickled outcome, as `outcome_of` or the one of a job that was cut."""
        try:
            self.at_work = number
            outcome = CUT_SHORT if number == self.unwanted else outcome_of(name, arguments)
            self.at_work = 0
        except Cut:
            outcome = CUT_SHORT
        return outcome


def must_go_on(frame: FrameType | None) -> bool:
    """Tell whether a module is half loaded here, which could not be loaded again, or a process half begun."""
    while frame is not None:
        if IMPORTING in frame.f_code.co_filename or frame.f_code in UNCUT:
            return True
        frame = frame.f_back
    return False


def run_function(name: str, arguments: tuple[Any, ...]) -> Any:
    """Call `package.module:function` with these arguments."""
    module, _, function = name.partition(":")
    return getattr(importlib.import_module(module), function)(*arguments)


def outcome_of(name: str, arguments: tuple[Any, ...]) -> bytes:
    """Run one job and return, pickled, the word of its `JobState` and its result or what went wrong."""
    try:
        return pickle.dumps(("done", run_function(name, arguments)))
    except Exception as error:  # noqa: BLE001 - whatever a job raises belongs to the one who asked
        detail = "".join(traceback.format_exception(error))
        return pickle.dumps(("failed", (f"{type(error).__name__}: {error}", detail)))


def read_messages(source: BinaryIO, requests: queue.Queue[Request], desk: Desk) -> None:
    """Pass requests on, and cut the job whose number comes alone.

    When the parent closes the pipe or dies, end at once even in mid-sum.
    """
    while True:
        try:
            message = pickle.load(source)
            if isinstance(message, int):
                desk.unwanted = message
                _thread.interrupt_main()
            else:
                requests.put(message)
        except Exception:  # noqa: BLE001 - a broken pipe says so in several ways
            os._exit(0)


def main() -> None:
    """Serve jobs over standard input and output."""
    give_back_large()
    desk = Desk()
    signal.signal(signal.SIGINT, desk.interrupted)
    # stray prints of a library must not fall into the stream of results
    with os.fdopen(os.dup(sys.stdout.fileno()), "wb") as results:
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
        requests: queue.Queue[Request] = queue.Queue()
        threading.Thread(target=read_messages, args=(sys.stdin.buffer, requests, desk), daemon=True).start()
        while True:
            results.write(desk.answer(*requests.get()))
            results.flush()
            give_back()


if __name__ == "__main__":
    main()
