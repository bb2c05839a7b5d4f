"""Which readings a fit may use in this release, and in plain words why not the others."""

from __future__ import annotations

from math import isfinite
from typing import Final

from model.baths import MEDIA
from model.bend_reading import ANGLES_deg
from model.finish import tempers_after_quench
from model.hardness import TEMPER_RANGE_K
from model.hardness_scales import SCALES
from model.process import Carburize, Process, Quench, Reheat
from model.readings import (
    BendReading,
    DepthReading,
    FilesReading,
    HardnessReading,
    NoHardSkin,
    Observation,
    SparkReading,
    TraverseReading,
)
from model.steels import Composition

DEEPEST_CASE_M: Final = 10.0e-3
# Alloy steels come out too soft of the temper's law from about 250 C (`hardness.temper_loss_rockwell`).
ALLOY_TEMPER_K: Final = 523.15
PLAIN_STEEL_PERCENT: Final = 0.5  # Cr, Mo, V and Ni that a plain carbon steel may hold as tramps; practice

HardReading = HardnessReading | FilesReading | DepthReading | NoHardSkin | TraverseReading | BendReading


def why_not_used(observation: Observation) -> str | None:
    """Return in plain words why a reading is set aside, or None when the fit uses it.

    observation : a reading of a process
    Returns None, or the end of the sentence "set aside because ...".
    """
    reading = observation.reading
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
        or _why_not_this_moment(observation.process, reading)
        or _why_not_this_value(reading)
    )


def why_not_learnt(observation: Observation) -> str | None:
    """Return in plain words why a reading that can be foretold teaches nothing, or None when it does.

    observation : a reading of a process
    Returns None, or the end of the sentence "set aside because ...".
    """
    reheats = [step for step in observation.process.steps if isinstance(step, Reheat)]
    if any(step.surface is not None for step in reheats):
        return (
            "it was reheated bare in a lean flame, and what that took from its skin is not known well enough"
        )
    return None


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


def _why_not_this_moment(process: Process, reading: HardReading) -> str | None:
    if reading.after == "slow_cool":
        return "it was read after the slow cool, before anything was hard"
    by_eye = isinstance(reading, NoHardSkin) or (
        isinstance(reading, DepthReading) and reading.how in ("break", "etch")
    )
    return _why_not_this_temper(process) if reading.after == "temper" and not by_eye else None


def _why_not_this_temper(process: Process) -> str | None:
    """Return why what the tempers took off is not known well enough to say anything of an oven."""
    tempers = tempers_after_quench(process)
    low_K, high_K = TEMPER_RANGE_K
    if not tempers:
        return "it was read after a temper that has not been noted"
    if not all(low_K <= temper.temperature_K <= high_K for temper in tempers):
        return (
            "what a temper takes off is worked out from 100 to 320 °C (212 to 608 °F) only, "
            "and this one was outside it"
        )
    hottest_K = max(temper.temperature_K for temper in tempers)
    if hottest_K > ALLOY_TEMPER_K and _alloy_percent(process.steel.composition) > PLAIN_STEEL_PERCENT:
        return (
            "its steel is alloyed, and above 250 °C (482 °F) such a steel keeps more hardness "
            "than is worked out here"
        )
    return None


def _alloy_percent(composition: Composition) -> float:
    """Return what a steel holds of the elements that make it keep its hardness in a hot temper [%]."""
    return composition.Cr + composition.Mo + composition.Ni + composition.V


def _why_not_this_value(reading: HardReading) -> str | None:
    if isinstance(reading, HardnessReading):
        low, high = SCALES[reading.scale].low, SCALES[reading.scale].high
        if not low <= reading.value <= high:
            return f"{reading.value:g} lies outside the {reading.scale} scale ({low:g} to {high:g})"
    if isinstance(reading, FilesReading):
        return _why_not_these_files(reading)
    if isinstance(reading, BendReading) and not ANGLES_deg[0] <= reading.angle_deg <= ANGLES_deg[1]:
        return "a bend teaches by its angle, and none from 1 to 180 degrees is noted"
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
    low, high = SCALES["HV"].low, SCALES["HV"].high
    if not reading.depth_m or len(reading.depth_m) != len(reading.hardness_HV):
        return "its depths and hardnesses do not pair up"
    if not all(isfinite(depth) and 0.0 <= depth <= DEEPEST_CASE_M for depth in reading.depth_m):
        return "one of its depths is not possible here; look at the unit"
    if not all(low <= value <= high for value in reading.hardness_HV):
        return f"one of its hardnesses lies outside {low:g} to {high:g} HV"
    return None
