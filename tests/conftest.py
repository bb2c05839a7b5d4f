"""What every test may ask for: a clock that stands still and a data folder of its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from webapp.settings import Settings

A_SPRING_DAY = datetime(2026, 4, 3, 12, 2, tzinfo=UTC)


class FixedClock:
    """A clock that moves only when a test moves it."""

    def __init__(self, moment: datetime = A_SPRING_DAY) -> None:
        self.moment = moment

    def now(self) -> datetime:
        return self.moment

    def move(self, **by: float) -> datetime:
        self.moment += timedelta(**by)
        return self.moment


def pytest_addoption(parser: pytest.Parser) -> None:
    """Ask where the pictures of the pages go."""
    parser.addoption("--into", metavar="FOLDER", help="folder for the pictures of -m screenshots")


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock()


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data_folder=tmp_path / "data")


@pytest.fixture(autouse=True)
def _no_real_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test, and every process it starts, away from the user's own logbook."""
    for name in ("HOME", "XDG_DATA_HOME", "LOCALAPPDATA", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
