"""Soaks, baths, tempers and ways to the quench tried beside one another against what is wanted of a part.

Every choice is judged on the same draws, so that the odds of one can be held against those of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants, ShopBelief
from model.bending import bend
from model.bending_constants import BendingConstants, bending_constants
from model.conversion import rockwell_c_continued
from model.hardening import Hardened, harden_quickly
from model.hardness import temper_parameter, tempered_vickers, true_temper_K
from model.look import CELLS, TOLERANCE_wt
from model.members import Members
from model.planner import depth_of
from model.process import Process, Quench, Temper
from model.sight import Seen
from model.stages import AFRESH, Stages
from model.thinned import filled_in, thinned
from model.traverse import interpolate_rows
from model.usual_heats import at_usual_heats
from model.wants import LIKELY, NEAR_BEST, Blow, Met, Tried, Wants, met_of

Array = NDArray[np.float64]

WANTS_DRAWS: Final = 32
"""Draws on which choices are compared; an odds is good to about one in ten, as it is said."""


@dataclass(frozen=True)
class Quenched:
    """One route as quenched, over draws: carbon at all depths, (1 or draws, n), structure at some of them.

    seed : of the draws
    """

    process: Process
    constants: Constants
    base_carbon_wt: Array
    depth_m: Array
    carbon_wt: Array
    some_m: Array
    hardened: Hardened
    seed: int


@dataclass(frozen=True)
class _Finished:
    """One choice as finished, over draws: case and skin after grinding, hardness through the section."""

    route: int
    temper: int
    case_m: Array
    skin_HRC: Array
    final_HV: Array


def quench_choices(
    routes: Sequence[Process],
    belief: ShopBelief,
    draws: int = WANTS_DRAWS,
    seed: int = 0,
    stages: Stages = AFRESH,
) -> tuple[Quenched, ...]:
    """Quench every route, each on the same draws.

    routes : of one part, each from the soak to a quench and a temper; belief : of the shop
    draws : 8 or more; seed : any integer; stages : where their carbon comes from, which may have been kept
    Returns the routes as quenched, in order.
    Raises NotPossible, OutOfRange as `carbon_states` and `harden_quickly`.
    Source: `harden_quickly`; the carbon of routes that differ in their bath only is solved once.
    """
    constants = [belief.constants(route, draws, seed) for route in routes]
    kinds = [route.kinds for route in routes]
    found: dict[int, Quenched] = {}
    for kind in dict.fromkeys(kinds):
        places = [place for place, own in enumerate(kinds) if own == kind]
        ways, drawn = [routes[place] for place in places], [constants[place] for place in places]
        found.update(zip(places, _quench(ways, drawn, seed, stages), strict=True))
    return tuple(found[place] for place in range(len(routes)))


def try_choices(wants: Wants, quenched: Sequence[Quenched], tempers: Sequence[Temper]) -> tuple[Tried, ...]:
    """Try every quenched route with every temper.

    wants : what is wanted; quenched : from `quench_choices`; tempers : each in place of a route's own
    Returns the choices that come near the depth or the hardness at least, routes first.
    Source: `bend`.
    """
    finished = [
        _finish(wants, skin, temper, place, at)
        for place, skin in enumerate(quenched)
        for at, temper in enumerate(tempers)
    ]
    met = [met_of(wants, one.case_m, one.skin_HRC, None) for one in finished]
    near = _near(wants, met)
    left = [one for one, is_near in zip(finished, near, strict=True) if is_near]
    if wants.blow is None or not left:
        kept = [one for one, is_near in zip(met, near, strict=True) if is_near]
        return tuple(Tried(one.route, one.temper, own) for one, own in zip(left, kept, strict=True))
    final_deg = _break(wants, wants.blow, left, quenched[0])
    return tuple(
        Tried(one.route, one.temper, met_of(wants, one.case_m, one.skin_HRC, angles))
        for one, angles in zip(left, final_deg, strict=True)
    )


def _near(wants: Wants, met: Sequence[Met]) -> list[bool]:
    """Return which choices are worth bending: those that come near the depth, or near a wanted hardness."""
    least_depth = NEAR_BEST**2 * min(LIKELY, max(one.depth for one in met))
    least_hardness = NEAR_BEST * LIKELY if wants.hardness_HRC is not None else np.inf
    return [one.depth >= max(least_depth, 1e-9) or one.hardness >= least_hardness for one in met]


def _quench(routes: list[Process], constants: list[Constants], seed: int, stages: Stages) -> list[Quenched]:
    """Quench routes of one kind, the carbon of each course solved once."""
    depth_m, carbon_wt = _carbon(routes, constants, stages)
    members = at_usual_heats(routes, constants)
    some_m = thinned(depth_m)
    hardened = harden_quickly(members, some_m, thinned(carbon_wt))
    made = []
    for place, route in enumerate(routes):
        rows = members.rows_of(place)
        part = Hardened(**{name: values[rows] for name, values in vars(hardened).items()})
        base_wt = members.base_carbon_wt[rows]
        own = (constants[place], base_wt, depth_m[0], carbon_wt[rows], some_m[0], part)
        made.append(Quenched(route, *own, seed))
    return made


def _carbon(routes: list[Process], constants: list[Constants], stages: Stages) -> tuple[Array, Array]:
    """Return the depths, (1, n), and the carbon of all routes before their quench, (M, n)."""
    courses = [_before_quench(route) for route in routes]
    firsts = {course: courses.index(course) for course in courses}
    solved = Members.of(list(firsts), [constants[place] for place in firsts.values()])
    depth_m, carbon_wt = stages.carbon(solved, CELLS, TOLERANCE_wt)[-1].end.nodes()
    own = {course: carbon_wt[solved.rows_of(place)] for place, course in enumerate(firsts)}
    return depth_m[:1], np.concatenate([own[course] for course in courses])


def _before_quench(route: Process) -> Process:
    """Return what a route's carbon hangs on."""
    steps = takewhile(lambda step: not isinstance(step, Quench), route.steps)
    return replace(route, steps=tuple(steps), keys=replace(route.keys, bath="", oven=""))


