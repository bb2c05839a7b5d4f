"""The real server, many times over: a process that has loaded the app, and starts one for each line read.

A line is JSON: `folder`, and if wanted `port`, `clock` (a file that tells the moment), `fault` (a file that
names a fault of the disk) and `quick_fits` (the careful sums, which take half a minute, are left out:
`tests/web/test_fit_keeper.py` has them). What is started is a process of its own, forked before anything is
opened, that runs what `casewright serve` runs, but that no page is got ready at its start: a test opens few.
Its number is said here, its address by itself, as the command does. So a server costs a tenth of what it
takes to load the app for each.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from datetime import datetime
from pathlib import Path

from tests.faults.recorded_disk import Disk, Shim, noted_calls, sqlite_library
from webapp import app as app_module
from webapp.commands import running, serve
from webapp.fit_keeper import FitKeeper


class FileClock:
    """Tells the moment that stands in a file, so that no test waits."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def now(self) -> datetime:
        return datetime.fromisoformat(self.file.read_text())


class FaultyDisk(Disk):
    """A disk whose fault just now stands in a file; nothing is noted."""

    file: Path

    def __getattribute__(self, name: str) -> object:
        if name == "fault":
            return self.file.read_text()
        return [] if name == "events" else super().__getattribute__(name)


async def stay_cold(*_: object) -> None:
    """Get no page ready."""


def run(asked: dict[str, str]) -> None:
    """Be the server that was asked for, until it is stopped."""
    running.warm_up = stay_cold
    if "quick_fits" in asked:
        FitKeeper.refines = False
    clock = FileClock(Path(asked["clock"])) if "clock" in asked else None
    running.create_app = lambda settings: app_module.create_app(settings, clock)
    folder, port = Path(asked["folder"]), int(asked.get("port", 0))
    if "fault" not in asked:
        serve.serve(folder, "127.0.0.1", port, open_browser=False)
        return
    library = sqlite_library()
    assert library is not None
    disk = FaultyDisk()
    disk.file = Path(asked["fault"])
    shim = Shim(disk, library)
    shim.stand_in_front()
    with noted_calls(disk):
        serve.serve(folder, "127.0.0.1", port, open_browser=False)


def become(asked: dict[str, str]) -> None:
    """In the new process: let go of what belongs to the old one, serve, and end."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    code = 1
    try:
        run(asked)
        code = 0
    finally:
        sys.stdout.flush()
        os._exit(code)


if __name__ == "__main__":
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the ones that end are put away by the system
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            become(json.loads(line))
        sys.stdout.write(f"pid {child}\n")
        sys.stdout.flush()
