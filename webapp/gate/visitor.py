"""Who asks: somebody at the computer that keeps the logbook, a device that signed in, or a stranger."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.types import Scope

from webapp.gate.network import is_loopback
from webapp.gate.sessions import Session
from webapp.settings import LOOPBACK_NAMES, Settings

COOKIE = "casewright_session"
SAFE_COOKIE = "__Host-casewright"
"""Over https browsers hold a name that begins so to this very address."""
SENT_ON = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
"""What a proxy adds. Somebody who makes one up is only trusted less."""


@dataclass(frozen=True)
class Visitor:
    """Who asks; `is_here` is a browser on the computer that keeps the logbook."""

    is_here: bool
    may_enter: bool
    session: Session | None = None
    address: str = ""

    @property
    def may_rule(self) -> bool:
        """Tell whether passcode and codes are this one's to set: at the computer itself, and let in there."""
        return self.is_here and self.may_enter


def is_from_here(scope: Scope, settings: Settings) -> bool:
    """Tell whether a request comes straight from this computer, opened under its own name."""
    headers = Headers(scope=scope)
    # browsers have spoken 1.1 since the nineties; what speaks 1.0 is a proxy that says nothing of itself
    if any(name in headers for name in SENT_ON) or scope.get("http_version") == "1.0":
        return False
    host = headers.get("host", "").lower()
    name = host if host in LOOPBACK_NAMES else host.rpartition(":")[0]
    # without --lan nobody else reaches the address that is bound
    is_near = not settings.is_lan or is_loopback(address_of(scope))
    return is_near and name in LOOPBACK_NAMES


def address_of(scope: Scope) -> str:
    """Return the address a request comes from."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def cookie_name(settings: Settings) -> str:
    """Return what the cookie of a device that is signed in is called."""
    return SAFE_COOKIE if settings.is_safe else COOKIE
