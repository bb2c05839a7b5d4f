"""The fit's normal equations with the unknowns of arguments beside its own, and what can be read off them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray

from model.argument_columns import Column, Outcome, units_of
from model.argument_joint import Joint
from model.argument_trial import Scatter
from model.arrow import Covariance
from model.evidence import Evidence
from model.inputs import ROW
from model.likelihood import LATENT_FREEDOM, LEAST_CURVATURE, READING_FREEDOM
from model.linearised import Linearised
from model.priors import prior_for
from model.scatter import Scale
from model.variational import latent_weight
from model.widening import widening

Array = NDArray[np.float64]

ROUNDS: Final = 6
"""Times everything is weighed afresh; it stands still after three or four."""
NODES: Final = 7
"""Of the average over a prediction (Gauss and Hermite)."""
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
    """Mean and covariance of the fit's coordinates and, after them, of the columns.

    covariance : fire by fire, widened for what surprises once the arguments are allowed for
    room : variance of each coordinate over that of the books: how far this shop's fires scatter
    """

    names: tuple[str, ...]
    mean: Array
    covariance: Covariance
    room: Array

    def sd(self, row: int) -> float:
        """Return 1 sd of an unknown."""
        return float(np.sqrt(self.covariance.diagonal[row]))


def solve(
    evidence: Evidence,
    line: Linearised,
    mean: Array,
    covariance: Covariance,
    columns: Sequence[Column],
) -> Solved:
    """Solve the fit's equations with the columns beside its own coordinates.

    evidence, line : the readings, and what is predicted of them about (mean, covariance), fire by fire
    columns : at least one
    Each round weighs every reading and fire afresh by where the last one left it, so that a reading which
    only looks odd before the difference is allowed for is not held for a slip.
    """
    count, widths = len(evidence.names), np.array([column.sd for column in columns])
    rows = Joint(evidence, line.touching, np.stack([column.moves for column in columns], axis=1))
    offset = line.value - line.touching.along(mean)
    solved = np.concatenate([mean, np.zeros(len(columns))])
    doubt, variance = rows.doubt_apart(covariance, widths), covariance.diagonal
    scale, sure = evidence.scatter.books(), widths**-2
    for _ in range(ROUNDS):
        slope, curvature = _pulls(evidence, line, offset + rows.along(solved), doubt)
        told = rows.told(curvature)
        information = rows.gathered(slope + curvature * rows.along(solved))
        information[:count] += evidence.check_information
        weight = _weight(evidence, scale, solved, variance, sure)
        scale = evidence.scatter.learnt(scale, told, information, weight)
        weight = _weight(evidence, scale, solved, variance, sure)
        joint = told.plus(weight).inverse()
        solved = joint.times(information)
        doubt, variance = rows.doubt(joint), joint.diagonal[:count]
    spread = widening(_surprises(rows, slope, curvature, joint))
    # Student's weights promise more than his law gives: its Fisher information is (n + 1)/(n + 3) of theirs
    weight[:count][evidence.is_latent] *= _given(LATENT_FREEDOM)
    told = rows.told(_given(READING_FREEDOM) * curvature)
    own = tuple(
        f"own/{column.of}" if column.kind == "own" else f"{column.outcome}/{column.of}" for column in columns
    )
    honest = told.over(spread**2).plus(weight).inverse()
    return Solved((*evidence.names, *own), solved, honest, evidence.scatter.room(scale))


def _weight(evidence: Evidence, scale: Scale, solved: Array, variance: Array, sure: Array) -> Array:
    """Return the precision that is believed of every unknown before its readings; `sure` of the columns."""
    room, mean = evidence.scatter.room(scale), solved[: len(evidence.names)]
    return np.concatenate([latent_weight(evidence, room, mean, variance), sure])


def _surprises(rows: Joint, slope: Array, curvature: Array, joint: Covariance) -> Iterator[float]:
    """Return how far each fire lies from what the others foretell by the arguments' own solution [sd].

    What a difference explains is no surprise. The square is a fire's squared distance without itself, by its
    number of values.
    """
    for points, covariance in rows.by_fire(joint):
        root = np.sqrt(np.maximum(curvature[points], LEAST_CURVATURE))
        pull = slope[points] / root
        left = np.eye(points.shape[1]) - root[:, :, None] * covariance * root[:, None]
        square = (pull * np.linalg.solve(left, pull[:, :, None])[:, :, 0]).mean(axis=1)
        yield from np.sqrt(np.maximum(square, 0.0)).tolist()


def _given(freedom: float) -> float:
    return (freedom + 1.0) / (freedom + 3.0)


def _pulls(evidence: Evidence, line: Linearised, middle: Array, sd: Array) -> tuple[Array, Array]:
    """Return slope and curvature of every reading's log likelihood, averaged over a normal prediction."""
    nodes, shares = hermegauss(NODES)
    members = middle[:, None] + sd[:, None] * nodes
    like = evidence.values.likelihood(members, np.broadcast_to(line.doubt[:, None], members.shape))
    weights = shares / shares.sum()
    return np.asarray(like.slope @ weights), np.asarray(like.curvature @ weights)


def counted_by_books(evidence: Evidence, line: Linearised, columns: Sequence[Column]) -> dict[str, float]:
    """Return what the books' law for the pack alone makes of each argument's two sides [mm].

    columns : the effects on depth of arguments about the pack; where several changed at once, the law is
        shared out among them by least squares, so that lump is not credited with the carbonate beside it
    """
    if not columns or "ln_transfer/shop" not in evidence.names:
        return {}
    moves = np.stack([column.moves for column in columns], axis=1)
    read = np.flatnonzero(moves.any(axis=1))
    units = 2.0 * np.abs(moves[read]).max(axis=1)
    slope = line.touching.by(evidence.names.index("ln_transfer/shop"))[read] / units
    books = evidence.offset[evidence.rows[line.owner[read]], ROW["ln_transfer"]]
    told = np.hstack([np.ones((len(read), 1)), moves[read] / units[:, None]])
    shares = np.linalg.lstsq(told, books, rcond=None)[0][1:]
    per_ln = float(np.median(slope)) / prior_for("ln_transfer/shop").sd
    return {column.of: per_ln * float(share) for column, share in zip(columns, shares, strict=True)}


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


def _share_gone(covariance: Covariance, row: int, places: Sequence[int]) -> float:
    """Return the share of a band that goes when some unknowns become known."""
    among = covariance.full(np.array([row, *places], dtype=np.intp))
    known = float(among[0, 1:] @ np.linalg.solve(among[1:, 1:], among[0, 1:]))
    return 1.0 - float(np.sqrt(max(0.0, 1.0 - known / float(among[0, 0]))))


def scatter_of(evidence: Evidence, line: Linearised, outcome: Outcome, found: Solved) -> Scatter | None:
    """Return what makes like coupons differ in an outcome [mm or HRC]; None where nothing was read of it."""
    units = units_of(evidence, line)[outcome]
    known = np.flatnonzero(units)
    if not len(known):
        return None
    unit = np.abs(units[known])
    reading = evidence.values.spread(line.doubt)[known] / unit
    room = np.sqrt(found.room)
    luck = np.abs(line.touching.slopes[known]) * room[line.touching.columns[known]] / unit[:, None]
    box, fire = (
        (luck * _is_named(evidence, head)[line.touching.columns[known]]).sum(axis=1)
        for head in ("load/", "fire/")
    )
    return Scatter(float(np.median(reading)), float(np.median(box)), float(np.median(fire)))


def _is_named(evidence: Evidence, head: str) -> NDArray[np.bool_]:
    return np.array([name.startswith(head) for name in evidence.names], dtype=bool)
