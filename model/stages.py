"""The stages of a forecast, carbon and then the quench: worked out afresh, or the newest of them kept.

A plan of which only the temper changed has its carbon and its quench again, one in another bath its carbon.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from hashlib import blake2b
from threading import Lock
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.course import (
    FORECAST_CELLS,
    HOT_STEPS,
    FORECAST_TOLERANCE_wt,
    StepCarbon,
    carbon_course,
    hot_steps,
)
from model.finish import finish_of
from model.hardening import AsHardened, Hardened, hardened_as_quenched, with_tempers
from model.members import Members
from model.newest import Newest
from model.process import Cold, Keys, Process, Quench
from model.structure import Hot

Array = NDArray[np.float64]
Mark = tuple[tuple[Process, ...], bytes]
Found = TypeVar("Found")

OF_TEMPER: Final = ("oven_offset_K", "temper_loss_factor")
"""Constants that a temper alone asks for."""
OF_QUENCH: Final = (
    "rim_carbon_wt",
    "retained_austenite_factor",
    "martensite_shift_HV",
    "bath_severity",
    "grain_number",
    "pearlite_time",
    "bainite_time",
    "film_breakdown_K",
)
"""Constants that the carbon does not hang on, beside those of the temper."""


class Stages:
    """The stages of a forecast, each worked out when it is asked for."""

    def carbon(
        self, members: Members, cells: int = FORECAST_CELLS, tolerance_wt: float = FORECAST_TOLERANCE_wt
    ) -> list[StepCarbon]:
        """Return the carbon after each hot step; parameters and raises as `carbon_course`."""
        return carbon_course(members, cells, tolerance_wt)

    def harden(self, members: Members, depth_m: Array, carbon_wt: Array) -> Hardened:
        """Return structure and hardness; parameters and raises as `hardening.harden`."""
        return with_tempers(members, self.as_quenched(members, depth_m, carbon_wt), carbon_wt)

    def as_quenched(self, members: Members, depth_m: Array, carbon_wt: Array) -> AsHardened:
        """Return what the quench itself leaves; parameters and raises as `harden`."""
        return hardened_as_quenched(members, depth_m, carbon_wt)


AFRESH: Final = Stages()


class KeptStages(Stages):
    """Stages of which the newest are kept, known by all that they hang on; any thread may ask."""

    def __init__(self, most: int) -> None:
        """Begin empty; `most` carbons and as many quenches are kept."""
        self._carbons: Newest[Mark, list[StepCarbon]] = Newest(most)
        self._quenches: Newest[Mark, AsHardened] = Newest(most)
        self._lock = Lock()

    def carbon(
        self, members: Members, cells: int = FORECAST_CELLS, tolerance_wt: float = FORECAST_TOLERANCE_wt
    ) -> list[StepCarbon]:
        """Return the carbon after each hot step, kept or worked out."""
        mark = _carbon_mark(members, cells, tolerance_wt)
        found = self._get(self._carbons, mark)
        if found is None:
            found = super().carbon(members, cells, tolerance_wt)
            self._put(self._carbons, mark, found)
        return found

    def as_quenched(self, members: Members, depth_m: Array, carbon_wt: Array) -> AsHardened:
        """Return what the quench itself leaves, kept or worked out."""
        mark = _quench_mark(members, carbon_wt, depth_m)
        found = self._get(self._quenches, mark)
        if found is None:
            found = super().as_quenched(members, depth_m, carbon_wt)
            self._put(self._quenches, mark, found)
        return found

    def quench_together(self, process: Process, several: Sequence[Constants]) -> None:
        """Quench one process with several sets of constants as one array, where none of them is kept.

        What `forecast` then finds of each is as if it were quenched alone but for the length of the steps.
        Raises as `carbon` and `as_quenched`.
        """
        if not hot_steps(process) or finish_of(process).quench is None:
            return
        each = [Members.of([process], [own]) for own in several]
        nodes = [self.carbon(own)[-1].end.nodes() for own in each]
        depth_m, carbons_wt = nodes[0][0][:1], [carbon_wt for _, carbon_wt in nodes]
        marks = [_quench_mark(*own, depth_m) for own in zip(each, carbons_wt, strict=True)]
        if any(self._get(self._quenches, mark) is not None for mark in marks):
            return
        left = super().as_quenched(_joined(each), depth_m, np.concatenate(carbons_wt))
        ends = np.cumsum([0, *(len(own.row) for own in each)]).tolist()
        for mark, first, last in zip(marks, ends[:-1], ends[1:], strict=True):
            self._put(self._quenches, mark, _rows_of(left, slice(first, last)))

    def _get(self, kept: Newest[Mark, Found], mark: Mark) -> Found | None:
        with self._lock:
            return kept.get(mark)

    def _put(self, kept: Newest[Mark, Found], mark: Mark, found: Found) -> None:
        with self._lock:
            kept.put(mark, found)


def _joined(each: Sequence[Members]) -> Members:
    """Return members of one process as one array."""
    values = {
        field.name: np.concatenate([getattr(own.constants, field.name) for own in each])
        for field in fields(Constants)
    }
    return Members.of(each[0].processes, [Constants(**values)])


def _rows_of(left: AsHardened, rows: slice) -> AsHardened:
    """Return what a quench left of some members."""
    own = {name: values[rows] for name, values in vars(left).items() if name != "hot"}
    return replace(left, **own, hot=Hot(**{name: values[rows] for name, values in vars(left.hot).items()}))


def _carbon_mark(members: Members, cells: int, tolerance_wt: float) -> Mark:
    """Return all that the carbon of members hangs on."""
    hot = [_cut(process, HOT_STEPS) for process in members.processes]
    return _mark(hot, members, (*OF_TEMPER, *OF_QUENCH), cells, tolerance_wt)


def _quench_mark(members: Members, carbon_wt: Array, depth_m: Array) -> Mark:
    """Return all that a quench of members hangs on."""
    cold = [_cut(process, (*HOT_STEPS, Quench, Cold)) for process in members.processes]
    return _mark(cold, members, OF_TEMPER, carbon_wt, depth_m)


def _cut(process: Process, kinds: tuple[type, ...]) -> Process:
    """Return a process of some kinds of steps alone, as physics sees it."""
    steps = tuple(step for step in process.steps if isinstance(step, kinds))
    return replace(process, steps=steps, keys=Keys(), record_doubt_K=0.0, temper_doubt_K=0.0)


def _mark(processes: Sequence[Process], members: Members, idle: Sequence[str], *others: Any) -> Mark:
    """Return what tells a stage from others: its processes, and its numbers but for idle constants."""
    digest = blake2b(members.row.tobytes())
    for name, values in vars(members.constants).items():
        digest.update(b"" if name in idle else np.ascontiguousarray(values).tobytes())
    for one in others:
        digest.update(np.ascontiguousarray(one).tobytes())
    return tuple(processes), digest.digest()
