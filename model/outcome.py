"""What a hardened piece is against what was wanted of it: case, skin, and the odds of both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.belief import Constants
from model.conversion import rockwell_c_continued
from model.errors import NotPossible
from model.hardening import Hardened
from model.hardness import TEMPER_RANGE_K, temper_parameter, tempered_vickers, true_temper_K
from model.piece_now import PieceNow
from model.planner import BLUR, Goal, band, depth_of
from model.sight import Seen
from model.temper_choice import Skin, TemperChoice, choose_temper
from model.traverse import interpolate_rows

Array = NDArray[np.float64]

HARDNESS_TOLERANCE_HRC: Final = 2.0
"""How near a wanted hardness counts as met [HRC]: drawings give a range of about 4; common practice."""
HARDNESS_BLUR_HRC: Final = 0.5
"""Smooths the odds of few draws [HRC]; own choice."""
USUAL_TEMPER_K: Final = 453.15
"""Temper where no hardness is wanted [K], 180 C: of 120 to 205 C for a case; common practice, no source."""
LOW_TEMPER_K: Final = 423.15
"""Temper of a skin no harder than wanted [K], 150 C, against snapping; common practice, no source."""
LEAST_BLUR_M: Final = 1e-9


@dataclass(frozen=True)
class Wanted:
    """What a piece should be: its case, and its finished skin's hardness [HRC] where one is wanted."""

    goal: Goal
    hardness_HRC: float | None = None


@dataclass(frozen=True)
class Outcome:
    """What a way comes to: 5, 50 and 95 % of depth after grinding [m] and of the finished skin [HRC].

    odds_depth, odds_hardness : of each within what is wanted; the second is None where none is wanted
    odds : of both at once
    """

    depth_m: tuple[float, float, float]
    skin_HRC: tuple[float, float, float]
    odds_depth: float
    odds_hardness: float | None
    odds: float


@dataclass(frozen=True)
class Oven:
    """How the shop tempers: time at heat [s], and what its oven and the law are off by, (draws,) each."""

    seconds: float
    offset_K: Array
    loss_factor: Array

    @classmethod
    def of(cls, constants: Constants, seconds: float) -> Oven:
        """Return the oven of constants."""
        return cls(seconds, constants.oven_offset_K, constants.temper_loss_factor)


@dataclass(frozen=True)
class Finished:
    """Depth after grinding [m] and finished skin [HRC] of every draw, (draws,), and the temper chosen [K]."""

    depth_m: Array
    skin_HRC: Array
    temper_K: float | None


def outcome_of(wanted: Wanted, depth_m: Array, skin_HRC: Array) -> Outcome:
    """Return what draws of depth [m] and skin [HRC], (draws,) each, come to."""
    in_depth, in_hardness = shares_met(wanted, depth_m, skin_HRC)
    low, middle, high = (float(value) for value in band(depth_m))
    soft, usual, hard = (float(value) for value in np.quantile(skin_HRC, (0.05, 0.5, 0.95)))
    return Outcome(
        depth_m=(low, middle, high),
        skin_HRC=(soft, usual, hard),
        odds_depth=float(in_depth.mean()),
        odds_hardness=None if wanted.hardness_HRC is None else float(in_hardness.mean()),
        odds=float((in_depth * in_hardness).mean()),
    )


def shares_met(wanted: Wanted, depth_m: Array, skin_HRC: Array) -> tuple[Array, Array]:
    """Return how far each draw is within the wanted case and hardness, 0 to 1, (..., draws) each.

    A draw near an end counts in part, which smooths the odds of few draws.
    """
    goal = wanted.goal
    blur_m = BLUR * depth_m.std(axis=-1, keepdims=True) + LEAST_BLUR_M
    in_depth = ndtr((goal.depth_high_m - depth_m) / blur_m) - ndtr((goal.depth_low_m - depth_m) / blur_m)
    if wanted.hardness_HRC is None:
        return in_depth, np.ones_like(in_depth)
    off_HRC = np.abs(skin_HRC - wanted.hardness_HRC)
    return in_depth, ndtr((HARDNESS_TOLERANCE_HRC - off_HRC) / HARDNESS_BLUR_HRC)


