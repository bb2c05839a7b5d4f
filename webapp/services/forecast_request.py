"""From the JSON interface's input to the model's process."""

from __future__ import annotations

from typing import Final

import numpy as np

from model.errors import NotPossible
from model.process import (
    SLOW_COOL_K_PER_H,
    Carburize,
    Cold,
    EvenOut,
    HeldSurface,
    History,
    HotStep,
    PackSupply,
    PotentialSupply,
    Process,
    Quench,
    Reheat,
    Section,
    Shape,
    SlowCool,
    Step,
    Supply,
    Temper,
    slow_cool_history,
)
from model.steels import Steel, ac1_andrews_1965, ac3_andrews_1965, steel_of_composition, steel_of_grade
from model.units import MINUTE_s, MM_m, celsius_to_kelvin
from webapp.forms import forecast_input as given

PLAIN_HARDENING_OVER_AC3_K: Final = 40.0
"""Plain hardening without stages heats this far above Ac3 [K]; common practice, no source."""
PLAIN_HARDENING_S: Final = 20 * MINUTE_s


def process_of(wanted: given.ForecastInput) -> tuple[Process, list[str]]:
    """Return the process an input describes, and what had to be assumed to make it one."""
    steel = _steel(wanted.steel)
    assumed: list[str] = []
    hot: list[HotStep] = []
    for stage in wanted.stages:
        hot.append(_hot_step(stage, hot, assumed))
    if wanted.quench is not None and not hot:
        hot.append(_plain_hardening(steel, assumed))
    steps: list[Step] = [*hot, *_quench(wanted.quench)]
    steps += [Temper(celsius_to_kelvin(temper.temperature_C), temper.seconds) for temper in wanted.tempers]
    return Process(steel, _section(wanted.section), tuple(steps)), assumed


def _steel(wanted: given.GradeSteel | given.CompositionSteel) -> Steel:
    if isinstance(wanted, given.GradeSteel):
        return steel_of_grade(wanted.grade)
    return steel_of_composition(wanted.composition_wt)


def _section(wanted: given.PlateSection | given.RodSection | given.TubeSection) -> Section:
    if isinstance(wanted, given.PlateSection):
        return Section(Shape.PLATE, wanted.thickness_mm * MM_m)
    if isinstance(wanted, given.RodSection):
        return Section(Shape.ROD, wanted.diameter_mm * MM_m)
    return Section(Shape.TUBE, wanted.diameter_mm * MM_m, wanted.bore_mm * MM_m, wanted.bore_packed)


def _supply(wanted: given.MixSupply | given.AtmosphereSupply | given.SurfaceSupply) -> Supply:
    if isinstance(wanted, given.MixSupply):
        return PackSupply(carbonate_percent=wanted.carbonate_percent)
    if isinstance(wanted, given.AtmosphereSupply):
        return PotentialSupply(wanted.carbon_potential_wt, wanted.transfer_m_per_s)
    return HeldSurface(wanted.surface_carbon_wt)


def _hot_step(
    stage: given.CarburizeStage | given.DiffuseStage | given.SlowCoolStage | given.ReheatStage,
    before: list[HotStep],
    assumed: list[str],
) -> HotStep:
    if isinstance(stage, given.SlowCoolStage):
        return _slow_cool(stage, before, assumed)
    history = _history(stage)
    if isinstance(stage, given.CarburizeStage):
        return Carburize(history, _supply(stage.supply))
    return Reheat(history) if isinstance(stage, given.ReheatStage) else EvenOut(history)


def _history(stage: given.Timed) -> History:
    if stage.history is not None:
        first = stage.history[0][0]
        return History(
            tuple((minutes - first) * MINUTE_s for minutes, _ in stage.history),
            tuple(celsius_to_kelvin(celsius) for _, celsius in stage.history),
        )
    celsius: float = getattr(stage, "temperature_C", 0.0)  # held by the form: a stage has one or the other
    return History.hold(celsius_to_kelvin(celsius), stage.seconds)


def _slow_cool(stage: given.SlowCoolStage, before: list[HotStep], assumed: list[str]) -> SlowCool:
    """Return a slow cool from where the stage before ended."""
    if not before:
        raise NotPossible("stages[0]", "nothing is hot yet, so nothing can cool", "Begin with a soak.")
    start_K = before[-1].history.temperature_K[-1]
    if stage.rate_C_per_hour is not None:
        return SlowCool(slow_cool_history(start_K, stage.rate_C_per_hour))
    assumed.append(f"The closed box is taken to cool at {SLOW_COOL_K_PER_H:.0f} C an hour: common practice.")
    return SlowCool(slow_cool_history(start_K))


def _plain_hardening(steel: Steel, assumed: list[str]) -> Reheat:
    """Return the heat of a plain hardening for which no stage was given."""
    composition = steel.composition
    ac3_C = float(ac3_andrews_1965(np.array([composition.C]), composition)[0])
    kelvin = celsius_to_kelvin(max(ac3_C, ac1_andrews_1965(composition))) + PLAIN_HARDENING_OVER_AC3_K
    assumed.append(
        f"No stage was given, so the work is taken to be heated to {kelvin - 273.15:.0f} C for "
        f"{PLAIN_HARDENING_S / MINUTE_s:.0f} minutes before the quench."
    )
    return Reheat(History.hold(kelvin, PLAIN_HARDENING_S))


def _quench(wanted: given.QuenchInput | None) -> list[Step]:
    if wanted is None:
        return []
    bath_K = celsius_to_kelvin(wanted.bath_C)
    salt_percent = wanted.salt_percent or 0.0
    steps: list[Step] = [
        Quench(wanted.medium, bath_K, wanted.agitation, wanted.seconds_to_bath, salt_percent)
    ]
    if wanted.then_cold_C is not None:
        steps.append(Cold(celsius_to_kelvin(wanted.then_cold_C)))
    return steps
