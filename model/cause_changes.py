"""Ways in which a coupon may have gone otherwise than told, as changes of its process or of its readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np

from model.baths import bath_group
from model.course import HOT_STEPS, hot_steps
from model.inputs import LOCAL_INPUTS
from model.process import Carburize, HeldSurface, History, Process, Quench, Reheat, Step, Temper
from model.readings import DepthReading, FilesReading, HardnessReading, NoHardSkin, TraverseReading
from model.sight import Reading
from model.tables import read_table
from model.units import celsius_to_kelvin

UNMEANT_TEMPER_S: Final = 3600.0
LEAST_BAR_CARBON_WT: Final = 0.02

TEMPERATURE: Final = LOCAL_INPUTS.index("temperature_K")

Change = Callable[[Process, float], Process | None]


@dataclass(frozen=True)
class Way:
    """One row of `data/causes.csv`: one way in which a cause comes about."""

    name: str
    cause: str
    shows: tuple[str, ...]
    baths: tuple[str, ...]
    readings: str
    changes: tuple[tuple[str, float, float], ...]
    levels: int
    odds: float
    source: str


@dataclass(frozen=True)
class Version:
    """One way at one level: what of the process, of its local inputs or of its readings is other than told.

    steps : changes of the process with their amounts, in order
    shifts : (local inputs,) added to the constants' local inputs
    tester, tester_sds : a tester that is off, by so many sds of one in good order
    depth_share : share by which an eye misread a depth
    thin_case_doubts : how far a Rockwell reading sinks on a thin case, in doubts of its own estimate
    """

    steps: tuple[tuple[str, float], ...] = ()
    shifts: tuple[float, ...] = (0.0,) * len(LOCAL_INPUTS)
    tester: str = ""
    tester_sds: float = 0.0
    depth_share: float = 0.0
    thin_case_doubts: float = 0.0

    def of(self, process: Process) -> Process | None:
        """Return the process as it then went, None where that cannot have happened to it."""
        changed: Process | None = process
        for name, amount in self.steps:
            changed = STEP_CHANGES[name](changed, amount) if changed is not None else None
        return changed

    @property
    def softens_after(self) -> bool:
        """True where heat after the quench, of which nobody told, softened the work."""
        return any(name == "temper_C" for name, _ in self.steps)


AS_TOLD: Final = Version()


@cache
def ways() -> tuple[Way, ...]:
    """Return every way of the table, in its order."""
    return tuple(
        Way(
            name=row["way"],
            cause=row["cause"],
            shows=tuple(row["shows"].split()),
            baths=tuple(row["baths"].split()),
            readings=row["readings"],
            changes=tuple(
                (name, float(low), float(high))
                for name, low, high in zip(
                    row["change"].split(), row["low"].split(), row["high"].split(), strict=True
                )
            ),
            levels=int(row["levels"]),
            odds=float(row["odds"]),
            source=row["source"],
        )
        for row in read_table("causes.csv")
    )


def versions_of(way: Way, process: Process, readings: Sequence[Reading]) -> tuple[Version, ...]:
    """Return a way at each of its levels, none where it cannot have happened to this piece.

    way : a row of the table; process : what was done to the piece; readings : all that were read off it
    """
    if not _in_bath(way, process) or not any(SORTS[way.readings](reading) for reading in readings):
        return ()
    testers = dict.fromkeys(reading.tester[0] for reading in readings if reading.tester[0])
    places = (np.arange(way.levels) + 0.5) / way.levels
    found = (
        version_at(way, float(place), tester)
        for tester in (testers if way.cause == "tester_off" else [""])
        for place in places
    )
    return tuple(version for version in found if version.of(process) is not None)


def version_at(way: Way, place: float, tester: str) -> Version:
    """Return a way at one place of its range, 0 to 1; several changes move together."""
    shifts, steps = [0.0] * len(LOCAL_INPUTS), []
    of_readings: dict[str, float] = {}
    for name, low, high in way.changes:
        amount = low + place * (high - low)
        if name in LOCAL_INPUTS:
            shifts[LOCAL_INPUTS.index(name)] = amount
        elif name in STEP_CHANGES:
            steps.append((name, amount))
            shifts[TEMPERATURE] += amount if name == "reheat_K" else 0.0
        else:
            of_readings[name] = amount
    return Version(tuple(steps), tuple(shifts), tester, **of_readings)


def _in_bath(way: Way, process: Process) -> bool:
    if way.baths == ("any",):
        return True
    quench = last_quench(process)
    return quench is not None and (quench.medium in way.baths or bath_group(quench.medium) in way.baths)


def last_quench(process: Process) -> Quench | None:
    """Return the last quench of a process, if there is one."""
    return next((step for step in reversed(process.steps) if isinstance(step, Quench)), None)


def is_by_eye(reading: Reading) -> bool:
    """Tell whether a depth was seen rather than measured by hardness."""
    return isinstance(reading, NoHardSkin) or (
        isinstance(reading, DepthReading) and reading.how in ("break", "etch")
    )


def is_rockwell(reading: Reading) -> bool:
    """Tell whether a cone was pressed through the case."""
    return isinstance(reading, HardnessReading) and reading.scale != "HV"


def _is_of_hardness(reading: Reading) -> bool:
    deep = isinstance(reading, DepthReading) and not is_by_eye(reading)
    return deep or isinstance(reading, HardnessReading | FilesReading | TraverseReading)


SORTS: Final[Mapping[str, Callable[[Reading], bool]]] = {
    "any": lambda _: True,
    "hardness": _is_of_hardness,
    "rockwell": is_rockwell,
    "depth": lambda reading: isinstance(reading, DepthReading) and is_by_eye(reading),
    "tempered": lambda reading: _is_of_hardness(reading) and bool(getattr(reading, "after", "") == "temper"),
}


def _last(process: Process, kind: type[Step]) -> int | None:
    """Return the place of the last step of a kind."""
    places = [place for place, step in enumerate(process.steps) if isinstance(step, kind)]
    return places[-1] if places else None


def _with(process: Process, place: int, step: Step) -> Process:
    return replace(process, steps=(*process.steps[:place], step, *process.steps[place + 1 :]))


def _slower_to_bath(process: Process, seconds: float) -> Process | None:
    quench, place = last_quench(process), _last(process, Quench)
    if quench is None or place is None:
        return None
    return _with(process, place, replace(quench, seconds_to_bath=quench.seconds_to_bath + seconds))


def _warmer_bath(process: Process, kelvin: float) -> Process | None:
    quench, place = last_quench(process), _last(process, Quench)
    if quench is None or place is None:
        return None
    return _with(process, place, replace(quench, bath_K=min(quench.bath_K + kelvin, 363.15)))


def _last_reheat(process: Process) -> tuple[int, Reheat] | None:
    """Return the reheat that the quench came from; None where it was quenched from the soak."""
    hot = hot_steps(process)
    place = _last(process, Reheat)
    if place is None or not isinstance(hot[-1], Reheat):
        return None
    return place, hot[-1]


def _other_reheat(process: Process, kelvin: float) -> Process | None:
    """Change the last reheat alone: `Version.shifts` moves all heats, so the others are written back.

    So the record of the last heat stays, and with it the table of coolings that belongs to it.
    """
    found = _last_reheat(process)
    if found is None:
        return None
    steps = tuple(
        replace(step, history=_hotter(step.history, -kelvin))
        if isinstance(step, HOT_STEPS) and place != found[0]
        else step
        for place, step in enumerate(process.steps)
    )
    return replace(process, steps=steps)


def _hotter(history: History, kelvin: float) -> History:
    return History(history.seconds, tuple(heat + kelvin for heat in history.temperature_K))


def _bare_reheat(process: Process, surface_wt: float) -> Process | None:
    found = _last_reheat(process)
    if found is None:
        return None
    return _with(process, found[0], replace(found[1], surface=HeldSurface(surface_wt)))


def _other_soak(process: Process, share: float) -> Process | None:
    place = next((at for at, step in enumerate(process.steps) if isinstance(step, Carburize)), None)
    if place is None:
        return None
    soak = process.steps[place]
    assert isinstance(soak, Carburize)
    seconds = tuple(second * (1.0 + share) for second in soak.history.seconds)
    return _with(process, place, replace(soak, history=History(seconds, soak.history.temperature_K)))


def _unmeant_temper(process: Process, temperature_C: float) -> Process | None:
    if _last(process, Temper) is not None or last_quench(process) is None:
        return None
    temper = Temper(celsius_to_kelvin(temperature_C), UNMEANT_TEMPER_S)
    return replace(process, steps=(*process.steps, temper))


def _other_bar(process: Process, carbon_wt: float) -> Process | None:
    steel = process.steel
    carbon, low, high = (
        max(value + carbon_wt, LEAST_BAR_CARBON_WT)
        for value in (steel.composition.C, steel.carbon_low_wt, steel.carbon_high_wt)
    )
    other = replace(
        steel, composition=replace(steel.composition, C=carbon), carbon_low_wt=low, carbon_high_wt=high
    )
    return replace(process, steel=other)


def bare_in_lean_fire(history: History) -> Reheat:
    """Return a reheat of bare work in a fire that takes carbon: the skin held at any of what it may leave.

    history : of the reheat
    Source: the way `bare_reheat` of `data/causes.csv`, a bounded estimate of our own.
    """
    way = next(way for way in ways() if way.name == "bare_reheat")
    low_wt, high_wt = next((low, high) for name, low, high in way.changes if name == "surface_wt")
    return Reheat(history, HeldSurface(0.5 * (low_wt + high_wt), 0.5 * (high_wt - low_wt)), bare=True)


STEP_CHANGES: Final[Mapping[str, Change]] = {
    "seconds_to_bath": _slower_to_bath,
    "bath_K": _warmer_bath,
    "reheat_K": _other_reheat,
    "surface_wt": _bare_reheat,
    "soak_share": _other_soak,
    "temper_C": _unmeant_temper,
    "bar_carbon_wt": _other_bar,
}
