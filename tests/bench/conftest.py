"""One table at the end of the benches: what was measured, against what, in the same run."""

from __future__ import annotations

import platform
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

Tell = Callable[..., None]


@dataclass(frozen=True)
class Measured:
    """One line of the table: what took how long, against what, and what the ratio is held to."""

    what: str
    seconds: float
    against: str = ""
    ratio: float | None = None
    limit: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """Return the line's cells."""
        ratio = "" if self.ratio is None else f"{self.ratio:.3g} times"
        return self.what, f"{1e3 * self.seconds:.1f} ms", ratio, self.against, self.limit


MEASURED = pytest.StashKey[list[Measured]]()
HEADS = ("what", "took", "ratio", "against, in the same run", "held to")


@pytest.fixture
def tell(request: pytest.FixtureRequest) -> Tell:
    """Put a line into the table at the end."""
    lines = request.config.stash.setdefault(MEASURED, [])

    def keep(
        what: str, seconds: float, against: str = "", ratio: float | None = None, limit: str = ""
    ) -> None:
        lines.append(Measured(what, seconds, against, ratio, limit))

    return keep


def processor() -> str:
    """Return the name of the processor, as far as the system tells it."""
    told = Path("/proc/cpuinfo")
    named = (
        [line for line in told.read_text().splitlines() if line.startswith("model name")]
        if told.exists()
        else []
    )
    return named[0].partition(":")[2].strip() if named else platform.processor() or platform.machine()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Print the table."""
    lines = [HEADS, *(one.words for one in config.stash.get(MEASURED, []))]
    if len(lines) == 1:
        return
    widths = [max(len(line[place]) for line in lines) for place in range(len(HEADS))]
    terminalreporter.section(f"how fast, in processor time: {processor()}")
    for line in lines:
        terminalreporter.line(
            "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        )
