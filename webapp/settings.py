"""Where the logbook lies and which address it answers on: the whole of the settings, in one value."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import platformdirs

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8350
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")
HTTP_PORT = 80


def default_data_folder() -> Path:
    """Return the platform's folder for this user's data."""
    return Path(platformdirs.user_data_dir("casewright", appauthor=False))


@dataclass(frozen=True)
class Settings:
    """Settings of one running casewright."""

    data_folder: Path = field(default_factory=default_data_folder)
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT

    @property
    def url(self) -> str:
        """Return the address to open in a browser."""
        return f"http://{self.host}:{self.port}"

    @property
    def allowed_hosts(self) -> frozenset[str]:
        """Return the Host headers that are answered; any other is a page elsewhere posing as us."""
        names = {*LOOPBACK_NAMES, self.host}
        bare = names if self.port == HTTP_PORT else set()
        return frozenset(bare | {f"{name}:{self.port}" for name in names})
