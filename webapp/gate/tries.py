"""Wrong tries are slowed down: by the address they come from, and all together.

A try is written down as wrong before it is looked at, so that a hundred at once do not all get a free look.
"""

from __future__ import annotations

import math
import sqlite3
from ipaddress import IPv6Address, IPv6Network, ip_address

FREE_TRIES, FIRST_WAIT_S, LONGEST_WAIT_S = 5, 10.0, 15 * 60.0
"""From one address: five wrong tries at once, then a wait that doubles with each."""
FREE_FROM_ALL, WAIT_FROM_ALL_S = 30, 60.0
"""From all addresses together: thirty in an hour, then one a minute."""
HOUR_S, REMEMBERED_S = 3600.0, 24 * 3600.0
A_HOME_S_SHARE = 64
"""Bits of an IPv6 address that one household has; the rest it may change as it likes."""


def wait_of(wrong_here: int, since_here_s: float, wrong_anywhere: int, since_any_s: float) -> float:
    """Return how long an address must wait: after so many wrong tries, the last so long ago."""
    own = 0.0
    if wrong_here >= FREE_TRIES:
        own = min(FIRST_WAIT_S * 2.0 ** min(wrong_here - FREE_TRIES, 20), LONGEST_WAIT_S)
    common = WAIT_FROM_ALL_S if wrong_anywhere >= FREE_FROM_ALL else 0.0
    # a clock that was put back must not make a wait longer than it ever is
    return max(own - max(since_here_s, 0.0), common - max(since_any_s, 0.0), 0.0)


def begin_try(connection: sqlite3.Connection, address: str, now: float) -> float:
    """Write a try down as wrong, unless its address must wait: then return how long, in seconds."""
    source = household(address)
    connection.execute("DELETE FROM failure WHERE at < ?", (now - REMEMBERED_S,))
    here, last_here = _count(connection, "address = ?", source)
    anywhere, last = _count(connection, "at > ?", now - HOUR_S)
    wait = wait_of(here, now - last_here, anywhere, now - last)
    if wait <= 0.0:
        connection.execute("INSERT INTO failure (address, at) VALUES (?, ?)", (source, now))
    return wait


def forget_tries(connection: sqlite3.Connection, address: str) -> None:
    """Forget the wrong tries of an address that had the right passcode in the end."""
    connection.execute("DELETE FROM failure WHERE address = ?", (household(address),))


def household(address: str) -> str:
    """Return what tries are counted by: an address, or the network of a household that has many."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, IPv6Address):
        mapped = found.ipv4_mapped
        return str(mapped) if mapped else str(IPv6Network((int(found), A_HOME_S_SHARE), strict=False))
    return str(found)


def say_wait(seconds: float) -> str:
    """Return a wait in words, never shorter than it is."""
    if seconds < HOUR_S / 30:
        whole = math.ceil(seconds)
        return f"{whole} second{'' if whole == 1 else 's'}"
    return f"{math.ceil(seconds / 60)} minutes"


def _count(connection: sqlite3.Connection, which: str, value: object) -> tuple[int, float]:
    found = connection.execute(f"SELECT count(*), max(at) FROM failure WHERE {which}", (value,)).fetchone()
    return found[0], found[1] or 0.0
