"""Which pieces of a logbook are forecast together: those to which the same was done, in whichever fire.

A forecast of a piece that was tempered holds what it was as quenched, so that one does for it before its
temper and after.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from model.finish import tempers_after_quench
from model.kept_forecasts import done_to
from model.process import Process


@dataclass(frozen=True)
class Works:
    """What was done to pieces: works, each once, and the processes (rows) that they are forecast for.

    done : (works,) processes without what a forecast does not see; of : (rows,) the work of each row
    as_row : (rows,) row as which each is forecast, itself or the same piece after its tempers
    """

    done: tuple[Process, ...]
    of: tuple[int, ...]
    as_row: tuple[int, ...]

    @classmethod
    def among(cls, processes: Sequence[Process]) -> Works:
        """Return the works among processes, each of which is given once."""
        place = {process: row for row, process in enumerate(processes)}
        as_row = tuple(place[one] for one in forecast_as(processes))
        done = [done_to(processes[row]) for row in as_row]
        works = {one: work for work, one in enumerate(dict.fromkeys(done))}
        return cls(tuple(works), tuple(works[one] for one in done), as_row)

    def one_of_each(self, rows: Iterable[int]) -> list[int]:
        """Return one row of all those that share a work, as which it is to be forecast."""
        return sorted({self.of[row]: self.as_row[row] for row in sorted(rows, reverse=True)}.values())


def forecast_as(processes: Sequence[Process]) -> list[Process]:
    """Return which of some processes each is forecast as: itself, or the same piece after its tempers."""
    tempered = {_untempered(one): one for one in reversed(processes) if tempers_after_quench(one)}
    return [one if tempers_after_quench(one) else tempered.get(_untempered(one), one) for one in processes]


def _untempered(process: Process) -> Process:
    """Return a process before its last tempers, whatever oven they were in."""
    steps = process.steps[: len(process.steps) - len(tempers_after_quench(process))]
    return replace(process, steps=steps, keys=replace(process.keys, oven=""), temper_doubt_K=0.0)
