"""Counts the faults that are tried and prints them as a table at the end: `pytest tests/faults -q`."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient

from tests.conftest import FixedClock
from tests.faults.recorded_disk import is_pythons_own, sqlite_library
from tests.faults.servers import PATIENCE_S, Servers, forked_servers
from tests.faults.tally import Tally, table_of
from tests.web.page_forms import begin
from webapp.app import create_app
from webapp.settings import Settings

COUNTED = "fault"


@pytest.fixture
def tally(request: pytest.FixtureRequest) -> Tally:
    """Count a fault: `tally("power cut", tries, lost)`; before the test judges, so that a loss shows."""

    def count(fault: str, tries: int, lost: Sequence[object]) -> None:
        request.node.user_properties.append((COUNTED, (fault, tries, min(tries, len(lost)))))

    return count


@pytest.fixture(scope="session")
def servers() -> Servers:
    """What starts servers at little cost."""
    return forked_servers()


@pytest.fixture(scope="session")
def begun_book(servers: Servers, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder of a shop that has begun, to be copied; stopped in order, so that the file says all."""
    folder = tmp_path_factory.mktemp("begun")
    with servers.running(folder) as served, httpx.Client(base_url=served.url, timeout=PATIENCE_S) as client:
        assert begin(client).status_code == 303
        served.stop()
    return folder


@pytest.fixture
def book(begun_book: Path, tmp_path: Path) -> Path:
    """A data folder of a test's own, of a shop that has begun."""
    return Path(shutil.copytree(begun_book, tmp_path / "data"))


@pytest.fixture
def client(settings: Settings, clock: FixedClock, book: Path) -> Iterator[TestClient]:
    """A client of the app itself on that folder, by a clock that stands still."""
    assert settings.data_folder == book
    app = create_app(settings, clock)
    with TestClient(app, base_url=settings.url, follow_redirects=False) as speaking:
        yield speaking


@pytest.fixture(scope="session")
def library() -> Path:
    """SQLite's own library, which the recorded disk is put before."""
    found = sqlite_library()
    if found is None or not is_pythons_own(found):
        if os.environ.get("CI"):
            pytest.fail("Python's SQLite is no library of its own here, so nothing can be put before it")
        pytest.skip("Python's SQLite is no library of its own here, so nothing can be put before it")
    return found


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
