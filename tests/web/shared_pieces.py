"""What `test_side_by_side` has the compute worker do: pieces of work of which it is known who did them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from time import monotonic, sleep
from typing import TypeVar
from unittest.mock import patch

from model.errors import NotPossible
from webapp import side_by_side as pieces_module
from webapp.side_by_side import side_by_side

HELD_BACK_S = 0.05
LONG_S = 60.0

Piece = TypeVar("Piece")
Done = TypeVar("Done")


def by_two(work: Callable[[Piece], Done], pieces: Sequence[Piece]) -> list[Done]:
    """Do pieces by two processes, on one processor too."""
    with patch.object(pieces_module, "has_a_processor_free", return_value=True):
        return side_by_side(work, pieces)


class Noted:
    """Does pieces side by side, itself so slowly that its copy does most; notes who did any."""

    def __init__(self) -> None:
        self.here, self.by = os.getpid(), set[int]()

    def __call__(self, work: Callable[[Piece], Done], pieces: Sequence[Piece]) -> list[Done]:
        def noted(piece: Piece) -> tuple[int, Done]:
            if os.getpid() == self.here:
                sleep(HELD_BACK_S)
            return os.getpid(), work(piece)

        told = by_two(noted, pieces)
        self.by |= {by for by, _ in told}
        return [done for _, done in told]


def squares(count: int) -> tuple[list[int], int]:
    """Return squares in order, and how many processes did them."""
    noted = Noted()
    return noted(lambda number: number**2, range(count)), len(noted.by)


def fits_either_way() -> tuple[bytes, bytes, int]:
    """Return what a fit says by one process and by two, to the last digit, and how many did the second."""
    # loaded here, as no other test of these wants it
    from model.calibration import FitResult, fit
    from model.cooling_sketch import KEPT_SKETCHES
    from model.kept_coolings import KEPT_TABLES
    from tests.model.many_coupons import many_coupons

    def digits_of(found: FitResult) -> bytes:
        belief = found.belief
        return (
            b"".join(part.tobytes() for part in (belief.mean, *belief.covariance.parts))
            + repr(found.predictions).encode()
        )

    book, noted = many_coupons(3, 6), Noted()
    alone = digits_of(fit(book, []))
    KEPT_TABLES.forget()  # so that these are made by two as well
    KEPT_SKETCHES.forget()
    return alone, digits_of(fit(book, [], piecework=noted)), len(noted.by)


def refused(first: int, fails_here: bool) -> list[int]:
    """Refuse every piece from one on, in the copy only or in both."""
    here = os.getpid()

    def work(piece: int) -> int:
        if piece >= first and (fails_here or os.getpid() != here):
            raise NotPossible(f"piece {piece}", "it cannot be done", "Leave it out.")
        return piece

    return Noted()(work, range(6))


def deserted() -> list[int]:
    """Have a copy that ends in its first piece."""
    here = os.getpid()
    return Noted()(lambda piece: piece if os.getpid() == here else os._exit(1), range(4))


def endless(folder: Path) -> None:
    """Do pieces for a minute, the copy but one; note in a folder which processes are at it."""
    here, until = os.getpid(), monotonic() + LONG_S

    def work(_: int) -> None:
        (folder / str(os.getpid())).touch()
        while monotonic() < until and len(list(folder.iterdir())) < 2:
            sleep(0.01)
        sleep(HELD_BACK_S if os.getpid() == here else LONG_S)

    by_two(work, range(int(LONG_S / HELD_BACK_S)))
