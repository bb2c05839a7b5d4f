"""What time it is, as a thing that is handed in, so that tests can hold it still."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Anything that tells the time."""

    def now(self) -> datetime:
        """Return the present moment, aware, in UTC."""


class SystemClock:
    """The computer's own clock."""

    def now(self) -> datetime:
        """Return the present moment, aware, in UTC."""
        return datetime.now(UTC)