def _finish(wants: Wants, skin: Quenched, temper: Temper, route: int, at: int) -> _Finished:
    """Return a route after one of the tempers."""
    hardened = skin.hardened
    true_K = true_temper_K(temper.temperature_K, skin.constants.oven_offset_K)
    parameter = temper_parameter([(true_K, temper.seconds)])[:, None]
    final_HV = tempered_vickers(
        hardened.as_quenched_HV,
        hardened.carbon_left_wt,
        hardened.martensite,
        parameter,
        skin.constants.temper_loss_factor[:, None],
    )
    face_m = np.full((len(final_HV), 1), wants.goal.grinding_allowance_m)
    face_HV = interpolate_rows(face_m, skin.some_m, final_HV)[:, 0]
    case_m = depth_of(wants.goal, _seen(skin, final_HV))
    return _Finished(route, at, case_m, rockwell_c_continued(face_HV), final_HV)


def _seen(skin: Quenched, final_HV: Array) -> Seen:
    """Return what the planner reads a depth from."""
    final = filled_in(final_HV, skin.carbon_wt.shape[1])
    rim_wt = np.broadcast_to(skin.constants.rim_carbon_wt, len(final))
    return Seen(skin.depth_m, skin.carbon_wt, final, final, rim_wt, skin.base_carbon_wt)


def _break(wants: Wants, blow: Blow, finished: list[_Finished], skin: Quenched) -> Array:
    """Return the angle at which each choice breaks, (choices, draws) [deg]; all are bent as one array."""
    ground_m = wants.goal.grinding_allowance_m
    section = replace(skin.process.section, size_m=skin.process.section.size_m - 2.0 * ground_m)
    drawn = bending_constants(len(finished[0].case_m), skin.seed)
    every = BendingConstants(**{name: np.tile(own, len(finished)) for name, own in vars(drawn).items()})
    final_HV = np.concatenate([one.final_HV for one in finished])
    bent = bend(section, skin.some_m - ground_m, final_HV, every, blow.how)
    return bent.final_deg.reshape(len(finished), -1)
