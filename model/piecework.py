"""Work in pieces, which more than one process may do at once: what comes out does not hang on how."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

Piece = TypeVar("Piece")
Done = TypeVar("Done")


class Piecework(Protocol):
    """A way of doing pieces none of which hangs on another."""

    def __call__(self, work: Callable[[Piece], Done], pieces: Sequence[Piece]) -> list[Done]:
        """Return what the work makes of each piece, in order.

        Raises what the work raises at the first piece that cannot be done. What else the work keeps may be
        lost, as another process may do it.
        """


def in_turn(work: Callable[[Piece], Done], pieces: Sequence[Piece]) -> list[Done]:
    """Do pieces one after another, as `Piecework`."""
    return [work(piece) for piece in pieces]
