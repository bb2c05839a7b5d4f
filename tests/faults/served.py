"""The real server, many times over: a process that has loaded the app, and starts one for each line read.

A line is JSON: `folder`, and if wanted `clock` (a file that tells the moment) and `fault` (a file that names
a fault of the disk). What is started is a process of its own, forked before anything is opened, that runs
what `casewright serve` runs. Its number is said here, its address by itself, as the command does. So a
server costs a tenth of what it takes to load the app for each.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path

from tests.browser.served import FileClock
from tests.faults.recorded_disk import Disk, Shim, noted_calls, sqlite_library
from webapp import app as app_module
from webapp.commands import serve


class FaultyDisk(Disk):
    """A disk whose fault just now stands in a file; nothing is noted."""

    file: Path

    def __getattribute__(self, name: str) -> object:
        if name == "fault":
            return self.file.read_text()
        return [] if name == "events" else super().__getattribute__(name)


def run(asked: dict[str, str]) -> None:
    """Be the server that was asked for, until it is stopped."""
    clock = FileClock(Path(asked["clock"])) if "clock" in asked else None
    serve.create_app = lambda settings: app_module.create_app(settings, clock)
    folder = Path(asked["folder"])
    if "fault" not in asked:
        serve.serve(folder, "127.0.0.1", 0, open_browser=False)
        return
    library = sqlite_library()
    assert library is not None
    disk = FaultyDisk()
    disk.file = Path(asked["fault"])
    shim = Shim(disk, library)
    shim.stand_in_front()
    with noted_calls(disk):
        serve.serve(folder, "127.0.0.1", 0, open_browser=False)


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
