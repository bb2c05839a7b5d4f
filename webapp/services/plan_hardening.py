"""What the quench of a plan comes to: the shop's baths side by side, and what the steel is made of.

The chosen bath is read off the settled answer; the others are worked out together over some of its draws,
from the carbon that it has, with coolings off tables that the next answer finds ready.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from model.belief import constants_of
from model.forecast import Forecast
from model.hardening import Hardened, harden_quickly
from model.planner import Goal
from model.process import Process, Quench
from model.usual_heats import at_usual_heats
from webapp.services.plan_face import Face, finished_face
from webapp.services.plan_figures import BathFigures, HardeningFigures, Shares
from webapp.services.plan_spreads import HardnessSpreads, hardness_spreads
from webapp.services.plan_structure import shares_at
from webapp.services.plan_sums import DRAWS, KEPT_ANSWERS, Believed, Foretold

Array = NDArray[np.float64]

EVERY_DRAW = 8  # one draw in so many of the settled answer is quenched in the other baths as well


@dataclass(frozen=True)
class BathAsked:
    """A bath to compare: its name, its quench, and the key by which the fit knows it."""

    name: str
    quench: Quench
    key: str
    is_chosen: bool
    is_in_shop: bool


@dataclass(frozen=True)
class _Others:
    """Baths that a settled answer is held against; it is known by its process, goal and belief."""

    goal: Goal
    process: Process
    believed: Believed
    baths: tuple[BathAsked, ...]
    settled: Foretold = field(compare=False)


@dataclass(frozen=True)
class _Made:
    """What one bath makes of the part; `core_m` is where the core lies."""

    depth_m: Array
    core_m: float
    hardened: Hardened
    spreads: HardnessSpreads


def structures_of(settled: Foretold) -> HardeningFigures:
    """Return what skin and core of a settled answer are made of, and no more."""
    hardened, depth_m = settled.drawn.hardened, settled.drawn.depth_m
    if hardened is None:
        return HardeningFigures()
    core_m = float(depth_m[settled.drawn.core_at])
    return HardeningFigures(
        skin=_skin(settled.goal, depth_m, hardened), core=shares_at(depth_m, hardened, core_m)
    )


def compared_baths(
    settled: Foretold, believed: Believed, baths: tuple[BathAsked, ...]
) -> tuple[BathFigures, ...]:
    """Return every bath's figures, in order; none where the hardness is not modelled."""
    drawn = settled.drawn
    if drawn.hardened is None or drawn.hardness_HV is None:
        return ()
    others = tuple(bath for bath in baths if not bath.is_chosen)
    asked = _Others(settled.goal, settled.process, believed, others, settled)
    found = dict(zip(others, _quenched(asked), strict=True))
    chosen = _Made(
        drawn.depth_m,
        float(drawn.depth_m[drawn.core_at]),
        drawn.hardened,
        settled.hardness,
    )
    return tuple(_figures(settled.goal, bath, found.get(bath, chosen)) for bath in baths)


@lru_cache(maxsize=KEPT_ANSWERS)
def _quenched(asked: _Others) -> tuple[_Made, ...]:
    """Quench the carbon of a settled answer in the baths, all as one array."""
    if not asked.baths:
        return ()
    settled, belief = asked.settled, asked.believed.belief
    middle, drawn = settled.middle, settled.drawn
    routes = [_in_bath(asked.process, bath) for bath in asked.baths]
    few_wt = drawn.carbon_wt[::EVERY_DRAW]
    points = [belief.point(route) for route in routes]
    draws = [constants_of(route, belief.inputs(route, DRAWS)[::EVERY_DRAW]) for route in routes]
    members = at_usual_heats([*routes, *routes], [*points, *draws])
    carbon_wt = np.concatenate([middle.carbon_wt] * len(routes) + [few_wt] * len(routes))
    hardened = harden_quickly(members, drawn.depth_m[None, :], carbon_wt)
    core_m = float(drawn.depth_m[drawn.core_at])
    made = []
    for place in range(len(routes)):
        one, own = (_rows(hardened, members.rows_of(at)) for at in (place, place + len(routes)))
        few = replace(drawn, carbon_wt=few_wt)
        spreads = hardness_spreads(_face(asked.goal, middle, one), _face(asked.goal, few, own))
        made.append(_Made(drawn.depth_m, core_m, own, spreads))
    return tuple(made)


def _in_bath(process: Process, bath: BathAsked) -> Process:
    """Return a process quenched in another bath."""
    steps = tuple(bath.quench if isinstance(step, Quench) else step for step in process.steps)
    return replace(process, steps=steps, keys=replace(process.keys, bath=bath.key))


def _rows(hardened: Hardened, rows: slice) -> Hardened:
    return Hardened(**{name: values[rows] for name, values in vars(hardened).items()})


def _face(goal: Goal, carbon: Forecast, hardened: Hardened) -> Face:
    """Return what a quench makes of a forecast's carbon, from the finished face."""
    final_HV = hardened.tempered_HV
    return finished_face(goal, carbon.depth_m, carbon.carbon_wt, final_HV, final_HV[:, carbon.core_at])


def _figures(goal: Goal, bath: BathAsked, made: _Made) -> BathFigures:
    skin, reading, core = made.spreads
    assert skin is not None
    assert reading is not None
    assert core is not None
    return BathFigures(
        name=bath.name,
        medium=bath.quench.medium,
        is_chosen=bath.is_chosen,
        is_in_shop=bath.is_in_shop,
        skin_HV=skin,
        reading_HRC=reading,
        core_HV=core,
        skin=_skin(goal, made.depth_m, made.hardened),
        core=shares_at(made.depth_m, made.hardened, made.core_m),
        film_s=float(np.median(made.hardened.film_s)),
    )


def _skin(goal: Goal, depth_m: Array, hardened: Hardened) -> Shares:
    """Return what the finished face is made of."""
    return shares_at(depth_m, hardened, goal.grinding_allowance_m)


def named_baths(asked: Iterable[BathAsked]) -> tuple[BathAsked, ...]:
    """Return the shop's baths, and still air after them if the shop has not written it down."""
    baths = tuple(asked)
    if any(bath.quench.medium == "air" for bath in baths):
        return baths
    still = Quench("air", agitation="still")
    return (*baths, BathAsked("Still air", still, "", is_chosen=False, is_in_shop=False))
