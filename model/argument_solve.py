"""The fit's normal equations with the unknowns of arguments beside its own, and what can be read off them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.argument_columns import Column
from model.argument_trial import Scatter
from model.evidence import Evidence
from model.inputs import ROW
from model.priors import prior_for
from model.variational import Linearised, latent_weight

Array = NDArray[np.float64]

ROUNDS: Final = 6
"""Times the weights of odd fires are worked afresh; they stand still after three or four."""
MIXED_SHARE: Final = 0.3
"""Share of the band that would go if one family were known, from which it is named; own choice."""
FAMILIES: Final = {
    "box": ("lag/box:", "own/box:"),
    "mix": ("ln_transfer/mix:", "own/mix:"),
    "heat": ("temperature_bias/",),
    "bath": ("bath/", "own/bath:"),
    "bar": ("bar_carbon/",),
    "tester": ("tester/",),
}


@dataclass(frozen=True)
class Solved:
    """Mean and covariance of the fit's coordinates and, after them, of the columns."""

    names: tuple[str, ...]
    mean: Array
    covariance: Array


def solve(
    evidence: Evidence, line: Linearised, mean: Array, covariance: Array, columns: Sequence[Column]
) -> Solved:
    """Solve the normal equations with the columns beside the fit's own coordinates.

    evidence, line : the readings and their linearisation about (mean, covariance), (names,) and its square
    columns : at least one
    """
    count = len(evidence.names)
    design = np.hstack([line.jacobian, np.stack([column.moves for column in columns], axis=1)])
    loose = np.array([column.sd**-2 for column in columns])
    target = line.slope + line.curvature * (line.jacobian @ mean)
    information = design.T @ target
    information[:count] += evidence.check_information
    readings = (design.T * line.curvature) @ design
    readings[:count, :count] += evidence.check_precision
    centre, variance = mean, np.diag(covariance)
    for _ in range(ROUNDS):
        weight = latent_weight(evidence, centre, variance)
        joint = np.linalg.inv(readings + np.diag(np.concatenate([weight, loose])))
        solved = joint @ information
        centre, variance = solved[:count], np.diag(joint)[:count]
    own = tuple(
        f"own/{column.of}" if column.kind == "own" else f"{column.outcome}/{column.of}" for column in columns
    )
    return Solved((*evidence.names, *own), solved, np.asarray(joint, dtype=float))


def counted_by_books(evidence: Evidence, line: Linearised, column: Column) -> float:
    """Return what the books' law for the pack alone makes of the two sides [mm]: 0 where it is the same."""
    if column.outcome != "depth" or "ln_transfer/shop" not in evidence.names:
        return 0.0
    name = evidence.names.index("ln_transfer/shop")
    moved = column.moves != 0.0
    books = evidence.offset[[evidence.rows[owner] for owner in line.owner], ROW["ln_transfer"]]
    slope = line.jacobian[:, name] / prior_for("ln_transfer/shop").sd / (2.0 * np.abs(column.moves) + ~moved)
    first, second = moved & (column.moves < 0.0), moved & (column.moves > 0.0)
    return float(np.median(slope[moved]) * (books[second].mean() - books[first].mean()))


def mixed_with(found: Solved, row: int, column: Column, columns: Sequence[Column]) -> tuple[str, ...]:
    """Return the families and arguments that, if they were known, would take much of the band away."""
    groups = {
        family: [place for place, name in enumerate(found.names) if name.startswith(heads)]
        for family, heads in FAMILIES.items()
    }
    first = len(found.names) - len(columns)
    for place, other in enumerate(columns, start=first):
        if other.kind == "effect" and other.outcome == column.outcome and place != row:
            groups[other.of] = [place]
    shares = {name: _share_gone(found.covariance, row, places) for name, places in groups.items() if places}
    return tuple(sorted((n for n, s in shares.items() if s >= MIXED_SHARE), key=lambda n: -shares[n]))


def _share_gone(covariance: Array, row: int, places: Sequence[int]) -> float:
    """Return the share of a band that goes when some unknowns become known."""
    across = covariance[row, places]
    known = float(across @ np.linalg.solve(covariance[np.ix_(places, places)], across))
    return 1.0 - float(np.sqrt(max(0.0, 1.0 - known / float(covariance[row, row]))))


def scatter_of(evidence: Evidence, line: Linearised, column: Column, spread: float) -> Scatter:
    """Return what makes like coupons differ, from the readings that the argument has [mm or HRC]."""
    moved = np.flatnonzero(column.moves)
    unit = 2.0 * np.abs(column.moves[moved])
    reading = 1.0 / np.sqrt(line.curvature[moved]) / unit
    box, fire = (
        np.abs(line.jacobian[moved][:, _named(evidence, head)]).sum(axis=1) / unit
        for head in ("load/", "fire/")
    )
    return Scatter(float(np.median(reading)), spread * float(np.median(box)), spread * float(np.median(fire)))


def _named(evidence: Evidence, head: str) -> list[int]:
    return [place for place, name in enumerate(evidence.names) if name.startswith(head)]