def as_it_is(wanted: Wanted, now: PieceNow) -> Finished:
    """Return a piece as it is; one whose temper is not modelled counts as quenched."""
    tempered = now.hardened.tempered_HV
    final_HV = now.hardened.as_quenched_HV if np.isnan(tempered).any() else tempered
    return _finished(wanted, now, now.carbon_wt, final_HV, None)


def tempered(
    wanted: Wanted,
    now: PieceNow,
    carbon_wt: Array,
    hardened: Hardened,
    oven: Oven,
    hotter_than_K: float = 0.0,
) -> Finished:
    """Return a quenched piece with the temper that best brings its finished skin to what is wanted.

    now : the piece, for its depths and its bar; carbon_wt, hardened : after the quench, (draws, n)
    hotter_than_K : an earlier temper that must be outdone [K]; what it took off is taken to be outdone too
    """
    dial_K = _dial(wanted, now, hardened, oven, hotter_than_K)
    true_K = true_temper_K(dial_K, oven.offset_K)
    final_HV = tempered_vickers(
        hardened.as_quenched_HV,
        hardened.carbon_left_wt,
        hardened.martensite,
        temper_parameter([(true_K, oven.seconds)])[:, None],
        oven.loss_factor[:, None],
    )
    return _finished(wanted, now, carbon_wt, final_HV, dial_K)


def _dial(wanted: Wanted, now: PieceNow, hardened: Hardened, oven: Oven, hotter_than_K: float) -> float:
    """Return the oven's setting [K]; where none gives the wanted hardness the one that comes nearest."""
    least_K = min(max(LOW_TEMPER_K, hotter_than_K), TEMPER_RANGE_K[1])
    if wanted.hardness_HRC is None:
        return max(USUAL_TEMPER_K, least_K)
    values = (hardened.as_quenched_HV, hardened.carbon_left_wt, hardened.martensite)
    skin = Skin(*(at_face(wanted, now, one) for one in values))
    try:
        choice = choose_temper(
            skin,
            wanted.hardness_HRC,
            oven.seconds,
            oven.offset_K,
            oven.loss_factor,
            HARDNESS_TOLERANCE_HRC,
        )
    except NotPossible:
        is_soft = float(np.median(rockwell_c_continued(skin.hardness_HV))) < wanted.hardness_HRC
        return least_K if is_soft else TEMPER_RANGE_K[1]
    return _best_dial(choice, wanted.hardness_HRC, least_K)


def _best_dial(choice: TemperChoice, wanted_HRC: float, least_K: float) -> float:
    """Return the best of the settings that are hot enough."""
    hot = np.flatnonzero(choice.dial_K >= least_K)
    off_HRC = np.abs(choice.middle_HRC[hot] - wanted_HRC)
    return float(choice.dial_K[hot[np.lexsort((off_HRC, -choice.odds[hot]))[0]]])


def at_face(wanted: Wanted, now: PieceNow, values: Array) -> Array:
    """Return values, (draws, n), at the face that grinding leaves, (draws,)."""
    at_m = np.full((len(values), 1), wanted.goal.grinding_allowance_m)
    return interpolate_rows(at_m, now.depth_m, values)[:, 0]


def _finished(
    wanted: Wanted, now: PieceNow, carbon_wt: Array, final_HV: Array, temper_K: float | None
) -> Finished:
    seen = Seen(now.depth_m, carbon_wt, final_HV, final_HV, now.rim_wt, now.base_wt)
    skin_HRC = np.asarray(rockwell_c_continued(at_face(wanted, now, final_HV)))
    return Finished(depth_of(wanted.goal, seen), skin_HRC, temper_K)
