"""A table of a few answers that forgets what was longest not asked for."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Iterator
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class Newest(Generic[Key, Value]):
    """A table that forgets what was longest not asked for."""

    def __init__(self, most: int) -> None:
        """Begin empty; `most` entries are kept."""
        self._most, self._kept = most, OrderedDict[Key, Value]()

    def get(self, key: Key) -> Value | None:
        """Return an entry, None for none."""
        if key in self._kept:
            self._kept.move_to_end(key)
        return self._kept.get(key)

    def newest_first(self) -> Iterator[tuple[Key, Value]]:
        """Give all entries, what was asked for last first."""
        return reversed(self._kept.items())

    def put(self, key: Key, value: Value) -> None:
        """Keep an entry in place of what was kept under its key."""
        self._kept[key] = value
        self._kept.move_to_end(key)
        while len(self._kept) > self._most:
            self._kept.popitem(last=False)
