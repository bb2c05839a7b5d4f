"""Carbon after soaks of several lengths at one heat: a short one goes on into the longer ones.

Only what follows the soak, its cool and any reheat, is worked out for each length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.course import grid_of, hot_steps, segments_of, solved, start_carbon
from model.members import Members
from model.process import Carburize, Process
from model.segments import Segment

Array = NDArray[np.float64]


def carbon_after_soaks(members: Members, cells: int, tolerance_wt: float) -> tuple[Array, Array] | None:
    """Return depths and carbon after the last hot step where only the soak differs, (1, n) and (M, n).

    members : processes with a first hot step that is a hold of one heat, of lengths that rise, and with the
        same draws; what follows is of the same kinds of steps
    cells, tolerance_wt : as `course.carbon_course`
    Returns None where a soak is no stretch of the next, as its way up is cut off or its heat changes.
    Source: `course.carbon_course`, whose way up and soak are solved once.
    """
    each = [_own(members, place) for place in range(len(members.processes))]
    stretches = _stretches(each)
    if stretches is None:
        return None
    climb, holds = stretches
    grid = grid_of(members, cells)
    states = solved(each[0], grid, start_carbon(each[0], grid), [*climb, *holds], tolerance_wt)
    soaked = [state[-1].profile for state in states[len(climb) :]]
    later = _later(members)
    if later:
        cells_wt = np.concatenate([profile.carbon_wt for profile in soaked])
        soaked = [solved(members, grid, cells_wt, later, tolerance_wt)[-1][-1].profile]
    depths_m, carbons_wt = zip(*(profile.nodes() for profile in soaked), strict=True)
    return depths_m[0][:1], np.concatenate(carbons_wt)


def _own(members: Members, place: int) -> Members:
    """Return the members of one of the processes."""
    rows = members.rows_of(place)
    own = {name: values[rows] for name, values in vars(members.constants).items()}
    return Members.of([members.processes[place]], [Constants(**own)])


def _stretches(each: Sequence[Members]) -> tuple[list[Segment], list[Segment]] | None:
    """Return the way up of all and what each soak adds to the one before; None where one is no part of it."""
    if not all(_holds_first(one.processes[0]) for one in each):
        return None
    ways = [segments_of(one, 0) for one in each]
    climb, hold = ways[0][0], ways[0][1][0]
    for own_climb, own_hold in ways:
        alike = len(own_hold) == 1 and len(own_climb) == len(climb)
        if not alike or not all(_is_alike(*pair) for pair in zip(climb, own_climb, strict=True)):
            return None
    lengths_s = np.array([own_hold[0].duration_s for _, own_hold in ways])
    more_s = np.diff(lengths_s, axis=0, prepend=0.0)
    if (more_s < 0.0).any():
        return None
    return climb, [replace(hold, duration_s=own_s) for own_s in more_s]


def _holds_first(process: Process) -> bool:
    """Tell whether the first hot step is the only soak, at one heat."""
    soaks = [place for place, step in enumerate(hot_steps(process)) if isinstance(step, Carburize)]
    return soaks == [0] and len(set(hot_steps(process)[0].history.temperature_K)) == 1


def _is_alike(one: Segment, other: Segment) -> bool:
    """Tell whether two stretches are of the same length and heat."""
    return all(
        np.array_equal(getattr(one, name), getattr(other, name))
        for name in ("duration_s", "start_K", "end_K")
    )


def _later(members: Members) -> list[Segment]:
    """Return all that follows the first hot step."""
    steps = len(hot_steps(members.processes[0]))
    return [
        segment for place in range(1, steps) for stretch in segments_of(members, place) for segment in stretch
    ]
