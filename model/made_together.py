"""Answers that are kept by what was asked, those that are missing made in one go."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from threading import Lock
from typing import Generic, TypeVar

from model.newest import Newest
from model.piecework import Piecework, in_turn

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class MadeTogether(Generic[Key, Value]):
    """Answers by what was asked, the newest kept; any thread may ask."""

    def __init__(
        self, most: int, make: Callable[[list[Key], Piecework], Iterable[tuple[Key, Value]]]
    ) -> None:
        """Begin empty; `most` answers are kept, `make` gives those that are missing, in any order."""
        self._most, self._make, self._lock = most, make, Lock()
        self._kept = Newest[Key, Value](most)

    def of(self, asked: Iterable[Key], piecework: Piecework = in_turn) -> dict[Key, Value]:
        """Return the answers to all that is asked; raises as `make`.

        piecework : how those that are missing are gone through
        """
        wanted = list(dict.fromkeys(asked))
        with self._lock:
            known = [(key, self._kept.get(key)) for key in wanted]
        found = {key: value for key, value in known if value is not None}
        missing = [key for key, value in known if value is None]
        for key, value in self._make(missing, piecework) if missing else ():
            found[key] = value
            with self._lock:
                self._kept.put(key, value)
        return found

    def kept(self) -> list[tuple[Key, Value]]:
        """Return what is kept, what was asked for last first."""
        with self._lock:
            return list(self._kept.newest_first())

    def forget(self) -> None:
        """Keep nothing any more."""
        with self._lock:
            self._kept = Newest[Key, Value](self._most)
