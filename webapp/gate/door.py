"""The door as the rest of the app sees it: may this one in, sign in, pair, sign out."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from webapp.clock import Clock
from webapp.gate import pairing, passcode, sessions, tries
from webapp.gate.door_file import DoorFile, DoorTrouble
from webapp.gate.sessions import Session
from webapp.settings import PASSCODE_COST

PASSCODE, ASK_HERE, REACHED_AT = "passcode", "ask_here", "reached_at"
IN_ALREADY = "in already"


@dataclass(frozen=True)
class Answer:
    """What came of a try: the token of a device that is in, else how long to wait, else it was wrong."""

    token: str = ""
    wait_s: float = 0.0


class Door:
    """Passcode, devices and codes of one data folder."""

    def __init__(self, folder: Path, clock: Clock, cost: int = PASSCODE_COST) -> None:
        """Hold the file and the clock; `cost` is scrypt's."""
        self.file, self.clock, self.cost = DoorFile(folder), clock, cost

    @property
    def has_passcode(self) -> bool:
        """Tell whether somebody set a passcode."""
        return bool(self._setting(PASSCODE))

    @property
    def asks_here(self) -> bool:
        """Tell whether the computer that keeps the logbook is asked for the passcode too."""
        return self.has_passcode and self._setting(ASK_HERE) == "yes"

    @property
    def reached_at(self) -> str:
        """Return the address that tablets opened last time, empty before the first."""
        return self._setting(REACHED_AT)

    def set_passcode(self, new: str) -> None:
        """Keep a new passcode; every device that is signed in must sign in again."""
        kept = passcode.keep(new, self.cost)
        with self.file.write() as connection:
            _put(connection, PASSCODE, kept)
            sessions.end_all(connection)
            connection.execute("DELETE FROM failure")

    def forget_passcode(self) -> None:
        """Throw the passcode away and sign every device out; nobody gets in from the network then."""
        with self.file.write() as connection:
            connection.execute("DELETE FROM setting WHERE name IN (?, ?)", (PASSCODE, ASK_HERE))
            sessions.end_all(connection)
            connection.execute("DELETE FROM failure")

    def ask_here(self, wanted: bool) -> None:
        """Ask on this computer too, or no longer."""
        with self.file.write() as connection:
            _put(connection, ASK_HERE, "yes" if wanted else "no")

    def note_reached_at(self, address: str) -> None:
        """Remember the address that tablets open, for `casewright passcode pair`."""
        with self.file.write() as connection:
            _put(connection, REACHED_AT, address)

    def sign_in(self, typed: str, address: str, name: str) -> Answer:
        """Let a device in that has the passcode, unless its address must wait."""
        return self._try(typed, address, lambda connection: sessions.start(connection, name, self._now()))

    def confirm(self, typed: str, address: str) -> Answer:
        """Ask a device that is in for the passcode once more; a wrong try counts as at the door."""
        return self._try(typed, address, lambda _: IN_ALREADY)

    def _try(self, typed: str, address: str, then: Callable[[sqlite3.Connection], str]) -> Answer:
        with self.file.write() as connection:
            wait = tries.begin_try(connection, address, self._now())
        kept = self._setting(PASSCODE)
        if wait > 0.0 or not kept:
            return Answer(wait_s=wait)
        if not passcode.is_right(typed, kept):
            return Answer()
        with self.file.write() as connection:
            # it may have been changed while this one was looked at
            if _get(connection, PASSCODE) != kept:
                return Answer()
            tries.forget_tries(connection, address)
            return Answer(token=then(connection))

    def let_in(self, name: str) -> str:
        """Sign a device in that needs no passcode, as it stands beside the owner; return its token."""
        with self.file.write() as connection:
            return sessions.start(connection, name, self._now())

    def new_code(self) -> str:
        """Return the token of a fresh code for one tablet."""
        with self.file.write() as connection:
            return pairing.start(connection, self._now())

    def is_open_code(self, token: str) -> bool:
        """Tell whether a tablet's code may still be used."""
        with self.file.read() as connection:
            return connection is not None and pairing.is_open(connection, token, self._now())

    def pair(self, token: str, name: str) -> str:
        """Use a code up and return the tablet's own token; empty if the code is no good any more."""
        with self.file.write() as connection:
            if not pairing.use_up(connection, token, self._now()):
                return ""
            return sessions.start(connection, name, self._now())

    def find(self, token: str) -> Session | None:
        """Return the device that a cookie's token belongs to, and note that it was seen."""
        now = self._now()
        with self.file.read() as connection:
            found = sessions.find(connection, token, now) if connection and token else None
        if found and sessions.is_due(found, now):
            self._note_seen(found.number, now)
        return found

    def devices(self) -> list[Session]:
        """Return the devices that are signed in."""
        with self.file.read() as connection:
            return sessions.devices(connection, self._now()) if connection else []

    def rename(self, number: int, name: str) -> None:
        """Give a device another name."""
        with self.file.write() as connection:
            sessions.rename(connection, number, name)

    def end(self, number: int) -> None:
        """Sign a device out."""
        with self.file.write() as connection:
            sessions.end(connection, number)

    def end_all(self) -> None:
        """Sign every device out."""
        with self.file.write() as connection:
            sessions.end_all(connection)

    def _note_seen(self, number: int, now: float) -> None:
        try:
            with self.file.write() as connection:
                sessions.note_seen(connection, number, now)
        except DoorTrouble:
            return  # a full disk must not shut a tablet out that is in

    def _now(self) -> float:
        return self.clock.now().timestamp()

    def _setting(self, name: str) -> str:
        with self.file.read() as connection:
            return _get(connection, name) if connection else ""


def _get(connection: sqlite3.Connection, name: str) -> str:
    row = connection.execute("SELECT value FROM setting WHERE name = ?", (name,)).fetchone()
    return row[0] if row else ""


def _put(connection: sqlite3.Connection, name: str, value: str) -> None:
    connection.execute("INSERT OR REPLACE INTO setting (name, value) VALUES (?, ?)", (name, value))
