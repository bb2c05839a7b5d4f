"""Forecasts that were worked out to learn from, kept for the next fit: a cache that can be thrown away."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from hashlib import sha256
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.hardness_readings import HardnessReading
from model.kept_lines import KeptLines
from model.newest import Newest
from model.process import Keys, Process
from model.sight import Prediction, Reading, Seen
from model.surface import Surface

Array = NDArray[np.float64]
Kind = str

PROCESSES_KEPT: Final = 5000
SURFACES_KEPT: Final = 4 * PROCESSES_KEPT
READ_OFF: Final = frozenset(
    {"value", "value_m", "sd", "sd_m", "low_HRC", "high_HRC", "hardness_HV", "limit_m", "tester_key"}
    | {"high_carbon", "of_bare_bar"}
)
"""Fields of a reading that say what was read and with what, and nothing of where it was looked for."""


@dataclass(frozen=True)
class Forecasts:
    """Forecasts of one process.

    inputs : (M, local inputs); values : by kind of reading, (M, 2 points): the values, then their doubts
    """

    inputs: Array
    values: dict[Kind, Array]

    def with_more(self, more: Forecasts) -> Forecasts:
        """Return these and others, of the kinds that the others hold."""
        kinds = {kind: np.concatenate([self.values[kind], values]) for kind, values in more.values.items()}
        return Forecasts(np.concatenate([self.inputs, more.inputs]), kinds)


class KeptForecasts:
    """Forecasts by the mark of what was done, in whichever fire; surfaces by process and kind.

    lines : of the last fit, read off these surfaces, by near what they lie; best : its best point, by name
    """

    def __init__(self) -> None:
        """Begin with none."""
        self.forecasts = Newest[str, Forecasts](PROCESSES_KEPT)
        self.surfaces = Newest[tuple[Process, Kind], Surface](SURFACES_KEPT)
        self.lines: dict[str, KeptLines] = {}
        self.best: dict[str, float] = {}

    def forget_lines(self, rows: Collection[int]) -> None:
        """Hold what was read off the surfaces of some processes, of the fit at work, for read no more."""
        for lines in self.lines.values():
            lines.forget(rows)

    def made(self) -> int:
        """Return how many forecasts are kept."""
        return sum(len(one.inputs) for _, one in self.forecasts.newest_first())


def done_to(process: Process) -> Process:
    """Return a process without what a forecast at given local inputs does not see."""
    return replace(process, keys=Keys(), record_doubt_K=0.0, temper_doubt_K=0.0)


def mark_of(done: object) -> str:
    """Return what tells one work (`done_to`) or cooling from another, in this run and in any other."""
    return sha256(repr(done).encode()).hexdigest()


def kind_of(reading: Reading) -> Kind:
    """Return what a reading looks at; those of one kind have the same prediction."""
    told = [(name, getattr(reading, name)) for name in _looked_for(type(reading))]
    return repr((type(reading).__name__, *told))


@cache
def _looked_for(kind: type[Any]) -> tuple[str, ...]:
    """Return the fields of a kind of reading that say where it was looked for."""
    return tuple(field.name for field in fields(kind) if field.name not in READ_OFF)


def forecasts_of(
    inputs: Sequence[Array] | Array, readings: Sequence[Mapping[Kind, Reading]], seen: Sequence[Seen]
) -> list[Forecasts]:
    """Return what readings would show of the forecasts of several works, by kind; each kind of all together.

    inputs, readings, seen : of each work
    """
    told: list[dict[Kind, Array]] = [{} for _ in seen]
    asked: dict[Kind, list[int]] = {}
    for work, kinds in enumerate(readings):
        for kind in kinds:
            asked.setdefault(kind, []).append(work)
    for kind, works in asked.items():
        found = _predicted(readings[works[0]][kind], [seen[work] for work in works])
        for work, one in zip(works, found, strict=True):
            told[work][kind] = np.concatenate([one.value, one.doubt], axis=1)
    return [Forecasts(own, values) for own, values in zip(inputs, told, strict=True)]


def _predicted(reading: Reading, seen: Sequence[Seen]) -> list[Prediction]:
    if isinstance(reading, HardnessReading):  # its rounds cost as much for one piece as for many
        return reading.predicted_of(seen)
    return [reading.predicted(one) for one in seen]
