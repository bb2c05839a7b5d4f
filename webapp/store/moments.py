"""Names of what is kept beside a logbook: by the moment, so that they sort by time."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

STAMP = "%Y-%m-%dT%H-%M-%SZ"


def free_path(folder: Path, now: datetime, why: str = "", ending: str = "") -> Path:
    """Return a name in a folder that begins with the moment, says why, and is not taken."""
    stem, taken = f"{now:{STAMP}}{f'-{why}' if why else ''}", 0
    while (path := folder / f"{stem}{f'-{taken}' if taken else ''}{ending}").exists():
        taken += 1
    return path
