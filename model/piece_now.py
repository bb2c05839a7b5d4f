"""A piece as it is now, over draws, and what further heats and one more quench make of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.course import carbon_states
from model.finish import finish_of
from model.hardening import Hardened, harden_quickly
from model.members import Members
from model.process import History, HotStep, Process, Quench, Reheat
from model.reheat_advice import REHEAT_S

Array = NDArray[np.float64]

CELLS: Final = 48  # carbon is carried on from every second of them
EVERY: Final = 2


@dataclass(frozen=True)
class PieceNow:
    """A piece after all that was done to it.

    depth_m : (n,) from the face [m]; carbon_wt : (draws, n); hardened : arrays (draws, n)
    rim_wt, base_wt : (draws,) carbon where an eye sees the case end, and the bar's own
    """

    depth_m: Array
    carbon_wt: Array
    hardened: Hardened
    rim_wt: Array
    base_wt: Array


@dataclass(frozen=True)
class Requench:
    """One more heat and quench; `constants` are those of the fire and the bath that it is done in."""

    heat_K: float
    quench: Quench
    constants: Constants


def piece_now(process: Process, constants: Constants) -> PieceNow:
    """Return a piece as it is.

    process : all that was done to it, ending in a quench, with tempers or without; constants : (draws,)
    Raises NotPossible as `carbon_states` and `harden`.
    """
    members = Members.of([process], [constants])
    finish_of(process)
    depth_m, carbon_wt = _thinned(*carbon_states(members, CELLS)[-1].nodes())
    hardened = harden_quickly(members, depth_m[None], carbon_wt)
    return PieceNow(depth_m, carbon_wt, hardened, members.constants.rim_carbon_wt, members.base_carbon_wt)


def _thinned(depth_m: Array, carbon_wt: Array) -> tuple[Array, Array]:
    """Return every second depth, (n,), with the last one, and the carbon there."""
    kept = [*range(0, depth_m.shape[1] - 1, EVERY), depth_m.shape[1] - 1]
    return depth_m[0, kept], carbon_wt[:, kept]


def heat_again(
    process: Process, now: PieceNow, constants: Constants, routes: Sequence[tuple[HotStep, ...]]
) -> Array:
    """Return the carbon after further heats, from where it is now, (routes, draws, n) at `now.depth_m` [wt%].

    process : of the piece, for its steel and section; constants : of the next fire, (draws,)
    routes : hot steps of each way, the same kinds in the same order in all
    Source: `carbon_states`, one solve of all; each draw starts from its own carbon.
    """
    starts = [tuple(row) for row in now.carbon_wt.tolist()]
    depth_m = tuple(now.depth_m.tolist())
    processes = [
        replace(process, steps=steps, start_depth_m=depth_m, start_carbon_wt=start)
        for steps in routes
        for start in starts
    ]
    tiled = Constants(
        **{field.name: np.tile(getattr(constants, field.name), len(routes)) for field in fields(Constants)}
    )
    members = Members(tuple(processes), np.arange(len(processes)), tiled)
    _, carbon_wt = _thinned(*carbon_states(members, CELLS)[-1].nodes())
    return carbon_wt.reshape(len(routes), len(starts), -1)


def quench_again(
    process: Process, depth_m: Array, carbon_wt: Array, requenches: Sequence[Requench]
) -> list[Hardened]:
    """Return what one more heat and quench make of carbon, untempered, one for each of `requenches`.

    depth_m : (n,) [m]; carbon_wt : (requenches, draws, n) [wt%]
    Raises NotPossible as `harden`.
    """
    routes = [
        replace(process, steps=(Reheat(History.hold(one.heat_K, REHEAT_S)), one.quench)) for one in requenches
    ]
    members = Members.of(routes, [one.constants for one in requenches])
    made = harden_quickly(members, depth_m[None], carbon_wt.reshape(-1, carbon_wt.shape[-1]))
    return [
        Hardened(**{name: values[members.rows_of(place)] for name, values in vars(made).items()})
        for place in range(len(routes))
    ]
