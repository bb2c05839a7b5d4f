"""The unknowns that arguments add to a fit: what each moves of every reading, and how far it is believed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.conversion import points_per_rockwell_c
from model.depth_readings import DepthReading, NoHardSkin
from model.evidence import Evidence
from model.hardness_readings import FilesReading, HardnessReading
from model.linearised import Linearised
from model.readings import Observation
from model.tables import read_table
from model.traverse_reading import TraverseReading

Array = NDArray[np.float64]
Outcome = Literal["depth", "hardness"]
Sides = Mapping[str, Mapping[str, int]]
"""By argument: the side (0 first, 1 second) of each reading, by the reading's key; others are on neither."""

OUTCOMES: Final[tuple[Outcome, ...]] = ("depth", "hardness")
M_PER_MM: Final = 1e-3
OWN_FAMILIES: Final[Mapping[Outcome, tuple[str, ...]]] = {"depth": ("box", "mix"), "hardness": ("bath",)}


@dataclass(frozen=True)
class Column:
    """One unknown: `kind` effect or own, what it is of, its outcome.

    moves : (points,) change of each predicted value for one unit of it [mm or HRC]; sd : believed before
    """

    kind: Literal["effect", "own"]
    of: str
    outcome: Outcome
    moves: Array
    sd: float


def outcome_of(observation: Observation) -> Outcome | None:
    """Return what a reading speaks of, None where neither."""
    reading = observation.reading
    if isinstance(reading, DepthReading | NoHardSkin | TraverseReading):
        return "depth"
    return "hardness" if isinstance(reading, HardnessReading | FilesReading) else None


@cache
def argument_priors() -> Mapping[tuple[str, str], float]:
    """Return the sd of each row of `data/argument_priors.csv` by its name and outcome [mm or HRC]."""
    return {(row["name"], row["outcome"]): float(row["sd"]) for row in read_table("argument_priors.csv")}


def units_of(evidence: Evidence, line: Linearised) -> dict[Outcome, Array]:
    """Return what 1 mm of case, or 1 HRC of skin, moves every predicted value by, (points,); 0 where not."""
    units = np.array([_unit(evidence, line, point) for point in range(len(line.value))])
    spoken = np.array([outcome_of(evidence.observations[owner]) or "" for owner in line.owner])
    return {outcome: np.where(spoken == outcome, units, 0.0) for outcome in OUTCOMES}


def columns_of(evidence: Evidence, line: Linearised, sides: Sides) -> list[Column]:
    """Return the unknowns of arguments that have readings on both sides, and what things have of their own.

    evidence, line : the readings, and what is predicted of them; sides : of each argument
    """
    found: list[Column] = []
    for outcome, units in units_of(evidence, line).items():
        found += _effects(evidence, line, sides, outcome, units)
        found += _owns(evidence, line, outcome, units)
    return found


def _effects(
    evidence: Evidence, line: Linearised, sides: Sides, outcome: Outcome, units: Array
) -> list[Column]:
    sd = argument_priors()["effect", outcome]
    found = []
    for argument, side_of in sides.items():
        known = [side_of.get(evidence.observations[owner].key) for owner in line.owner]
        signs = np.array([0.0 if side is None else side - 0.5 for side in known])
        moved = units * signs
        if (moved[signs > 0] != 0.0).any() and (moved[signs < 0] != 0.0).any():
            found.append(Column("effect", argument, outcome, moved, sd))
    return found


def _owns(evidence: Evidence, line: Linearised, outcome: Outcome, units: Array) -> list[Column]:
    found = []
    for family in OWN_FAMILIES[outcome]:
        sd = argument_priors()[f"own/{family}", outcome]
        keys = np.array([getattr(evidence.observations[owner].process.keys, family) for owner in line.owner])
        found += [
            Column("own", f"{family}:{key}", outcome, np.where(keys == key, units, 0.0), sd)
            for key in dict.fromkeys(keys[units != 0.0].tolist())
        ]
    return found


def _unit(evidence: Evidence, line: Linearised, point: int) -> float:
    """Return what 1 mm of case or 1 HRC of skin moves a predicted value by, in the reading's own unit."""
    reading = evidence.readings[line.owner[point]]
    if isinstance(reading, TraverseReading):
        return _traverse_unit(reading, line, point)
    if isinstance(reading, DepthReading | NoHardSkin):
        return M_PER_MM
    if isinstance(reading, HardnessReading):
        return points_per_rockwell_c(float(line.value[point]), reading.scale)
    return 1.0 if isinstance(reading, FilesReading) else 0.0


def _traverse_unit(reading: TraverseReading, line: Linearised, point: int) -> float:
    """Return what a case deeper by 1 mm adds at one point of a traverse: the profile moved inwards."""
    first = int(np.searchsorted(line.owner, line.owner[point]))
    depth = np.array(reading.depth_m)
    if len(depth) < 2:
        return 0.0
    profile = line.value[first : first + len(depth)]
    return float(-np.gradient(profile, depth)[point - first] * M_PER_MM)


def sides_of(observations: Sequence[Observation], side_of: Mapping[str, int]) -> list[int | None]:
    """Return the side of each reading, None for those on neither."""
    return [side_of.get(observation.key) for observation in observations]
