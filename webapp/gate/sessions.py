"""Devices that have signed in: a random token in the device's cookie, and only its hash in the file."""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime

DAY_S = 24 * 3600.0
UNUSED_S, LONGEST_S = 90 * DAY_S, 365 * DAY_S
LASTS = "A device stays signed in for a year while it is used, and 90 days while it is not."
SEEN_EVERY_S = 300.0
LONGEST_NAME = 40
NO_NAME = "unnamed device"
TOKEN_BYTES = 32


@dataclass(frozen=True)
class Session:
    """A device that is signed in."""

    number: int
    name: str
    started_at: datetime
    seen_at: datetime


def hash_of(token: str) -> str:
    """Return what is kept of a token: it is random and long, so that one plain hash is enough."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def clean_name(name: str) -> str:
    """Return a device's name as it is kept: one short line that can be seen."""
    seen = "".join(sign if sign.isprintable() else " " for sign in name)
    return " ".join(seen.split())[:LONGEST_NAME].strip() or NO_NAME


def start(connection: sqlite3.Connection, name: str, now: float) -> str:
    """Sign a device in and return the token for its cookie."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    row = (hash_of(token), clean_name(name), now, now)
    connection.execute("DELETE FROM session WHERE seen_at < ? OR started_at < ?", _ends(now))
    connection.execute("INSERT INTO session (token_hash, name, started_at, seen_at) VALUES (?, ?, ?, ?)", row)
    return token


def find(connection: sqlite3.Connection, token: str, now: float) -> Session | None:
    """Return the device that a token belongs to, if its time is not over."""
    query = f"{_SELECT} WHERE token_hash = ? AND seen_at >= ? AND started_at >= ?"
    row = connection.execute(query, (hash_of(token), *_ends(now))).fetchone()
    return _session(row) if row else None


def devices(connection: sqlite3.Connection, now: float) -> list[Session]:
    """Return all devices that are signed in, the one seen last first."""
    query = f"{_SELECT} WHERE seen_at >= ? AND started_at >= ? ORDER BY seen_at DESC, id DESC"
    return [_session(row) for row in connection.execute(query, _ends(now))]


def is_due(session: Session, now: float) -> bool:
    """Tell whether it is worth a write to note that a device was seen."""
    return abs(now - session.seen_at.timestamp()) >= SEEN_EVERY_S


def note_seen(connection: sqlite3.Connection, number: int, now: float) -> None:
    """Note that a device was seen."""
    connection.execute("UPDATE session SET seen_at = ? WHERE id = ?", (now, number))


def rename(connection: sqlite3.Connection, number: int, name: str) -> None:
    """Give a device another name."""
    connection.execute("UPDATE session SET name = ? WHERE id = ?", (clean_name(name), number))


def end(connection: sqlite3.Connection, number: int) -> None:
    """Sign a device out, wherever it is."""
    connection.execute("DELETE FROM session WHERE id = ?", (number,))


def end_all(connection: sqlite3.Connection) -> None:
    """Sign every device out, and let no code that was shown sign one in."""
    connection.execute("DELETE FROM session")
    connection.execute("DELETE FROM pairing")


_SELECT = "SELECT id, name, started_at, seen_at FROM session"


def _ends(now: float) -> tuple[float, float]:
    return now - UNUSED_S, now - LONGEST_S


def _session(row: tuple[int, str, float, float]) -> Session:
    number, name, *moments = row
    started_at, seen_at = (datetime.fromtimestamp(moment, UTC) for moment in moments)
    return Session(number, name, started_at, seen_at)
