"""The child process of the compute worker as the server sees it: started, told, heard and put away."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from contextlib import suppress
from typing import Any

from webapp.resources import CHECKOUT

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
CHILD_MODULE = "webapp.worker_child"


class WorkerProcess:
    """One child process and its pipes; any thread may tell it something, one hears its answers."""

    def __init__(self) -> None:
        """Start it with one BLAS thread, finding our packages where this process does."""
        environment = dict(os.environ) | dict.fromkeys(ONE_THREAD, "1")
        paths = [str(CHECKOUT), *(path for path in sys.path if path)]
        environment["PYTHONPATH"] = os.pathsep.join(dict.fromkeys(paths))
        self._process = subprocess.Popen(
            [sys.executable, "-m", CHILD_MODULE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
        )
        self._telling = threading.Lock()

    def is_alive(self) -> bool:
        """Tell whether it runs."""
        return self._process.poll() is None

    def tell(self, message: bytes) -> None:
        """Send a pickled message whole; to one that is gone nothing is sent, and `answer` says so."""
        assert self._process.stdin is not None
        with self._telling, suppress(OSError, ValueError):
            self._process.stdin.write(message)
            self._process.stdin.flush()

    def answer(self) -> Any:
        """Wait for its next answer; EOFError, OSError or UnpicklingError when it died instead."""
        assert self._process.stdout is not None
        return pickle.load(self._process.stdout)

    def kill(self) -> None:
        """End it at once."""
        self._process.kill()

    def put_away(self) -> None:
        """End it, if it still lives, and close its pipes, whatever still waits in them."""
        self._process.kill()
        with suppress(BrokenPipeError), self._process:
            self._process.wait()
