"""What a logbook says of an argument: which of two ways makes a deeper case or a harder skin.

The fit's own normal equations, near its belief, with one more unknown for each argument: half of it is added
to readings on the second side and taken from those on the first. All constants stay as unknown as the books
have them, so what a mix, a box or a lucky fire may have done is not put down to the argument. All arguments
are solved together: two that always changed together share what was seen, and both stay wide.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from scipy.special import ndtri

from model.argument_columns import OUTCOMES, Column, Outcome, Sides, columns_of, outcome_of, sides_of
from model.argument_solve import Solved, counted_by_books, mixed_with, scatter_of, solve
from model.argument_trial import Scatter
from model.evidence import Evidence
from model.variational import Gaussian

Verdict = Literal["likely", "may_be", "none", "open"]

LEAST_DIFFERENCE: Final = {"depth": 0.1, "hardness": 1.5}
"""A difference that a shop would act on [mm], [HRC]: a usual tolerance, one reading's scatter; practice."""
BAND: Final = 0.9
FEWEST_LOOKS: Final = 2


@dataclass(frozen=True)
class Effect:
    """The second way less the first, in one outcome [mm or HRC].

    middle, sd : after everything else, the books' law for the pack put back in
    counted : the share of `middle` that this law alone says, so that the forecast has it already
    fires, coupons : on each side; shared_fires : those with coupons on both
    mixed_with : what it cannot be told from (a family of the model, or another argument), worst first
    """

    argument: str
    outcome: Outcome
    middle: float
    sd: float
    counted: float
    fires: tuple[int, int]
    coupons: tuple[int, int]
    shared_fires: int
    mixed_with: tuple[str, ...]

    def band(self, share: float = BAND) -> tuple[float, float]:
        """Return the band that holds a share of what it may be."""
        half = float(ndtri(0.5 + 0.5 * share)) * self.sd
        return self.middle - half, self.middle + half


def verdict(effect: Effect, looks: int) -> Verdict:
    """Return what may be said of an effect among so many that were looked at in the same book.

    effect : the effect; looks : how many effects have both sides, 1 or more
    Returns `likely` where nothing is outside even the band of 1 - 0.1/looks (Bonferroni: ten books in which
    nothing differs show at most one such), 95 % at least; `may_be` where it is outside the 90 % band only,
    `none` where the band holds nothing and no difference worth acting on, `open` else.
    """
    strict_low, strict_high = effect.band(1.0 - (1.0 - BAND) / max(looks, FEWEST_LOOKS))
    low, high = effect.band()
    if strict_low > 0.0 or strict_high < 0.0:
        return "likely"
    if low > 0.0 or high < 0.0:
        return "may_be"
    return "none" if max(-low, high) <= LEAST_DIFFERENCE[effect.outcome] else "open"


@dataclass(frozen=True)
class Argued:
    """What a logbook says of all arguments, and what makes its like coupons differ, by outcome."""

    effects: tuple[Effect, ...]
    scatter: Mapping[Outcome, Scatter]


def argue(evidence: Evidence, fitted: Gaussian, sides: Sides, of_pack: Collection[str] = ()) -> Argued:
    """Return what a logbook says of each argument that has readings on both sides.

    evidence, fitted : of a fit (`calibration.FitResult`); sides : of each argument by reading
    of_pack : arguments about what the pack is made of, whose effect the books' law for it is part of
    Returns an effect for each argument and outcome with both sides, in the order of `sides`.
    Source: mixed linear model (Henderson, Biometrics 31 (1975) 423, from memory) on the fit's linearisation
    (`variational`), heavy tails as the fit has them; the effects' priors are in
    `data/argument_priors.csv`. Exact where readings are straight in the constants.
    """
    line = fitted.linearised
    columns = columns_of(evidence, line, sides)
    if not columns:
        return Argued((), {})
    found = solve(evidence, line, fitted.mean, fitted.narrowed, columns)
    packs = [one for one in columns if (one.kind, one.outcome) == ("effect", "depth") and one.of in of_pack]
    counted = counted_by_books(evidence, line, packs)
    seen = tuple(
        _effect(evidence, columns, place, found, sides, counted)
        for place, column in enumerate(columns)
        if column.kind == "effect"
    )
    scatter = {one: scatter_of(evidence, line, one, found) for one in OUTCOMES}
    return Argued(seen, {outcome: one for outcome, one in scatter.items() if one is not None})


def _effect(
    evidence: Evidence,
    columns: Sequence[Column],
    place: int,
    found: Solved,
    sides: Sides,
    counted_mm: Mapping[str, float],
) -> Effect:
    column, row = columns[place], len(evidence.names) + place
    speaks = [one for one in evidence.observations if outcome_of(one) == column.outcome]
    on = sides_of(speaks, sides[column.of])
    fires, coupons = (
        [{key for key, side in zip(keys, on, strict=True) if side == k} for k in (0, 1)]
        for keys in (
            [one.process.keys.fire for one in speaks],
            [one.coupon or one.key for one in speaks],
        )
    )
    counted = counted_mm.get(column.of, 0.0) if column.outcome == "depth" else 0.0
    return Effect(
        argument=column.of,
        outcome=column.outcome,
        middle=float(found.mean[row]) + counted,
        sd=found.sd(row),
        counted=counted,
        fires=(len(fires[0]), len(fires[1])),
        coupons=(len(coupons[0]), len(coupons[1])),
        shared_fires=len(fires[0] & fires[1]),
        mixed_with=mixed_with(found, row, column, columns),
    )
