"""What can be seen of many coupons at many values of their local inputs: one solve a kind of route."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.belief import constants_of
from model.course import carbon_states, hot_steps
from model.hardening import finish_of, harden
from model.members import Members
from model.process import Process
from model.sight import Seen

Array = NDArray[np.float64]


def look(processes: Sequence[Process], inputs: Array) -> list[Seen]:
    """Return what can be seen of each process, as quenched.

    processes : any processes; those with the same kinds of steps share one solve
    inputs : (processes, members, local inputs) in the order of `inputs.LOCAL_INPUTS`
    Returns one `Seen` a process, in order.
    Raises OutOfRange, NotPossible as `carbon_states` and `harden`.
    """
    routes: dict[tuple[object, ...], list[int]] = {}
    for place, process in enumerate(processes):
        route = (
            *(type(step) for step in process.steps),
            bool(process.start_depth_m),
            process.section.bore_packed,
        )
        routes.setdefault(route, []).append(place)
    seen: dict[int, Seen] = {}
    for places in routes.values():
        seen.update(
            zip(places, _look_along(tuple(processes[p] for p in places), inputs[places]), strict=True)
        )
    return [seen[place] for place in range(len(processes))]


def _look_along(processes: tuple[Process, ...], inputs: Array) -> list[Seen]:
    """Solve processes of one route as one array."""
    members = Members.of(
        processes, [constants_of(process, rows) for process, rows in zip(processes, inputs, strict=True)]
    )
    depth_m, carbon_wt, hardness_HV = _state(members)
    rim_wt = members.constants.rim_carbon_wt
    parts = [members.rows_of(place) for place in range(len(processes))]
    return [
        Seen(depth_m[rows], carbon_wt[rows], hardness_HV[rows], rim_wt[rows], members.base_carbon_wt[rows])
        for rows in parts
    ]


def _state(members: Members) -> tuple[Array, Array, Array]:
    """Return depth, carbon and hardness as quenched, (members, points); bare bar if nothing was done."""
    process = members.processes[0]
    if not hot_steps(process):
        carbon_wt = np.repeat(members.base_carbon_wt[:, None], 2, axis=1)
        return np.broadcast_to([0.0, 1.0e-3], carbon_wt.shape), carbon_wt, np.zeros_like(carbon_wt)
    depth_m, carbon_wt = carbon_states(members)[-1].nodes()
    if finish_of(process).quench is None:
        return depth_m, carbon_wt, np.zeros_like(carbon_wt)
    return depth_m, carbon_wt, harden(members, carbon_wt).as_quenched_HV
