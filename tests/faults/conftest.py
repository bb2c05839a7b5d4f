"""Counts the faults that are tried and prints them as a table at the end: `pytest tests/faults -q`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime

import pytest

from tests.faults.servers import Servers
from tests.faults.tally import Tally, table_of

COUNTED = "fault"


@pytest.fixture
def tally(request: pytest.FixtureRequest) -> Tally:
    """Count a fault: `tally("power cut", tries, lost)`; before the test judges, so that a loss shows."""

    def count(fault: str, tries: int, lost: Sequence[object]) -> None:
        request.node.user_properties.append((COUNTED, (fault, tries, min(tries, len(lost)))))

    return count


@pytest.fixture(scope="session")
def servers() -> Iterator[Servers]:
    """What starts servers at little cost."""
    with closing(Servers()) as opened:
        yield opened


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the table, with the day."""
    counted = [
        tuple(value)
        for outcome in ("passed", "failed")
        for report in terminalreporter.stats.get(outcome, [])
        if report.when == "call"
        for name, value in report.user_properties
        if name == COUNTED
    ]
    if counted:
        terminalreporter.section(f"faults, {datetime.now(UTC):%d %B %Y}")
        for line in table_of(counted):
            terminalreporter.line(line)
