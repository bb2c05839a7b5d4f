"""From the carbon at the quench to structure and hardness, for all members at once.

In this release every part that was austenite hardens in full, whatever the bath.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.course import HOT_STEPS, hot_steps
from model.errors import NotPossible
from model.hardness import (
    CARBIDE_HV,
    FERRITE_HV,
    RETAINED_AUSTENITE_HV,
    TEMPER_RANGE_K,
    ferrite_pearlite_vickers_maynier_1978,
    martensite_vickers,
    temper_parameter,
    tempered_vickers,
)
from model.members import Members
from model.process import Cold, Process, Quench, SlowCool, Step, Temper
from model.steels import ac1_andrews_1965
from model.structure import Hot, hot_phases, retained_share
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]

ROOM_K: Final = 293.15
"""Temperature at which a part ends that is not cooled deeper [K], 20 C."""
UNHARDENED_COOLING_K_PER_H: Final = 300.0
"""Cooling rate that stands for the bar's last slow cooling [K/h]; common practice, no source."""


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


def _refuse_cold_quench(before: object) -> None:
    """Refuse a quench that does not start from a hot step."""
    if isinstance(before, SlowCool):
        advice = "Reheat the work before the quench, or quench it straight from the soak."
        raise NotPossible("quench", "the work has cooled in the box, so there is nothing to quench", advice)
    if not isinstance(before, HOT_STEPS):
        raise NotPossible("quench", "nothing was heated before the quench", "Add a soak or a reheat.")


def _refuse_hot_temper(process: Process, temper: Temper) -> None:
    ac1_K = celsius_to_kelvin(ac1_andrews_1965(process.steel.composition))
    if temper.temperature_K >= ac1_K:
        what = f"a temper at {temper.temperature_K - 273.15:.0f} C is hotter than the steel's Ac1"
        advice = f"Stay below {ac1_K - 273.15:.0f} C; a case is usually tempered at 120 to 205 C."
        raise NotPossible("temper", what, advice)


@dataclass(frozen=True)
class Hardened:
    """Structure and hardness of all members; arrays are (M, n), shares by weight summing to 1.

    `tempered_HV` is the final hardness: nan where the temper is not modelled, as quenched without one.
    """

    carbon_in_austenite_wt: Array
    retained_austenite: Array
    martensite: Array
    pearlite_bainite_ferrite: Array
    carbide: Array
    as_quenched_HV: Array
    tempered_HV: Array


def quench_temperature_K(members: Members) -> Array:
    """Temperature at the end of the last hot step, (M,) [K]."""
    last = [hot_steps(process)[-1].history.temperature_K[-1] for process in members.processes]
    return members.spread(last) + members.constants.temperature_bias_K


def phases_of(members: Members, carbon_wt: Array, temperature_K: Array) -> Hot:
    """Return what the members' steel is made of at a temperature.

    members : the members; carbon_wt : (M, n) total carbon [wt%]; temperature_K : (M,) [K]
    Returns `Hot` of shape (M, n). Source: `structure.hot_phases`.
    """
    return hot_phases(carbon_wt, temperature_K[:, None], members.composition, members.alloy_factor[:, None])


def harden(members: Members, carbon_wt: Array) -> Hardened:
    """Structure and hardness after the last quench and its tempers, full hardening assumed.

    members : processes that all end in a quench, with cold and tempers or without
    carbon_wt : (M, n) total carbon at the quench [wt%]
    Returns `Hardened`.
    Raises NotPossible as `finish_of`, and for a process without a quench.
    Source: metallurgy as in `structure` and `hardness`; mixed by share in HV.
    """
    finishes = [finish_of(process) for process in members.processes]
    if any(finish.quench is None for finish in finishes):
        raise NotPossible("quench", "the work was not quenched", "Add a quench.")
    hot = phases_of(members, carbon_wt, quench_temperature_K(members))
    lowest_K = members.spread([finish.cold_K for finish in finishes])[:, None]
    factor = members.constants.retained_austenite_factor[:, None]
    stays = retained_share(hot.austenite_carbon_wt, members.composition, lowest_K, factor)
    retained, martensite = hot.austenite * stays, hot.austenite * (1.0 - stays)
    as_quenched = (
        martensite
        * martensite_vickers(hot.austenite_carbon_wt, members.constants.martensite_shift_HV[:, None])
        + retained * RETAINED_AUSTENITE_HV
        + hot.carbide * CARBIDE_HV
        + hot.ferrite * _soft_HV(members, hot, carbon_wt)
    )
    tempered = _tempered(members, finishes, as_quenched, hot.austenite_carbon_wt, martensite)
    return Hardened(
        hot.austenite_carbon_wt, retained, martensite, hot.ferrite, hot.carbide, as_quenched, tempered
    )


def _soft_HV(members: Members, hot: Hot, carbon_wt: Array) -> Array:
    """Return the hardness of what did not harden: ferrite of the heat, or the bar as it was."""
    as_it_was = ferrite_pearlite_vickers_maynier_1978(
        members.composition, carbon_wt, UNHARDENED_COOLING_K_PER_H
    )
    return np.where(hot.ferrite >= 1.0, as_it_was, FERRITE_HV)


def _tempered(
    members: Members, finishes: list[Finish], as_quenched: Array, carbon_wt: Array, martensite: Array
) -> Array:
    """Return the hardness after the tempers; nan where they are not modelled."""
    parameters = [
        0.0 if not finish.tempers else temper_parameter(finish.tempers) if finish.temper_modelled else np.nan
        for finish in finishes
    ]
    parameter = members.spread(parameters)[:, None]
    return tempered_vickers(as_quenched, carbon_wt, martensite, parameter)
