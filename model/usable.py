"""Which readings a fit may use in this release, and in plain words why not the others."""

from __future__ import annotations

from math import isfinite
from typing import Final

from model.baths import MEDIA
from model.process import Carburize, Process, Quench
from model.readings import (
    SCALE_RANGES,
    BendReading,
    DepthReading,
    FilesReading,
    HardnessReading,
    NoHardSkin,
    Observation,
    SparkReading,
    TraverseReading,
)

DEEPEST_CASE_M: Final = 10.0e-3

HardReading = HardnessReading | FilesReading | DepthReading | NoHardSkin | TraverseReading


def why_not_used(observation: Observation) -> str | None:
    """Return in plain words why a reading is set aside, or None when the fit uses it.

    observation : a reading of a process
    Returns None, or the end of the sentence "set aside because ...".
    """
    reading = observation.reading
    if isinstance(reading, BendReading):
        return "how a coupon bends is not worked out yet; it is kept for a later release"
    if isinstance(reading, SparkReading):
        return (
            None
            if reading.of_bare_bar
            else (
                "sparks off a carburized skin only say that some carbon went in; "
                "sparks off the bare bar are used"
            )
        )
    return (
        _why_not_this_process(observation.process)
        or _why_not_this_moment(reading)
        or _why_not_this_value(reading)
    )


def _why_not_this_process(process: Process) -> str | None:
    quenches = [step for step in process.steps if isinstance(step, Quench)]
    if not process.keys.fire:
        return "it is not said which fire it came from"
    if not any(isinstance(step, Carburize) for step in process.steps):
        return "the coupon was never in the pack"
    if not quenches:
        return "it was not quenched, so that neither hardness nor a break shows the case"
    if quenches[-1].medium not in MEDIA:
        return f"{quenches[-1].medium[:20]} is not a bath that is worked out here"
    return None


def _why_not_this_moment(reading: HardReading) -> str | None:
    if reading.after == "slow_cool":
        return "it was read after the slow cool, before anything was hard"
    by_eye = isinstance(reading, NoHardSkin) or (
        isinstance(reading, DepthReading) and reading.how in ("break", "etch")
    )
    if reading.after == "temper" and not by_eye:
        return "how much a temper takes off is not learnt yet; hardness is used as quenched"
    return None


def _why_not_this_value(reading: HardReading) -> str | None:
    if isinstance(reading, HardnessReading):
        low, high = SCALE_RANGES[reading.scale]
        if not low <= reading.value <= high:
            return f"{reading.value:g} lies outside the {reading.scale} scale ({low:g} to {high:g})"
    if isinstance(reading, FilesReading):
        return _why_not_these_files(reading)
    if isinstance(reading, DepthReading) and not 0.0 <= reading.value_m <= DEEPEST_CASE_M:
        return "a case of that depth is not possible here; look at the unit"
    if isinstance(reading, NoHardSkin) and not 0.0 < reading.limit_m <= DEEPEST_CASE_M:
        return "a case of that depth is not possible here; look at the unit"
    return _why_not_this_traverse(reading) if isinstance(reading, TraverseReading) else None


def _why_not_these_files(reading: FilesReading) -> str | None:
    if reading.low_HRC is None and reading.high_HRC is None:
        return "no file is named"
    if reading.low_HRC is not None and reading.high_HRC is not None and reading.low_HRC >= reading.high_HRC:
        return "the file that skates is harder than the file that cuts"
    return None


def _why_not_this_traverse(reading: TraverseReading) -> str | None:
    low, high = SCALE_RANGES["HV"]
    if not reading.depth_m or len(reading.depth_m) != len(reading.hardness_HV):
        return "its depths and hardnesses do not pair up"
    if not all(isfinite(depth) and 0.0 <= depth <= DEEPEST_CASE_M for depth in reading.depth_m):
        return "one of its depths is not possible here; look at the unit"
    if not all(low <= value <= high for value in reading.hardness_HV):
        return f"one of its hardnesses lies outside {low:g} to {high:g} HV"
    return None
