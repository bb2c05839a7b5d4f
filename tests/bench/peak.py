"""The most memory that a process has held, as Linux keeps it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

STATUS: Final = Path("/proc/self/status")


def peak_MB() -> float:
    """Return the most memory that this process has held [MB]."""
    (peak,) = (line for line in STATUS.read_text().splitlines() if line.startswith("VmHWM"))
    return int(peak.split()[1]) / 1024.0
