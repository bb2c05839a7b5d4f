"""JSON read from its beginning, one value at a time, so that a long text is never held or unpacked whole."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any, NoReturn

CHUNK = 64 * 1024
BEHIND = 8  # a number that ends nearer to what was read so far may go on behind it
SPACE = re.compile(r"[ \t\n\r]*")
END_OR_ESCAPE = re.compile(r'["\\]')
ESCAPE = re.compile(r"\\u[dD][89abAB]..\\u[dD][c-fC-F]..|\\u.{4}|\\.")
LONGEST_ESCAPE = 12
CLOSING = {"{": "}", "[": "]"}


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number in JSON")


DECODER = json.JSONDecoder(parse_constant=_refuse_constant)


class JsonReader:
    """A place in a JSON text that moves on; ValueError where what is asked for does not stand there."""

    def __init__(self, read: Callable[[int], str]) -> None:
        """Begin at the beginning; `read` gives about so many characters more, none at the end."""
        self._read = read
        self._text, self._at = "", 0

    def peek(self) -> str:
        """Return the next character that is no space; none at the end."""
        while True:
            found = SPACE.match(self._text, self._at)
            self._at = found.end() if found else self._at
            if self._at < len(self._text) or not self._more():
                return self._text[self._at : self._at + 1]

    def value(self) -> Any:
        """Take the value that stands here, whatever it holds."""
        self.peek()
        while True:
            try:
                value, end = DECODER.raw_decode(self._text, self._at)
            except json.JSONDecodeError:
                if self._more():
                    continue
                raise
            if end + BEHIND > len(self._text) and self._more():
                continue
            self._at = end
            return value

    def text(self) -> Iterator[str]:
        """Take the text that stands here, a part at a time, its escapes made out."""
        self._take('"')
        while True:
            found = END_OR_ESCAPE.search(self._text, self._at)
            end = found.start() if found else len(self._text)
            yield self._text[self._at : end]
            self._at = end
            if found is None and not self._more():
                raise ValueError("a text that does not end")
            if found and found[0] == '"':
                self._at += 1
                return
            if found:
                yield self._escaped()

    def entries(self) -> Iterator[str | None]:
        """Go into the list or object that stands here: give its key or None, then its value is taken."""
        opening = self._take("{[")
        closing = CLOSING[opening]
        if self.peek() == closing:
            self._take(closing)
            return
        while True:
            yield self._key() if opening == "{" else None
            if self._take("," + closing) == closing:
                return

    def end(self) -> None:
        """Raise ValueError unless this is the end."""
        if self.peek():
            raise ValueError("more than one value")

    @property
    def rest(self) -> str:
        """What was read already and not taken yet."""
        return self._text[self._at :]

    def _escaped(self) -> str:
        """Take one character that is written by others; a pair of halves is one."""
        while len(self._text) - self._at < LONGEST_ESCAPE and self._more():
            pass
        found = ESCAPE.match(self._text, self._at)
        if found is None:
            raise ValueError("no escape")
        self._at = found.end()
        return str(DECODER.decode(f'"{found[0]}"'))

    def _key(self) -> str:
        key = self.value()
        if not isinstance(key, str):
            raise ValueError("a key that is no text")
        self._take(":")
        return key

    def _take(self, marks: str) -> str:
        mark = self.peek()
        if not mark or mark not in marks:
            raise ValueError(f"'{mark}' where one of '{marks}' must stand")
        self._at += 1
        return mark

    def _more(self) -> bool:
        """Read on, as much again as waits, so that a long value is not tried too often; False at the end."""
        waiting = self.rest
        if read := self._read(max(CHUNK, len(waiting))):
            self._text, self._at = waiting + read, 0
        return bool(read)
