"""Wanted depth, wanted hardness and a blow to be survived: do they go together, and which gives way.

The odds of the choices that are weighed come from `tried_choices`, on the same draws for all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.bending import Bend
from model.planner import Goal

Array = NDArray[np.float64]
Want = Literal["depth", "hardness", "blow"]

TOLERANCE_HRC: Final = 1.0
"""A skin softer than wanted by no more than this counts as hard enough [HRC]; as in `temper_choice`."""
LIKELY: Final = 0.5
"""Odds from which a depth or a hardness counts as met; own choice."""
SAFE: Final = 0.7
"""Odds of not snapping from which a blow counts as survived; own choice, asked for more as it can hurt."""
BARS: Final[Mapping[Want, float]] = {"depth": LIKELY, "hardness": LIKELY, "blow": SAFE}
NEAR_BEST: Final = 0.8
"""Share of the best odds of a depth that is near enough, where the forge is known too little for more."""
DEPTH_STEP_M: Final = 5e-5
HARDNESS_STEP_HRC: Final = 1.0
ODDS_STEP: Final = 0.1
"""How finely what gives way is told apart: within a step the choice that changes less is nearer."""


@dataclass(frozen=True)
class Blow:
    """A blow as a bend that must not break the part: how it is held, and to which angle [deg]."""

    how: Bend
    asked_deg: float


@dataclass(frozen=True)
class Wants:
    """What is wanted of a part; None for what is not asked.

    goal : the depth, which is always asked; hardness_HRC : of the finished skin at least [HRC]
    """

    goal: Goal
    hardness_HRC: float | None = None
    blow: Blow | None = None

    @property
    def asked(self) -> tuple[Want, ...]:
        """The wants there are."""
        hard: tuple[Want, ...] = () if self.hardness_HRC is None else ("hardness",)
        blow: tuple[Want, ...] = () if self.blow is None else ("blow",)
        return ("depth", *hard, *blow)


@dataclass(frozen=True)
class Met:
    """How well a choice meets the wants: odds of each, 1 where it is not asked, and of all at once.

    depth_m : middle case after grinding [m]; skin_HRC : middle hardness of the finished skin [HRC]
    """

    depth: float
    hardness: float
    blow: float
    together: float
    depth_m: float
    skin_HRC: float

    def odds(self, want: Want) -> float:
        """Return the odds of one want."""
        return float(getattr(self, want))


@dataclass(frozen=True)
class Tried:
    """A choice that was tried: place of its route and of its temper, and how it meets the wants."""

    route: int
    temper: int
    met: Met


@dataclass(frozen=True)
class Nearest:
    """A choice near what is wanted, and the want that gives way for it; None where all are met."""

    gives_way: Want | None
    tried: Tried


@dataclass(frozen=True)
class Answer:
    """Whether the wants go together.

    missed : wants the present choice does not meet; they_fit : it or another choice meets all
    best : best odds of each want alone
    nearest : one choice that meets all, or else one for each want that could give way
    """

    missed: tuple[Want, ...]
    they_fit: bool
    best: Mapping[Want, float]
    nearest: tuple[Nearest, ...]


def met_of(wants: Wants, case_m: Array, skin_HRC: Array, final_deg: Array | None) -> Met:
    """Return how well draws meet the wants.

    case_m : (draws,) case after grinding, below 0 for none [m]; skin_HRC : (draws,) finished skin [HRC]
    final_deg : (draws,) angle at which the part breaks [deg], None where no blow is asked
    """
    goal, wanted = wants.goal, wants.hardness_HRC
    deep = (case_m >= goal.depth_low_m) & (case_m <= goal.depth_high_m)
    hard = np.full(case_m.shape, True) if wanted is None else skin_HRC >= wanted - TOLERANCE_HRC
    whole = np.full(case_m.shape, True)
    if final_deg is not None and wants.blow is not None:
        whole = final_deg >= wants.blow.asked_deg
    return Met(
        depth=float(deep.mean()),
        hardness=float(hard.mean()),
        blow=float(whole.mean()),
        together=float((deep & hard & whole).mean()),
        depth_m=max(float(np.median(case_m)), 0.0),
        skin_HRC=float(np.median(skin_HRC)),
    )


def weigh(
    wants: Wants, now: Met, best_depth: float, tried: Sequence[Tried] = (), changes: Sequence[int] = ()
) -> Answer:
    """Say whether the wants go together, which the present choice misses, and what comes near.

    wants : what is wanted; now : how the present choice meets it
    best_depth : odds of the depth at the soak that is best for it alone
    tried : other choices, from `try_choices`; changes : how much each would change, the less the nearer
    Returns the answer. Where no choice meets all, those that come near hold to the other wants as well as
    they can be held to, and give up less of something than the present one does.
    Source: own choice of bars, `BARS` and `NEAR_BEST`.
    """
    met = [now, *(one.met for one in tried)]
    best = {want: max(one.odds(want) for one in met) for want in wants.asked}
    best["depth"] = max(best["depth"], best_depth)
    bars = {want: BARS[want] for want in wants.asked} | {"depth": min(LIKELY, NEAR_BEST * best["depth"])}
    missed = tuple(want for want in wants.asked if now.odds(want) < bars[want])
    order = list(zip(tried, changes, strict=True))
    all_met = [pair for pair in order if _meets(pair[0].met, wants.asked, bars)]
    if all_met:
        tidy = min(all_met, key=lambda pair: (pair[1], -pair[0].met.together))
        nearest = [Nearest(None, tidy[0])]
    else:
        reached = {want: min(bar, NEAR_BEST * best[want]) for want, bar in bars.items()}
        given_up = {want: _missing(wants, want, now) for want in missed}
        better = [
            pair
            for pair in order
            if any(_missing(wants, want, pair[0].met) < most for want, most in given_up.items())
        ]
        nearest = [
            one
            for one in _nearest(wants, better, reached)
            if one.gives_way is not None and not _meets(one.tried.met, [one.gives_way], bars)
        ]
        nearest += _safest(wants, better, nearest, reached)
    return Answer(missed, not missed or bool(all_met), best, tuple(nearest))


def _nearest(wants: Wants, order: Sequence[tuple[Tried, int]], bars: Mapping[Want, float]) -> list[Nearest]:
    """Return, for each want that could give way, the choice that gives up least of it; the others are met."""
    nearest = []
    for want in wants.asked:
        others = [one for one in wants.asked if one != want]
        left = [pair for pair in order if _meets(pair[0].met, others, bars)]
        if left:
            chosen = min(left, key=lambda pair: (_missing(wants, want, pair[0].met), pair[1]))
            nearest.append(Nearest(want, chosen[0]))
    return nearest


def _safest(
    wants: Wants,
    order: Sequence[tuple[Tried, int]],
    nearest: Sequence[Nearest],
    bars: Mapping[Want, float],
) -> list[Nearest]:
    """Return the choice that snaps least at the wanted hardness, where those that are near are not safe."""
    hard = [pair for pair in order if "hardness" not in bars or pair[0].met.hardness >= bars["hardness"]]
    known = max((one.tried.met.blow for one in nearest), default=0.0)
    if wants.blow is None or not hard or known >= SAFE:
        return []
    safest, _ = min(hard, key=lambda pair: (_missing(wants, "blow", pair[0].met), pair[1]))
    return [Nearest("depth", safest)] if safest.met.blow >= known + ODDS_STEP else []


def _meets(met: Met, asked: Sequence[Want], bars: Mapping[Want, float]) -> bool:
    return all(met.odds(want) >= bars[want] for want in asked)


def _missing(wants: Wants, want: Want, met: Met) -> float:
    """Return how much of a want is given up, in whole steps."""
    if want == "depth":
        inside = float(np.clip(met.depth_m, wants.goal.depth_low_m, wants.goal.depth_high_m))
        return round(abs(met.depth_m - inside) / DEPTH_STEP_M)
    if want == "hardness":
        return round(max((wants.hardness_HRC or 0.0) - met.skin_HRC, 0.0) / HARDNESS_STEP_HRC)
    return round((1.0 - met.blow) / ODDS_STEP)
