"""A long JSON text written anew a piece at a time: one entry of its second level is unpacked, never more.

Long texts in it (a packed belief) come in parts as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from webapp.services.json_reader import CLOSING, JsonReader

LEVELS = 2


@dataclass(frozen=True)
class JsonPieces:
    """How JSON is written: one value, and what stands between entries and after a key."""

    write: Callable[[Any], str]
    comma: str
    colon: str

    def of(self, read: JsonReader, levels: int = LEVELS) -> Iterator[str]:
        """Give the value that a reader stands before, as it is written here."""
        opening = read.peek()
        if opening == '"':
            yield '"'
            yield from (self.write(part)[1:-1] for part in read.text())
            yield '"'
            return
        if levels == 0 or opening not in CLOSING:
            yield self.write(read.value())
            return
        yield opening
        before = ""
        for key in read.entries():
            yield before
            if key is not None:
                yield self.write(key) + self.colon
            yield from self.of(read, levels - 1)
            before = self.comma
        yield CLOSING[opening]
