"""One piece of steel from cold to measured: carbon, structure, hardness and case depth over draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.assumptions_of_forecast import assumptions_of
from model.belief import Constants
from model.course import HOT_STEPS, StepCarbon, grid_of, hot_steps, start_carbon
from model.finish import finish_of
from model.hardening import Hardened, phases_of, quench_temperature_K
from model.heat_course import fire_times
from model.members import Members
from model.process import Carburize, Process, SlowCool
from model.profile import CarbonProfile
from model.stages import AFRESH, Stages
from model.traverse import (
    CORE_RISE_HV,
    ISO_18203_LIMIT_HV,
    TOTAL_CASE_RISE_WT,
    US_LIMIT_HV,
    CaseDepth,
    depth_of_fall,
    rockwell_c_reading,
)
from model.warned import Warned
from model.warnings_of_forecast import warnings_of
from model.warnings_of_quench import warnings_of_reading

Array = NDArray[np.float64]


@dataclass(frozen=True)
class StepState:
    """Carbon after one hot step.

    step : the step's place in the process; kind : its class's name
    carbon_wt : (draws, n) total carbon [wt%]
    gained_kg_per_m2 : (draws,) net carbon through the fed faces so far [kg/m2]
    warmed_kg_per_m2 : (draws,) the same at the end of the way up to a soak, None where it is not worked out
    in_fire_s, at_heat_s : (draws,) of a soak: the box in the fire, the work at heat [s]; None of other steps
    """

    step: int
    kind: str
    carbon_wt: Array
    gained_kg_per_m2: Array
    warmed_kg_per_m2: Array | None = None
    in_fire_s: Array | None = None
    at_heat_s: Array | None = None


@dataclass(frozen=True)
class Forecast:
    """What a process makes of a piece of steel; arrays over draws, None for what is not modelled.

    depth_m : (n,) from the outer face, 0 included, to the middle or the bore [m]
    carbon_wt : (draws, n) total carbon at the end [wt%]
    base_carbon_wt : (draws,) the bar's own [wt%]
    carbon_in_austenite_wt : (draws, n) dissolved at the last heat [wt%]; None after a slow cool
    hardened : structure and hardness, arrays (draws, n); None if not quenched
    case_depth : `HV550`, `HRC50`, `core50` (after temper; the last 50 HV above the core), `total`, `rim`;
        None where it cannot be said
    reading_HRC, reading_sd_HRC : (draws,) what a Rockwell C test shows on the face, and its doubt
    carbon_gain_kg_per_m2 : (draws,) net, per fed area [kg/m2]
    states : carbon after each hot step, in order
    warnings, assumptions : in plain words
    """

    depth_m: Array
    carbon_wt: Array
    base_carbon_wt: Array
    carbon_in_austenite_wt: Array | None
    hardened: Hardened | None
    tempered: bool
    case_depth: Mapping[str, CaseDepth | None]
    reading_HRC: Array | None
    reading_sd_HRC: Array | None
    carbon_gain_kg_per_m2: Array
    states: tuple[StepState, ...]
    warnings: tuple[Warned, ...]
    assumptions: tuple[str, ...]
    core_at: int

    @property
    def hardness_as_quenched_HV(self) -> Array | None:
        """Hardness after the quench, (draws, n) [HV]."""
        return None if self.hardened is None else self.hardened.as_quenched_HV

    @property
    def hardness_tempered_HV(self) -> Array | None:
        """Hardness after the tempers, (draws, n) [HV]; None without a temper that is modelled."""
        return self.hardness_HV if self.tempered else None

    @property
    def hardness_HV(self) -> Array | None:
        """Final hardness, (draws, n) [HV]: tempered if there is a temper, else as quenched."""
        return None if self.hardened is None else _known(self.hardened.tempered_HV)

    @property
    def surface_HV(self) -> Array | None:
        """Final hardness of the true skin, (draws,) [HV]."""
        return None if self.hardness_HV is None else self.hardness_HV[:, 0]

    @property
    def core_HV(self) -> Array | None:
        """Final hardness of the core, (draws,) [HV]."""
        return None if self.hardness_HV is None else self.hardness_HV[:, self.core_at]


def forecast(process: Process, constants: Constants, stages: Stages = AFRESH) -> Forecast:
    """Forecast one process over all draws of its constants, as one array solve.

    process : the steel, the section and the steps
    constants : the shop's constants, fields of shape (draws,) or (1,)
    stages : where carbon and quench come from, which may have been kept
    Returns the forecast.
    Raises NotPossible for steps that contradict each other, OutOfRange for numbers outside the equations.
    Source: the modules it calls.
    """
    finish = finish_of(process)
    members = Members.of([process], [constants])
    steps = stages.carbon(members) if hot_steps(process) else []
    profiles = [step.end for step in steps]
    depth_m, carbon_wt = _final_carbon(members, profiles)
    hardened = stages.harden(members, depth_m[None], carbon_wt) if finish.quench else None
    final_HV = None if hardened is None else _known(hardened.tempered_HV)
    reading, doubt = (None, None) if final_HV is None else rockwell_c_reading(depth_m, final_HV)
    core_at = _core_at(process, depth_m)
    depths = _case_depths(members, depth_m, carbon_wt, final_HV, core_at)
    gains = profiles[-1].gained_kg_per_m2 if profiles else np.zeros(len(members.row))
    reads_low = () if reading is None or final_HV is None else warnings_of_reading(reading, final_HV[:, 0])
    return Forecast(
        depth_m=depth_m,
        carbon_wt=carbon_wt,
        base_carbon_wt=members.base_carbon_wt,
        carbon_in_austenite_wt=_dissolved(members, carbon_wt, hardened),
        hardened=hardened,
        tempered=finish.temper_modelled and hardened is not None,
        case_depth=depths,
        reading_HRC=reading,
        reading_sd_HRC=doubt,
        carbon_gain_kg_per_m2=gains,
        states=_states(members, steps),
        warnings=(*warnings_of(members, finish, profiles, hardened, depths["total"]), *reads_low),
        assumptions=assumptions_of(process, finish),
        core_at=core_at,
    )


def _known(values: Array) -> Array | None:
    """Return None for what the model left out as nan."""
    return None if np.isnan(values).any() else values


def _final_carbon(members: Members, profiles: list[CarbonProfile]) -> tuple[Array, Array]:
    """Return the depths with both faces, (n,), and the carbon there at the end, (draws, n)."""
    if profiles:
        depth, carbon = profiles[-1].nodes()
        return depth[0], carbon
    grid = grid_of(members)
    depth = np.concatenate([grid.faces_m[0, :1], grid.centres_m[0], grid.faces_m[0, -1:]])
    start = start_carbon(members, grid)
    even = start.ndim == 1
    inner = np.repeat(start[:, None], len(depth) - 2, axis=1) if even else start
    return depth, np.concatenate([inner[:, :1], inner, inner[:, -1:]], axis=1)


def _dissolved(members: Members, carbon_wt: Array, hardened: Hardened | None) -> Array | None:
    """Return the carbon in the austenite of the last heat; None where the work had no austenite left."""
    if hardened is not None:
        return hardened.carbon_in_austenite_wt
    steps = hot_steps(members.processes[0])
    if not steps or isinstance(steps[-1], SlowCool):
        return None
    hot = phases_of(members, carbon_wt, quench_temperature_K(members))
    return hot.austenite_carbon_wt


def _case_depths(
    members: Members, depth_m: Array, carbon_wt: Array, final_HV: Array | None, core_at: int
) -> dict[str, CaseDepth | None]:
    """Return the case depth by each definition."""
    depths: dict[str, CaseDepth | None] = dict.fromkeys(("HV550", "HRC50", "core50"))
    if final_HV is not None:
        depths["HV550"] = depth_of_fall(depth_m, final_HV, ISO_18203_LIMIT_HV)
        depths["HRC50"] = depth_of_fall(depth_m, final_HV, US_LIMIT_HV)
        depths["core50"] = depth_of_fall(depth_m, final_HV, final_HV[:, core_at] + CORE_RISE_HV)
    total_wt = members.base_carbon_wt + TOTAL_CASE_RISE_WT
    depths["total"] = depth_of_fall(depth_m, carbon_wt, total_wt)
    depths["rim"] = depth_of_fall(depth_m, carbon_wt, members.constants.rim_carbon_wt)
    return depths


def _core_at(process: Process, depth_m: Array) -> int:
    """Return the index of the core: the middle, or mid-wall in a tube."""
    core_m = 0.5 * depth_m[-1] if process.section.bore_packed else depth_m[-1]
    return int(np.abs(depth_m - core_m).argmin())


def _states(members: Members, steps: list[StepCarbon]) -> tuple[StepState, ...]:
    """Return the carbon after each hot step."""
    process = members.processes[0]
    places = [place for place, step in enumerate(process.steps) if isinstance(step, HOT_STEPS)]
    return tuple(_state(members, place, found) for place, found in zip(places, steps, strict=True))


def _state(members: Members, place: int, found: StepCarbon) -> StepState:
    step = members.processes[0].steps[place]
    times = fire_times(members, [step]) if isinstance(step, Carburize) else (None, None)
    return StepState(
        step=place,
        kind=type(step).__name__,
        carbon_wt=found.end.nodes()[1],
        gained_kg_per_m2=found.end.gained_kg_per_m2,
        warmed_kg_per_m2=found.warmed.gained_kg_per_m2 if found.warmed else None,
        in_fire_s=times[0],
        at_heat_s=times[1],
    )
