"""What can be seen of many coupons at many values of their local inputs: one solve a kind of route."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from model.belief import constants_of, constants_of_each
from model.course import carbon_at_end, hot_steps
from model.finish import finish_of
from model.hardening import harden_quickly
from model.members import Members
from model.piecework import Piecework
from model.process import Process
from model.sight import Seen
from model.soaks import carbon_after_soaks
from model.thinned import filled_in, thinned

Array = NDArray[np.float64]
Look = Callable[[Sequence[Process], Array], list[Seen]]
"""What can be seen of processes at local inputs (processes, members, local inputs)."""
Told = TypeVar("Told")

CELLS: Final = 40
TOLERANCE_wt: Final = 6.0e-3
"""Cells, and error allowed in one step [wt%]: coarser than a forecast's own. Nine depths of ten lie within
0.0025 mm of a fine solve's, hardness within 2.5 HV (rms) of one with hardness at every depth, where readings
err by 0.03 mm and 25 HV at the least (draws from the books; a test holds it)."""
PRECISION: Final = np.dtype(np.float32)
"""Of carbon on its way and of what forms: single moves a depth by nanometres and takes half the time."""
MEMBERS_AT_ONCE: Final = 600  # more no longer fit the processor's cache, and one hard member slows all

WORTH_A_PIECE: Final = 360  # members that are worth a piece of their own, where two processes share the work
LARGEST_SHARE: Final = 1 / 3  # of all members in one piece, so that two processes end together


def look(processes: Sequence[Process], inputs: Array) -> list[Seen]:
    """Return what can be seen of each process, as quenched.

    processes : any processes; those with the same kinds of heats and quenches share one solve
    inputs : (processes, members, local inputs) in the order of `inputs.LOCAL_INPUTS`
    Returns one `Seen` a process, in order.
    Raises OutOfRange, NotPossible as `carbon_at_end` and `harden`.
    """
    seen: dict[int, Seen] = {}
    for places in pieces_of(processes, inputs.shape[1]):
        found = _look_along(tuple(processes[place] for place in places), inputs[places])
        seen.update(zip(places, found, strict=True))
    return [seen[place] for place in range(len(processes))]


def told_of_each(
    processes: Sequence[Process],
    inputs: Array,
    look: Look,
    tell: Callable[[int, Seen], Told],
    piecework: Piecework,
) -> list[Told]:
    """Return what is told of each process, in order, where what is seen of it is wanted for no more.

    inputs : as `look`; tell : by the process's place and what is seen of it; piecework : how all are gone
        through
    """

    def told(places: Sequence[int], seen: Sequence[Seen]) -> list[Told]:
        return [tell(place, one) for place, one in zip(places, seen, strict=True)]

    return told_together(processes, inputs, look, told, piecework)


def told_together(
    processes: Sequence[Process],
    inputs: Array,
    look: Look,
    tell: Callable[[Sequence[int], Sequence[Seen]], list[Told]],
    piecework: Piecework,
) -> list[Told]:
    """Return the same, told of several at once: by their places and what is seen of them."""

    def told(places: list[int]) -> list[Told]:
        return tell(places, look([processes[place] for place in places], inputs[places]))

    pieces = shared_out(processes, inputs.shape[1])
    by_place: dict[int, Told] = {}
    for places, several in zip(pieces, piecework(told, pieces), strict=True):
        by_place.update(zip(places, several, strict=True))
    return [by_place[place] for place in range(len(processes))]


def shared_out(processes: Sequence[Process], members: int) -> list[list[int]]:
    """Return the places of processes in pieces of work for two, none of which `look` cuts; largest first."""
    a_share = LARGEST_SHARE * members * len(processes)
    return pieces_of(processes, members, min(MEMBERS_AT_ONCE, max(WORTH_A_PIECE, int(a_share))))


def pieces_of(processes: Sequence[Process], members: int, at_once: int = MEMBERS_AT_ONCE) -> list[list[int]]:
    """Return the places of processes that are solved as one array each, of so many members; largest first.

    A step is as long as the hardest member allows, so what is seen hangs on these in its last digits.
    """
    routes: dict[tuple[object, ...], list[int]] = {}
    for place, process in enumerate(processes):
        start, bore = bool(process.start_depth_m), process.section.bore_packed
        routes.setdefault((process.kinds, start, bore), []).append(place)
    most = max(1, at_once // members)
    pieces = [
        piece.tolist() for route in routes.values() for piece in np.array_split(route, -(-len(route) // most))
    ]
    return sorted(pieces, key=len, reverse=True)


def look_at_soaks(processes: Sequence[Process], inputs: Array) -> list[Seen]:
    """Return what can be seen of one process with soaks of several lengths, as quenched.

    processes : alike but for the length of their soak, the shortest first
    inputs : (members, local inputs), of each of them
    Returns and raises as `look`, of which it is the quicker way where a short soak is the start of a longer.
    Source: `carbon_after_soaks`; a test holds both ways against each other.
    """
    constants = constants_of(processes[0], inputs)
    members = Members.of(processes, [constants] * len(processes))
    found = carbon_after_soaks(members, CELLS, TOLERANCE_wt)
    if found is None:
        return look(processes, np.repeat(inputs[None], len(processes), axis=0))
    depth_m, carbon_wt = found
    seen = []
    for place, process in enumerate(processes):
        own_wt = carbon_wt[members.rows_of(place)]
        everywhere_m = np.broadcast_to(depth_m, own_wt.shape)
        seen += _seen(Members.of([process], [constants]), (everywhere_m, own_wt))
    return seen


def _look_along(processes: tuple[Process, ...], inputs: Array) -> list[Seen]:
    """Solve processes of one route as one array."""
    members = Members.of_each(processes, constants_of_each(processes, inputs))
    return _seen(members, _carbon(members))


def _seen(members: Members, carbon: tuple[Array, Array]) -> list[Seen]:
    """Return what is seen of members with their carbon at depths, (members, points) each."""
    arrays = (*_state(members, *carbon), members.constants.rim_carbon_wt, members.base_carbon_wt)
    parts = [members.rows_of(place) for place in range(len(members.processes))]
    return [Seen(*(array[rows] for array in arrays)) for rows in parts]


def _carbon(members: Members) -> tuple[Array, Array]:
    """Return depth and carbon, (members, points)."""
    if hot_steps(members.processes[0]):
        depth_m, carbon_wt = carbon_at_end(members, CELLS, TOLERANCE_wt, PRECISION).nodes()
        return depth_m, carbon_wt.astype(np.float64)
    carbon_wt = np.repeat(members.base_carbon_wt[:, None], 2, axis=1)
    return np.broadcast_to([0.0, 1.0e-3], carbon_wt.shape), carbon_wt


def _state(members: Members, depth_m: Array, carbon_wt: Array) -> tuple[Array, Array, Array, Array]:
    """Return depth, carbon, hardness as quenched and tempered, (members, points); 0 HV if not quenched."""
    process = members.processes[0]
    if not hot_steps(process) or finish_of(process).quench is None:
        soft = np.zeros_like(carbon_wt)
        return depth_m, carbon_wt, soft, soft
    hardened = harden_quickly(members, thinned(depth_m), thinned(carbon_wt))
    nodes = carbon_wt.shape[1]
    as_quenched_HV = filled_in(hardened.as_quenched_HV, nodes)
    return depth_m, carbon_wt, as_quenched_HV, filled_in(hardened.tempered_HV, nodes)
