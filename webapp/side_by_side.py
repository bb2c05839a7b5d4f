"""Pieces of a sum done by two processes at once: this one, and a copy of it that lives as long as they take.

The copy knows all that this process knows, so nothing is told to it, and it sends back what it did. Both take
the next piece out of one pipe: a copy that gets little of a processor takes few. What is owed by a copy that
died, fell silent or met an error is done here, where the error is raised as it is. The copy ends with this
process. Only for the main thread of the compute worker, beside which no other is at work.
"""

from __future__ import annotations

import os
import pickle
import select
import signal
import struct
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import Any, ClassVar, Final, Self, TypeVar

Piece = TypeVar("Piece")
Done = TypeVar("Done")

TOKEN: Final = struct.Struct("<H")
MOST_PIECES: Final = 2000  # what any pipe holds
LOOK_S: Final = 0.1
LOOKS: Final = 200  # for an answer, once nothing is left to be done here
NICER_BY: Final = 5  # a page goes before the copy
STANDARD_ERROR: Final = 2
LOAD: Final = Path("/proc/loadavg")


def side_by_side(work: Callable[[Piece], Done], pieces: Sequence[Piece]) -> list[Done]:
    """Return what the work makes of each piece, in order, as `model.piecework.Piecework`."""
    done: dict[int, Done] = {}
    if 1 < len(pieces) <= MOST_PIECES and has_a_processor_free():
        with suppress(OSError), Copy(work, pieces) as copy:
            done = copy.done_here()
            done |= copy.answer()
    return [done[place] if place in done else work(piece) for place, piece in enumerate(pieces)]


def has_a_processor_free() -> bool:
    """Tell whether this process can be copied, and no more are at work just now than there are processors."""
    if sys.platform != "linux":
        return False
    at_work = int(LOAD.read_text().split()[3].partition("/")[0])
    return 1 < len(os.sched_getaffinity(0)) >= at_work


class Copy:
    """A copy of this process at work on the same pieces; it ends once it has answered, or on the way out."""

    _ending: ClassVar[
        list[int]
    ] = []  # copies that have answered: nobody waits while their memory is given back

    def __init__(self, work: Callable[[Any], Any], pieces: Sequence[Any]) -> None:
        """Make nothing yet."""
        self._work, self._pieces, self._has_answered = work, pieces, False

    def __enter__(self) -> Self:
        """Lay out the pieces and make the copy; OSError where there is no room for one."""
        self._bury()
        (self._tokens, to_tokens), (self._answers, to_answers) = os.pipe(), os.pipe()
        os.write(to_tokens, b"".join(TOKEN.pack(place) for place in range(len(self._pieces))))
        os.close(to_tokens)
        try:
            self._copy = os.fork()
            if self._copy == 0:
                self._serve(to_answers)
        except OSError:
            self._close()
            raise
        finally:
            os.close(to_answers)
        return self

    def __exit__(self, *_: object) -> None:
        """End the copy, whatever it is at, unless it has answered and ends by itself."""
        if self._has_answered:
            self._ending.append(self._copy)
        else:
            os.kill(self._copy, signal.SIGKILL)
            os.waitpid(self._copy, 0)
        self._close()

    def done_here(self) -> dict[int, Any]:
        """Do pieces as long as there are any, up to the first that cannot be done; by place."""
        done: dict[int, Any] = {}
        with suppress(Exception):  # it is met again in its turn
            for place in self._taken():
                done[place] = self._work(self._pieces[place])
        return done

    def answer(self) -> dict[int, Any]:
        """Return what the copy did, by place; nothing if it died or is silent for long."""
        # in short looks, between which a job can be cut
        if not any(select.select([self._answers], [], [], LOOK_S)[0] for _ in range(LOOKS)):
            return {}
        with os.fdopen(self._answers, "rb", closefd=False) as answers:
            try:
                told = dict(pickle.load(answers))
            except (EOFError, pickle.UnpicklingError):
                return {}
        self._has_answered = True
        return told

    def _taken(self) -> Iterator[int]:
        """Take the places of pieces until none is left."""
        while token := os.read(self._tokens, TOKEN.size):
            yield TOKEN.unpack(token)[0]

    def _serve(self, to_answers: int) -> None:
        """Do pieces as the copy, and end."""
        try:
            close_all_but(self._tokens, to_answers)
            threading.Thread(target=end_unheard, args=(to_answers,), daemon=True).start()
            os.nice(NICER_BY)
            done = pickle.dumps(self.done_here(), pickle.HIGHEST_PROTOCOL)
            with os.fdopen(to_answers, "wb") as answers:
                answers.write(done)
        finally:
            os._exit(0)

    @classmethod
    def _bury(cls) -> None:
        """Let go of those that have ended since."""
        cls._ending = [copy for copy in cls._ending if os.waitpid(copy, os.WNOHANG) == (0, 0)]

    def _close(self) -> None:
        os.close(self._tokens)
        os.close(self._answers)


# between a copy's making and its name being known, and while it is ended, no job may be cut
UNCUT: Final = (Copy.__enter__.__code__, Copy.__exit__.__code__)


def end_unheard(to_answers: int) -> None:
    """End this process, in the middle of a piece too, once nobody is left who could read from a pipe."""
    pipe = select.poll()
    pipe.register(to_answers, 0)
    pipe.poll()
    os._exit(0)


def close_all_but(*kept: int) -> None:
    """Close what a copy has open without need, as pipes of the server that would seem to be listened to."""
    for low, high in pairwise([STANDARD_ERROR, *sorted(kept), os.sysconf("SC_OPEN_MAX")]):
        os.closerange(low + 1, high)
