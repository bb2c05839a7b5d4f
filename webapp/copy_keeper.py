"""Takes the day's copy of the logbook while the app runs, and reads all copies through, in its own thread."""

from __future__ import annotations

import threading
from datetime import date, datetime
from pathlib import Path
from time import monotonic

from webapp.clock import Clock
from webapp.services.shop_view import view_shop
from webapp.store.copies import KeptCopy, is_whole, let_go, list_copies, take_daily
from webapp.store.engine import Store, read
from webapp.store.errors import StoreError
from webapp.zone import day_of

FIRST_LOOK_S = 10.0  # a start is not held up
LOOK_EVERY_S = 1800.0


class CopyKeeper:
    """The thread that takes daily copies, and what is known of each copy by now."""

    def __init__(self, store: Store, clock: Clock) -> None:
        """Start nothing yet; `start` does."""
        self._store, self._clock = store, clock
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._checked: dict[tuple[Path, int, int], bool] = {}
        self.trouble = ""

    def start(self) -> None:
        """Begin to look, some seconds from now."""
        self._thread = threading.Thread(target=self._watch, name="copy keeper", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop looking."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()

    def look(self) -> Path | None:
        """Take the day's copy if one is due, let old ones go, and return the new one."""
        now = self._clock.now()
        with read(self._store) as session:
            zone = view_shop(session).zone

        def shop_day(moment: datetime) -> date:
            return day_of(moment, zone)

        try:
            made = take_daily(self._store, now, shop_day)
            let_go(self._store.folder, now, self.is_whole)
            self.trouble = ""
        except StoreError as problem:
            self.trouble = str(problem)
            return None
        for copy in list_copies(self._store.folder):
            if self._closing.is_set():
                break
            self.is_whole(copy)
        return made

    def is_whole(self, copy: KeptCopy) -> bool:
        """Tell whether a copy checks out; one that was read and has not changed since is not read again."""
        mark = _mark_of(copy)
        if mark not in self._checked:
            self._checked[mark] = is_whole(copy)
        return self._checked[mark]

    def known(self, copy: KeptCopy, until: float) -> bool | None:
        """Tell whether a copy checks out; None where it was not read yet and the time (monotonic) is up."""
        if _mark_of(copy) not in self._checked and monotonic() > until:
            return None
        return self.is_whole(copy)

    def _watch(self) -> None:
        wait_s = FIRST_LOOK_S
        while not self._closing.wait(wait_s):
            try:
                self.look()
            except Exception as error:  # noqa: BLE001 - one bad day must not end the copies for good
                self.trouble = str(error)
            wait_s = LOOK_EVERY_S


def _mark_of(copy: KeptCopy) -> tuple[Path, int, int]:
    try:
        state = copy.file.stat()
    except OSError:
        return copy.file, 0, 0
    return copy.file, state.st_size, state.st_mtime_ns
