"""What follows the last heat of a process: its quench, how cold it got, its tempers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from model.course import HOT_STEPS
from model.errors import NotPossible
from model.hardness import TEMPER_RANGE_K
from model.process import Cold, Process, Quench, SlowCool, Step, Temper
from model.steels import ac1_andrews_1965
from model.units import celsius_to_kelvin, kelvin_to_celsius, kelvin_to_fahrenheit

ROOM_K: Final = 293.15
"""Temperature at which a part ends that is not cooled deeper [K], 20 C."""


@dataclass(frozen=True)
class Finish:
    """What follows the last heat of a process."""

    quench: Quench | None
    cold_K: float
    tempers: tuple[tuple[float, float], ...]

    @property
    def temper_modelled(self) -> bool:
        """True where there are tempers and all lie within the range of the loss formula."""
        low, high = TEMPER_RANGE_K
        return bool(self.tempers) and all(low <= kelvin <= high for kelvin, _ in self.tempers)


def finish_of(process: Process) -> Finish:
    """Return what follows the last heat; refuses what cannot be.

    process : any process
    Returns the last quench, the lowest temperature after it and the tempers after it, in order.
    Raises NotPossible for a quench out of nothing or out of a slow cool, a temper that would be a
    hardening heat. A cold or a temper before any quench is without effect.
    """
    quench: Quench | None = None
    cold_K = ROOM_K
    tempers: list[tuple[float, float]] = []
    before: Step | None = None
    for step in process.steps:
        if isinstance(step, HOT_STEPS):
            quench, cold_K, tempers = None, ROOM_K, []
        elif isinstance(step, Quench):
            _refuse_cold_quench(before)
            quench, cold_K, tempers = step, min(ROOM_K, step.bath_K), []
        elif isinstance(step, Cold):
            cold_K = min(cold_K, step.temperature_K)
        else:
            _refuse_hot_temper(process, step)
            tempers.append((step.temperature_K, step.seconds))
        before = step
    return Finish(quench, cold_K, tuple(tempers))


def tempers_after_quench(process: Process) -> tuple[Temper, ...]:
    """Return the tempers after the last quench or heat of a process, in order; any process."""
    tempers: list[Temper] = []
    for step in process.steps:
        if isinstance(step, Temper):
            tempers.append(step)
        elif not isinstance(step, Cold):
            tempers = []
    return tuple(tempers)


def _refuse_cold_quench(before: object) -> None:
    """Refuse a quench that does not start from a hot step."""
    if isinstance(before, SlowCool):
        advice = "Reheat the work before the quench, or quench it straight from the soak."
        raise NotPossible("quench", "the work has cooled in the box, so there is nothing to quench", advice)
    if not isinstance(before, HOT_STEPS):
        raise NotPossible("quench", "nothing was heated before the quench", "Add a soak or a reheat.")


def _both(heat_K: float) -> str:
    return f"{kelvin_to_celsius(heat_K):.0f} C ({kelvin_to_fahrenheit(heat_K):.0f} F)"


def _refuse_hot_temper(process: Process, temper: Temper) -> None:
    ac1_K = celsius_to_kelvin(ac1_andrews_1965(process.steel.composition))
    if temper.temperature_K >= ac1_K:
        what = f"a temper at {_both(temper.temperature_K)} is hotter than the steel's Ac1"
        advice = f"Stay below {_both(ac1_K)}; a case is usually tempered at 120 to 205 C (250 to 400 F)."
        raise NotPossible("temper", what, advice)
