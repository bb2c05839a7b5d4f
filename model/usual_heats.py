"""Heats before a quench taken to the nearest usual one, the rest as a bias, so that coolings are found again.

A cooling table is made for a recorded heat and read at the members' own, some kelvin off. A planner tries one
heat after another: at every twentieth kelvin one table serves all heats about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from model.belief import Constants
from model.course import hot_steps
from model.members import Members
from model.process import Process

APART_K: Final = 20.0
"""Usual heats are so far apart [K]: what is read 10 K off a table is as near a full quench (a test)."""


def at_usual_heats(processes: Sequence[Process], constants: Sequence[Constants]) -> Members:
    """Return members as hot at the quench as ever, with heats recorded that are usual ones.

    processes, constants : as `Members.of`; only for their quench and tempers: the course of the last heat is
    moved as a whole, while its bias makes up for that
    Raises NotPossible as `Members.of`.
    """
    moved = [_moved(*both) for both in zip(processes, constants, strict=True)]
    return Members.of([process for process, _ in moved], [own for _, own in moved])


def _moved(process: Process, constants: Constants) -> tuple[Process, Constants]:
    """Return a process whose last heat is a usual one, and its constants with the rest as a bias."""
    last = hot_steps(process)[-1]
    end_K = last.history.temperature_K[-1]
    more_K = APART_K * round(end_K / APART_K) - end_K
    history = replace(
        last.history, temperature_K=tuple(kelvin + more_K for kelvin in last.history.temperature_K)
    )
    steps = tuple(replace(step, history=history) if step is last else step for step in process.steps)
    return (
        replace(process, steps=steps),
        replace(constants, temperature_bias_K=constants.temperature_bias_K - more_K),
    )
