"""A code that signs one tablet in, once, within a few minutes, without typing the passcode on it."""

from __future__ import annotations

import io
import secrets
import sqlite3

import segno

from webapp.gate.sessions import hash_of

LASTS_S = 600.0
TOKEN_BYTES = 16
WHITE_ON_BLACK, AS_BEFORE = "\x1b[97;40m", "\x1b[0m"


def start(connection: sqlite3.Connection, now: float) -> str:
    """Return a fresh token; those whose time is over are forgotten."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    connection.execute("DELETE FROM pairing WHERE ends_at < ?", (now,))
    connection.execute(
        "INSERT INTO pairing (token_hash, ends_at) VALUES (?, ?)", (hash_of(token), now + LASTS_S)
    )
    return token


def is_open(connection: sqlite3.Connection, token: str, now: float) -> bool:
    """Tell whether a token may still be used."""
    # a clock that was put back must not keep a code open for longer
    query = "SELECT 1 FROM pairing WHERE token_hash = ? AND ends_at BETWEEN ? AND ?"
    return connection.execute(query, (hash_of(token), now, now + LASTS_S)).fetchone() is not None


def use_up(connection: sqlite3.Connection, token: str, now: float) -> bool:
    """Use a token up; False if it was used before, or came too late."""
    was_open = is_open(connection, token, now)
    connection.execute("DELETE FROM pairing WHERE token_hash = ?", (hash_of(token),))
    return was_open


def address_of(base: str, token: str) -> str:
    """Return the address that a tablet opens to use a token."""
    return f"{base}/pair/{token}"


def drawn_for_a_terminal(address: str) -> str:
    """Return the code as lines of blocks, light on dark whatever colours the window has."""
    told = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(out=told, border=2, compact=True)
    return "\n".join(
        f"{WHITE_ON_BLACK}{line}{AS_BEFORE}" for line in told.getvalue().rstrip("\n").split("\n")
    )
