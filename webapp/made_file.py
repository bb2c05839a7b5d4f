"""A file that is made for one answer: whole before its first byte is sent, and gone once it is sent.

A long one lies in the data folder without a name, so that the system clears it away when the browser hangs
up or casewright is killed; a short one stays in memory. Making it is the answer's own thread's work; while
it is sent to a slow tablet, the logbook is not held.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import IO

from fastapi import Request
from starlette.responses import StreamingResponse
from starlette.types import Receive, Scope, Send

from webapp.store.engine import plain_trouble
from webapp.store.errors import CopyFailed

MOST_IN_MEMORY = 4 * 1024**2
CHUNK = 256 * 1024
PACKED = 6  # of zlib's levels: 9 takes twice as long for a tenth less
GZIP = 16 + zlib.MAX_WBITS
NONE: Mapping[str, str] = {}

Write = Callable[[IO[bytes]], object]


class MadeFile(StreamingResponse):
    """An answer read from a file that nobody else has."""

    def __init__(self, folder: Path, write: Write, media_type: str, headers: Mapping[str, str]) -> None:
        """Have the file written; nothing is sent before it is whole."""
        self._file = _made(folder, write)
        length = {"Content-Length": str(self._file.tell())}
        self._file.seek(0)
        pieces = iter(partial(self._file.read, CHUNK), b"")
        super().__init__(pieces, headers={**headers, **length}, media_type=media_type)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it, and let go of the file however that ends."""
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._file.close()


def made_of_pieces(
    request: Request,
    folder: Path,
    pieces: Iterable[bytes],
    media_type: str,
    headers: Mapping[str, str] = NONE,
) -> MadeFile:
    """Return the answer of a text that comes in pieces, packed where the browser takes it so."""
    told, chunks = {**headers}, _in_chunks(pieces)
    if "gzip" in request.headers.get("accept-encoding", ""):
        told |= {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
        chunks = _packed(chunks)
    return MadeFile(folder, partial(_write_all, chunks), media_type, told)


def _write_all(chunks: Iterable[bytes], file: IO[bytes]) -> None:
    """Write one after another: `writelines` would let a file that begins in memory grow there to its end."""
    for chunk in chunks:
        file.write(chunk)


def _made(folder: Path, write: Write) -> SpooledTemporaryFile[bytes]:
    file = SpooledTemporaryFile(MOST_IN_MEMORY, dir=str(folder))  # noqa: SIM115 - closed once it is sent
    try:
        write(file)
        file.flush()  # a disk that is full says so here
    except BaseException as error:
        with suppress(OSError):  # it writes what still waits
            file.close()
        if isinstance(error, OSError):
            raise CopyFailed(f"The file could not be made: {plain_trouble(error)}.") from error
        raise
    return file


def _in_chunks(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Give pieces joined to long ones: each call of a file or a packer costs the same."""
    waiting: list[bytes] = []
    length = 0
    for piece in pieces:
        waiting.append(piece)
        length += len(piece)
        if length >= CHUNK:
            yield b"".join(waiting)
            waiting, length = [], 0
    yield b"".join(waiting)


def _packed(chunks: Iterable[bytes]) -> Iterator[bytes]:
    squeeze = zlib.compressobj(PACKED, zlib.DEFLATED, GZIP)
    for chunk in chunks:
        yield squeeze.compress(chunk)
    yield squeeze.flush()
