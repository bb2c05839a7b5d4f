"""The door of the logbook for those who read: shut, once nobody is inside, while its file is exchanged."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Condition

from webapp.store.errors import CannotSave

SHUT_FOR_S = 30.0  # how long a reader waits outside
PATIENCE_S = 10.0  # how long an exchange waits for a moment when nobody reads


class Doors:
    """Counts who reads. A reader that is inside may come in once more, so that nobody waits for himself."""

    def __init__(self) -> None:
        """Begin open and empty."""
        self._changed = Condition()
        self._inside = 0
        self._is_shut = False

    @contextmanager
    def inside(self) -> Iterator[None]:
        """Hold the door for a reader; one that comes while it is shut waits."""
        with self._changed:
            if not self._changed.wait_for(lambda: not self._is_shut, SHUT_FOR_S):
                raise CannotSave("The logbook is being exchanged for a copy. Try again in a minute.")
            self._inside += 1
        try:
            yield
        finally:
            with self._changed:
                self._inside -= 1
                self._changed.notify_all()

    @contextmanager
    def shut(self) -> Iterator[None]:
        """Wait until nobody reads, and let nobody in while the block runs."""
        with self._changed:
            if not self._changed.wait_for(lambda: not self._inside and not self._is_shut, PATIENCE_S):
                raise CannotSave("The logbook is read all the time just now. Nothing was changed; try again.")
            self._is_shut = True
        try:
            yield
        finally:
            with self._changed:
                self._is_shut = False
                self._changed.notify_all()
