"""What a forecast takes for granted, in plain words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from model.baths import bath_group
from model.box_course import FORGE_RAMP_S
from model.course import hot_steps
from model.finish import Finish
from model.process import (
    SLOW_COOL_K_PER_H,
    Carburize,
    EvenOut,
    HotStep,
    Process,
    Quench,
    Reheat,
    SlowCool,
)
from model.steels import ac3_andrews_1965
from model.units import celsius_to_kelvin, kelvin_to_fahrenheit


def assumptions_of(process: Process, finish: Finish) -> tuple[str, ...]:
    """Return what the forecast of a process takes for granted, in plain words."""
    return tuple(_assumptions(process, finish))


def _assumptions(process: Process, finish: Finish) -> Iterator[str]:
    steps = hot_steps(process)
    if steps:
        yield (
            "Carbon does not move below the temperature at which the steel turns (Ac1), and the work "
            "is even in temperature."
        )
    if any(isinstance(step, Carburize) for step in steps):
        yield (
            "A skin of solid carbide is not modelled: the surface takes up no more than the steel can "
            "dissolve."
        )
    if process.box is not None and any(isinstance(step, Carburize | SlowCool) for step in steps):
        yield (
            "How the box warms and cools is worked out from its size, wall, pack and work, in a forge that "
            f"is hot in {FORGE_RAMP_S / 60.0:.0f} minutes and falls by {SLOW_COOL_K_PER_H:.0f} C "
            f"({1.8 * SLOW_COOL_K_PER_H:.0f} F) an hour when shut; how well a bed of charcoal passes "
            "on heat is known within a factor of two."
        )
    if any(isinstance(step, EvenOut) or _is_sealed_reheat(step) for step in steps):
        yield (
            "Outside the pack the surface neither gains nor loses carbon; in truth scale and open "
            "flame take some."
        )
    if any(isinstance(step, SlowCool) for step in steps):
        yield "The pack goes on feeding while the box cools, until the steel turns."
    if finish.quench is None:
        yield "Not quenched: structure, hardness and the depths by hardness are left out."
        return
    yield from _quench_assumptions(process, finish.quench)
    yield from _temper_assumptions(finish)


def _is_sealed_reheat(step: HotStep) -> bool:
    return isinstance(step, Reheat) and step.surface is None


def _quench_assumptions(process: Process, quench: Quench) -> Iterator[str]:
    if bath_group(quench.medium) == "air":
        yield (
            "Cooled in air on all sides, with scale on it: a part that lies on steel or brick, or hangs "
            "among others, cools slower or unevenly."
        )
    else:
        yield (
            f"The bath is taken as {quench.agitation} in motion all round the part, its vapour film as on "
            "steel with scale or charcoal dust on it; how hard a bath bites is known within a factor of "
            "1.6 or so, and where a film of water breaks down within 150 C (270 F)."
        )
        if quench.litres is None or not quench.work_kg:
            yield "The bath is taken to stay as cold as it began: a small bucket warms."
    last_K = hot_steps(process)[-1].history.temperature_K[-1]
    composition = process.steel.composition
    ac3_C = float(ac3_andrews_1965(np.array([composition.C]), composition, long_form=True)[0])
    if last_K < celsius_to_kelvin(ac3_C):
        yield (
            f"The core is only part austenite below about {ac3_C:.0f} C "
            f"({kelvin_to_fahrenheit(celsius_to_kelvin(ac3_C)):.0f} F); its ferrite is taken by the "
            "lever rule in full balance."
        )
    yield (
        "Carbides dissolve as far as balance allows; hardness above 0.5 % carbon follows a curve set "
        "once on published specimens, give or take 30 HV."
    )


def _temper_assumptions(finish: Finish) -> Iterator[str]:
    if finish.tempers and not finish.temper_modelled:
        yield (
            "Tempers outside 100 to 320 C (212 to 608 F) are not modelled: tempered hardness and what "
            "follows from it are left out."
        )
    elif finish.tempers:
        yield "The temper softens martensite only, give or take 1 HRC; retained austenite is left as it is."
    else:
        yield "Not tempered: surface, core and depths are those of the work as quenched."
