"""What can be seen of many pieces by the full forecast: its own cells, its own quench, no tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.belief import constants_of
from model.course import carbon_states
from model.hardening import harden
from model.members import Members
from model.process import Process
from model.sight import Seen

AT_ONCE = 16  # more in one solve, and one hard piece slows too many


def full_sight(processes: Sequence[Process], inputs: Sequence[np.ndarray]) -> list[Seen]:
    """Return what each piece is, at one row of local inputs each; a test holds it to `forecast`."""
    routes: dict[tuple[object, ...], list[int]] = {}
    for place, process in enumerate(processes):
        routes.setdefault(tuple(type(step) for step in process.steps), []).append(place)
    seen: dict[int, Seen] = {}
    for route in routes.values():
        for first in range(0, len(route), AT_ONCE):
            places = route[first : first + AT_ONCE]
            found = _along([processes[place] for place in places], [inputs[place] for place in places])
            seen.update(zip(places, found, strict=True))
    return [seen[place] for place in range(len(processes))]


def _along(processes: Sequence[Process], inputs: Sequence[np.ndarray]) -> list[Seen]:
    constants = [constants_of(process, row[None, :]) for process, row in zip(processes, inputs, strict=True)]
    members = Members.of(processes, constants)
    depth_m, carbon_wt = carbon_states(members)[-1].nodes()
    depth_m = np.broadcast_to(depth_m, carbon_wt.shape)
    hardened = harden(members, depth_m, carbon_wt)
    arrays = (
        carbon_wt, hardened.as_quenched_HV, hardened.tempered_HV,
        members.constants.rim_carbon_wt, members.base_carbon_wt,
    )  # fmt: skip
    return [Seen(depth_m[row], *(array[row : row + 1] for array in arrays)) for row in range(len(processes))]
