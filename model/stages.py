"""The stages of a forecast, carbon and then the quench: worked out afresh, or the newest of them kept.

A plan of which only the temper changed has its carbon and its quench again, one in another bath its carbon.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import blake2b
from threading import Lock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from model.course import (
    FORECAST_CELLS,
    HOT_STEPS,
    FORECAST_TOLERANCE_wt,
    StepCarbon,
    carbon_course,
)
from model.hardening import AsHardened, Hardened, hardened_as_quenched, with_tempers
from model.members import Members
from model.newest import Newest
from model.process import Cold, Keys, Process, Quench

Array = NDArray[np.float64]
Mark = tuple[tuple[Process, ...], bytes]

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
        hot = [_cut(process, HOT_STEPS) for process in members.processes]
        mark = _mark(hot, members, (*OF_TEMPER, *OF_QUENCH), cells, tolerance_wt)
        with self._lock:
            found = self._carbons.get(mark)
        if found is None:
            found = super().carbon(members, cells, tolerance_wt)
            with self._lock:
                self._carbons.put(mark, found)
        return found

    def as_quenched(self, members: Members, depth_m: Array, carbon_wt: Array) -> AsHardened:
        """Return what the quench itself leaves, kept or worked out."""
        cold = [_cut(process, (*HOT_STEPS, Quench, Cold)) for process in members.processes]
        mark = _mark(cold, members, OF_TEMPER, depth_m, carbon_wt)
        with self._lock:
            found = self._quenches.get(mark)
        if found is None:
            found = super().as_quenched(members, depth_m, carbon_wt)
            with self._lock:
                self._quenches.put(mark, found)
        return found


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
