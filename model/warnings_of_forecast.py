"""What a forecast warns of and what it takes for granted, in plain words.

Limits without a source beside them are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.course import Feeding, hot_steps, supply_of
from model.finish import Finish
from model.grain import austenite_grain_lee_2008, grain_number_e112
from model.hardening import Hardened
from model.members import Members
from model.pack import cementite_saturation_wt
from model.process import Carburize, EvenOut, HotStep, PackSupply, Process, Reheat, Shape
from model.profile import CarbonProfile
from model.traverse import CaseDepth
from model.units import celsius_to_kelvin, kelvin_to_celsius
from model.warned import Warned, middle
from model.warnings_of_quench import warnings_of_quench

Array = NDArray[np.float64]

LIVELY_FROM_C: Final = 825.0
"""Below this a plain charcoal pack hardly feeds [C]; the old books say nothing useful below 704 C."""
PLAIN_BELOW_PERCENT: Final = 5.0
"""A pack with less carbonate than this counts as plain charcoal [%]."""
RICH_SURFACE_WT: Final = 1.10
"""Upper end of what is advised for a case [wt%]: Colvin & Juthe, The Working of Steel (1921), seen."""
DEEPEST_SHARE: Final = 1.0 / 6.0
"""Total case over the thickness beyond which the core no longer carries; value from memory."""
COARSE_GRAIN_NUMBER: Final = 5.0
"""ASTM grain number below which steel counts as coarse; value from memory."""
LONG_SOAK_H: Final = 12.0
"""Soak beyond which gas and box cost more than another way [h]."""
HARDENS_BY_ITSELF_WT: Final = 0.35
"""Carbon from which a steel needs no case to harden [wt%]."""
FREE_CUTTING_SULPHUR_WT: Final = 0.08
"""Sulphur of a free-cutting grade [wt%]: SAE J403, lowest of the 11xx series, from memory."""


def warnings_of(
    members: Members,
    finish: Finish,
    profiles: list[CarbonProfile],
    hardened: Hardened | None,
    total_case: CaseDepth | None,
) -> tuple[Warned, ...]:
    """Return what is worth a warning in the forecast of one process.

    members : of one process; finish : what follows its last heat; profiles : after each hot step
    hardened : None if not quenched; total_case : depth of the total case
    """
    process = members.processes[0]
    found = [*_about_steel(process)]
    for place, (step, profile) in enumerate(zip(hot_steps(process), profiles, strict=True)):
        found += _about_step(members, place, step, profile)
    found += _about_times(process)
    if total_case is not None and profiles:
        found += _about_depth(process, total_case)
    if hardened is not None:
        found += warnings_of_quench(members, finish, hardened)
    elif finish.tempers:
        found.append(
            Warned("temper_without_quench", "temper", "A temper does nothing for work that was not quenched.")
        )
    return tuple(found)


def _about_steel(process: Process) -> Iterator[Warned]:
    steel = process.steel
    feeds = any(isinstance(step, Carburize) for step in process.steps)
    if feeds and steel.composition.C > HARDENS_BY_ITSELF_WT:
        text = (
            f"With {steel.composition.C:.2f} % carbon this steel hardens right through without a case; "
            "the core will not stay tough."
        )
        yield Warned("steel_needs_no_case", "steel", text)
    if steel.composition.S >= FREE_CUTTING_SULPHUR_WT:
        text = (
            "Free-cutting steel: sulphur makes a poor, dirty case, and a leaded grade gives off lead "
            "fume when hot. Use a plain grade where you can."
        )
        yield Warned("free_cutting_steel", "steel", text)


def _about_step(members: Members, place: int, step: HotStep, profile: CarbonProfile) -> Iterator[Warned]:
    """Warn of heat, feed and surface carbon of one hot step."""
    path = f"stages[{place}]"
    if isinstance(step, Reheat):
        yield from _about_reheat(step, path)
    if not isinstance(step, Carburize):
        return
    hottest_K = max(step.history.temperature_K)
    ac1_K = float(members.ac1_K[0])
    if hottest_K <= ac1_K:
        text = (
            "{hottest} is below the {ac1} at which this steel begins to take up carbon: there will be no "
            "case."
        )
        yield Warned("below_ac1", path, text, {"hottest": hottest_K, "ac1": ac1_K})
        return
    plain = isinstance(step.supply, PackSupply) and step.supply.carbonate_percent < PLAIN_BELOW_PERCENT
    if plain and kelvin_to_celsius(hottest_K) < LIVELY_FROM_C:
        text = (
            "The steel is ready for carbon at {hottest}, but plain charcoal hardly feeds below about "
            "{lively}: expect almost no case."
        )
        heats_K = {"hottest": hottest_K, "lively": celsius_to_kelvin(LIVELY_FROM_C)}
        yield Warned("almost_no_case", path, text, heats_K)
    if step.lag_share > 0.0 and middle(members.constants.lag_s) * step.lag_share > step.history.duration_s:
        text = "The box may take longer to warm through than this whole step lasts: most of it is warm-up."
        yield Warned("shorter_than_warm_up", path, text)
    yield from _about_richness(members, place, step, profile)


def _about_reheat(step: Reheat, path: str) -> Iterator[Warned]:
    if step.surface is not None:
        middle_wt, doubt_wt = step.surface.surface_carbon_wt, step.surface.doubt_wt
        text = (
            "Bare in a lean fire the skin loses carbon: it is taken to be left between "
            f"{middle_wt - doubt_wt:.2f} and {middle_wt + doubt_wt:.2f} % through the reheat, all as likely."
        )
        yield Warned("lost_carbon", path, text)
    elif step.bare:
        text = (
            "The work lay bare in the fire, and is taken to have kept its carbon: in a lean flame, or one "
            "that scales it, the skin loses some and stays soft."
        )
        yield Warned("bare_reheat", path, text)


def _about_richness(
    members: Members, place: int, step: Carburize, profile: CarbonProfile
) -> Iterator[Warned]:
    supply = supply_of(members.processes[0], place)
    hottest_K = (
        np.full(len(members.row), max(step.history.temperature_K)) + members.constants.temperature_bias_K
    )
    path = f"stages[{place}]"
    if supply is not None:
        feeding = Feeding(members, [supply])
        most_wt = cementite_saturation_wt(hottest_K) / np.where(feeding.held, members.alloy_factor, 1.0)
        if middle(feeding.pure_iron_wt(hottest_K) - most_wt) > 0.0:
            text = (
                f"The steel can dissolve no more than about {middle(most_wt):.2f} % carbon at this "
                "heat; more is not counted here, and in truth grows as a brittle carbide skin."
            )
            yield Warned("carbon_above_saturation", path, text)
    surface = middle(profile.surface_carbon_wt)
    if surface > RICH_SURFACE_WT:
        text = (
            f"About {surface:.2f} % carbon at the skin: more than the 0.9 to 1.1 that is advised. Free "
            "carbide makes edges chip; let it even out hot with a sealed surface, or soak cooler."
        )
        yield Warned("rich_surface", path, text)


def _about_times(process: Process) -> Iterator[Warned]:
    soaks = [(k, s) for k, s in enumerate(hot_steps(process)) if isinstance(s, Carburize | EvenOut)]
    if not soaks:
        return
    last = soaks[-1][0]
    hours = sum(step.history.duration_s for _, step in soaks) / 3600.0
    if hours > LONG_SOAK_H:
        text = (
            f"{hours:.0f} hours in the fire: depth grows only with the square root of time, so weigh "
            "the gas and the box against steel that hardens by itself."
        )
        yield Warned("long_soak", f"stages[{last}]", text)
    hottest_K = max(max(step.history.temperature_K) for _, step in soaks)
    if hottest_K < 1123.15:
        return  # outside the range of the grain formula, and no fear of it
    size_m = austenite_grain_lee_2008(min(hottest_K, 1473.15), hours * 3600.0, process.steel.composition)
    reheated = any(isinstance(step, Reheat) for step in process.steps)
    if grain_number_e112(size_m) < COARSE_GRAIN_NUMBER and not reheated:
        text = (
            f"The grain may grow to about {size_m * 1e6:.0f} micrometres (ASTM "
            f"{grain_number_e112(size_m):.1f}) and make core and case brittle; a reheat before the "
            "quench refines it. Steel killed with aluminium stays finer."
        )
        yield Warned("grain_growth", f"stages[{last}]", text)


def _about_depth(process: Process, total: CaseDepth) -> Iterator[Warned]:
    section = process.section
    wall = section.size_m - section.bore_m if section.shape is Shape.TUBE else section.size_m
    thickness = 0.5 * wall if section.shape is Shape.TUBE else wall
    if total.status == "whole_section" or float(total.whole_section.mean()) > 0.5:
        text = (
            "Carbon reaches right through the section: no soft core is left, and the part may snap "
            "like glass."
        )
        yield Warned("case_too_deep", "section", text)
    elif middle(total.depth_m) > DEEPEST_SHARE * thickness:
        share = middle(total.depth_m) / thickness
        text = (
            f"The case is {100.0 * share:.0f} % of the thickness a side; over about 17 % the core no "
            "longer carries and a bend goes to a crack. Soak for less, or use thicker stock."
        )
        yield Warned("case_too_deep", "section", text)
