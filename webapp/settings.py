"""Where the logbook lies and which address it answers on: the whole of the settings, in one value."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import platformdirs

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8350
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")
HTTP_PORT, HTTPS_PORT = 80, 443
ANY_ADDRESS = ("0.0.0.0", "::")
PASSCODE_COST = 2**15
"""Of scrypt, see `webapp/gate/passcode.py`."""


def default_data_folder() -> Path:
    """Return the platform's folder for this user's data."""
    return Path(platformdirs.user_data_dir("casewright", appauthor=False))


@dataclass(frozen=True)
class Settings:
    """Settings of one running casewright.

    `address` is the one it answers on besides this computer's own, empty where it answers this computer
    only; `opened_at` is the one that tablets open, `names` are further names of this computer.
    """

    data_folder: Path = field(default_factory=default_data_folder)
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    address: str = ""
    opened_at: str = ""
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    passcode_cost: int = PASSCODE_COST

    @property
    def is_lan(self) -> bool:
        """Tell whether other computers than this one are answered."""
        return bool(self.address)

    @property
    def is_safe(self) -> bool:
        """Tell whether it speaks https, so that nobody can read along."""
        return self.certificate is not None

    @property
    def scheme(self) -> str:
        """Return how addresses begin."""
        return "https" if self.is_safe else "http"

    @property
    def url(self) -> str:
        """Return the address to open in a browser on this computer."""
        return f"{self.scheme}://{self.host}:{self.port}"

    @property
    def tablet_url(self) -> str:
        """Return the address to open on a tablet; empty where none is answered."""
        name = next(iter(self.names), in_brackets(self.opened_at or self.address))
        return f"{self.scheme}://{name}:{self.port}" if self.is_lan else ""

    @property
    def allowed_hosts(self) -> frozenset[str]:
        """Return the Host headers that are answered; any other is a page elsewhere posing as us."""
        told = {
            in_brackets(each) for each in (self.address, self.opened_at) if each not in ("", *ANY_ADDRESS)
        }
        names = {*LOOPBACK_NAMES, self.host, *told, *(name.lower() for name in self.names)}
        bare = names if self.port == (HTTPS_PORT if self.is_safe else HTTP_PORT) else set()
        return frozenset(bare | {f"{name}:{self.port}" for name in names})


def in_brackets(address: str) -> str:
    """Return an address as it stands before a port."""
    return f"[{address}]" if ":" in address else address
