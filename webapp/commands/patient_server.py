"""The web server's own limits: how many may speak at once, and how long one may take to say what it wants."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_AT_ONCE, MOST_FROM_ONE = 256, 64
"""Connections in all, and from one address: a browser opens six."""
HEAD_WITHIN_S = 15.0
KEPT_OPEN_S = 5
STOP_WITHIN_S = 3
LARGEST_HEAD_BYTES = 32 * 1024


class PatientProtocol(H11Protocol):
    """A connection that is closed when its request does not come, and that leaves room for others."""

    _head_due: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        if self._from_same_address() > MOST_FROM_ONE:
            transport.abort()
        else:
            self._watch_head()

    def data_received(self, data: bytes) -> None:
        """Take in what came, and wait on while the request's head is not whole."""
        super().data_received(data)
        self._watch_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_watching()
        super().connection_lost(exc)

    def _from_same_address(self) -> int:
        others = (getattr(each, "client", None) for each in self.connections)
        return sum(1 for other in others if other and self.client and other[0] == self.client[0])

    def _watch_head(self) -> None:
        if self.conn.their_state is not h11.IDLE:
            self._stop_watching()
        elif self._head_due is None:
            self._head_due = self.loop.call_later(HEAD_WITHIN_S, self.transport.abort)

    def _stop_watching(self) -> None:
        if self._head_due is not None:
            self._head_due.cancel()
            self._head_due = None
