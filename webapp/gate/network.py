"""The addresses of this computer: which one tablets can reach, and what an address that was given is."""

from __future__ import annotations

import socket
from dataclasses import dataclass
from ipaddress import ip_address

NOWHERE = ("192.0.2.1", 9)
"""An address that belongs to nobody (RFC 5737); to ask for the way there sends nothing."""


class NoAddress(Exception):
    """There is no address to answer on; `str()` is fit to show."""


@dataclass(frozen=True)
class Reach:
    """The address to answer on, and the one that tablets open."""

    bound: str
    opened: str


def choose_reach(told: str) -> Reach:
    """Return where to answer: at the address that was given, else at the one found."""
    if not told:
        found = _found()
        if ip_address(found).is_global:
            raise NoAddress(
                f"This computer's address {found} is one that the whole internet may reach. If that is what "
                f"you want, say so: --address {found}."
            )
        return Reach(found, found)
    try:
        given = ip_address(told)
    except ValueError:
        raise NoAddress(
            f"“{told}” is no address in numbers, as in 192.168.1.20. A name goes behind --name."
        ) from None
    if given.is_loopback:
        raise NoAddress(
            f"{told} is this computer alone. Leave out --lan, or give an address of your network."
        )
    return Reach(told, _found() if given.is_unspecified else told)


def is_loopback(address: str) -> bool:
    """Tell whether an address is this computer speaking to itself."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return bool((mapped or found).is_loopback)


def _found() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(NOWHERE)
            found = str(asking.getsockname()[0])
        except OSError:
            found = ""
    if not found or is_loopback(found) or ip_address(found).is_unspecified:
        raise NoAddress(
            "This computer has no address on a network now. Join the shop's Wi-Fi, or give the address with "
            "--address."
        )
    return found
