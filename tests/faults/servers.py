"""Servers for the fault tests: processes of their own that are killed, stopped and started again."""

from __future__ import annotations

import atexit
import json
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
PATIENCE_S = 90.0
ENVIRONMENT = {"PYTHONPATH": str(CHECKOUT), "OPENBLAS_NUM_THREADS": "1", "TZ": "UTC"}
COMMAND = ("-m", "webapp.cli", "serve", "--no-open", "--port", "0", "--data")


@dataclass(frozen=True)
class Served:
    """A server that answers at `url`; `kill` ends it as it stands, and waits until it is gone."""

    pid: int
    url: str

    def kill(self) -> None:
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        try:
            handle = os.pidfd_open(self.pid)
        except ProcessLookupError:
            return
        try:
            os.kill(self.pid, how)
            ended, _, _ = select.select([handle], [], [], PATIENCE_S)
            assert ended, "the server did not end"
        finally:
            os.close(handle)


class Servers:
    """The process that has loaded the app, and forks a server of it when one is asked for."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.served"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=dict(os.environ) | ENVIRONMENT,
            cwd=CHECKOUT,
            text=True,
        )

    def start(self, folder: Path, **how: object) -> Served:
        """Start a server on a folder; `how` is what `tests.faults.served` knows."""
        assert self._process.stdin is not None
        asked = {"folder": folder, **how}
        self._process.stdin.write(json.dumps({name: str(value) for name, value in asked.items()}) + "\n")
        self._process.stdin.flush()
        said = dict([self._line(), self._line()])
        return Served(int(said["pid"]), said["url"])

    @contextmanager
    def running(self, folder: Path, **how: object) -> Iterator[Served]:
        """Run a server while the block runs, and kill it."""
        served = self.start(folder, **how)
        try:
            yield served
        finally:
            served.kill()

    def _line(self) -> tuple[str, str]:
        """Read what the two processes say, in whichever order."""
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        if line.startswith("pid "):
            return "pid", line.split()[1]
        return "url", url_in(line)

    def close(self) -> None:
        with self._process:
            self._process.kill()


def url_in(line: str) -> str:
    """Return the address that the command says when it answers."""
    assert "ready at http" in line, f"the server did not start: {line!r}"
    return line.split("ready at ")[1].split()[0]


@cache
def forked_servers() -> Servers:
    """Return what starts servers in this process of the tests."""
    servers = Servers()
    atexit.register(servers.close)
    return servers


@contextmanager
def by_command(folder: Path) -> Iterator[Served]:
    """Run `casewright serve` itself, and end it."""
    process = subprocess.Popen(
        [sys.executable, *COMMAND, str(folder)],
        stdout=subprocess.PIPE,
        env=dict(os.environ) | ENVIRONMENT,
        text=True,
    )
    try:
        assert process.stdout is not None
        yield Served(process.pid, url_in(process.stdout.readline()))
    finally:
        with process:
            process.kill()
