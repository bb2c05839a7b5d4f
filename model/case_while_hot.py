"""The case of a piece that is still in its box, and what holding it longer would add."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.course import carbon_states
from model.members import Members
from model.process import Carburize, History, HotStep, Process
from model.sight import signed_depth
from model.traverse import TOTAL_CASE_RISE_WT

Array = NDArray[np.float64]

CELLS: Final = 48  # depths within 0.001 mm (rms) of a fine solve
SHORTEST_CLIMB: Final = 0.01
LONGEST_CLIMB: Final = 0.99
"""Shares of a hold that a climb to its heat may take: both parts keep a length."""


@dataclass(frozen=True)
class CaseWhileHot:
    """Case depth over draws, below 0 for none.

    now_m : (draws,) of the piece as it lies in the box [m]
    done_m : (holds, draws) after each hold and the rest of the way [m]
    """

    now_m: Array
    done_m: Array


def held_longer(process: Process, seconds: float, hold_K: float, climb_s: float = 0.0) -> Process:
    """Return a process whose last step, a soak, goes on for so long at one temperature.

    process : with a soak last; seconds : above 0 [s]; hold_K : what it is held at [K]
    climb_s : how long it takes to get there from its last temperature [s]
    """
    soak = process.steps[-1]
    assert isinstance(soak, Carburize)
    times, heats, end = soak.history.seconds, soak.history.temperature_K, soak.history.seconds[-1]
    there = end + min(max(climb_s, SHORTEST_CLIMB * seconds), LONGEST_CLIMB * seconds)
    history = History((*times, there, end + seconds), (*heats, hold_K, hold_K))
    return replace(process, steps=(*process.steps[:-1], replace(soak, history=history)))


def case_while_hot(
    process: Process,
    constants: Constants,
    rest: Sequence[HotStep],
    holds: Sequence[Process],
    end_wt: float | str,
) -> CaseWhileHot:
    """Return the case of a piece in its soak, now and after each of some longer holds.

    process : all that was done so far, a soak in the box last; constants : of its fire, (draws,)
    rest : hot steps that follow the soak, up to the quench; holds : the process held longer, each way
    end_wt : carbon at which the case ends [wt%], or `rim` or `total`
    Raises NotPossible, OutOfRange as `carbon_states`.
    Source: `carbon_states`, one solve of now and one of all holds.
    """
    whole = [replace(one, steps=(*one.steps, *rest)) for one in holds]
    return CaseWhileHot(
        now_m=_depths([process], constants, end_wt)[0],
        done_m=_depths(whole, constants, end_wt),
    )


def _depths(processes: Sequence[Process], constants: Constants, end_wt: float | str) -> Array:
    """Return the case depth of each process, (processes, draws) [m]."""
    members = Members.of(processes, [constants] * len(processes))
    depth_m, carbon_wt = carbon_states(members, CELLS)[-1].nodes()
    limit_wt: Array | float
    if end_wt == "total":
        limit_wt = members.base_carbon_wt + TOTAL_CASE_RISE_WT
    else:
        limit_wt = members.constants.rim_carbon_wt if end_wt == "rim" else float(end_wt)
    found = signed_depth(depth_m, carbon_wt, limit_wt)
    return np.stack([found[members.rows_of(place)] for place in range(len(processes))])
