"""Rules of thumb as a shop would use them on its own coupons: one factor, fitted to what was read.

They are what the model is measured against, with the same coupons, and are never used in a forecast.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from model.box_course import warm_up_s
from model.process import Carburize, Process
from model.rules import harris_total_depth_1943, tenth_millimetre_an_hour

Array = NDArray[np.float64]

RIM_OF_TOTAL: Final = 0.75
"""Depth an eye sees over Harris's total case [-]; the simulation study's own baseline, assumed."""
LEAST_AT_HEAT: Final = 0.1
"""Least share of a soak that is taken to be at heat, however slow its box [-]; own choice."""


@dataclass(frozen=True)
class ToldSoak:
    """A soak as it was noted.

    temperature_K : mean of what was noted [K]; seconds : by the soak's clock [s], above 0
    at_heat_s : the same less what the books give the box to warm [s]
    """

    temperature_K: float
    seconds: float
    at_heat_s: float


@dataclass(frozen=True)
class Rule:
    """A rule of thumb: depth [m] of a soak, up to one factor where `is_fitted`."""

    name: str
    depth_m: Callable[[ToldSoak], float]
    is_fitted: bool


def told_soak(process: Process) -> ToldSoak | None:
    """Return the first soak of a process as it was noted, None where it has none.

    process : any; the warm-up is `box_course.warm_up_s`, times the share of it that the clock holds
    """
    soak = next((step for step in process.steps if isinstance(step, Carburize)), None)
    if soak is None or soak.history.duration_s <= 0.0:
        return None
    history, seconds = soak.history, soak.history.duration_s
    mean_K = float(np.trapezoid(history.temperature_K, history.seconds)) / seconds
    late_s = soak.lag_share * warm_up_s(process)
    return ToldSoak(mean_K, seconds, max(seconds - late_s, LEAST_AT_HEAT * seconds))


def _tenth(soak: ToldSoak) -> float:
    return float(tenth_millimetre_an_hour(soak.seconds))


def _harris(soak: ToldSoak) -> float:
    return RIM_OF_TOTAL * float(harris_total_depth_1943(soak.temperature_K, soak.seconds))


def _root(soak: ToldSoak) -> float:
    return 1.0e-5 * float(np.sqrt(soak.seconds))


def _harris_at_heat(soak: ToldSoak) -> float:
    return RIM_OF_TOTAL * float(harris_total_depth_1943(soak.temperature_K, soak.at_heat_s))


RULES: Final = (
    Rule("tenth", _tenth, is_fitted=False),
    Rule("harris", _harris, is_fitted=False),
    Rule("root", _root, is_fitted=True),
    Rule("scaled_harris", _harris_at_heat, is_fitted=True),
)
"""0.1 mm an hour; Harris's law for the time that was noted, 0.75 of his total; k times the root of the time;
Harris's law for the time at heat by the books, times one factor: the strongest of them."""


def foretold_by(rule: Rule, coupons: Sequence[ToldSoak], read_m: Array, soak: ToldSoak) -> float:
    """Return the depth that a rule foretells of a soak, its factor fitted to coupons.

    coupons, read_m : soaks and depths that were read of them, (n,) [m]; none for a fitted rule gives nan
    Returns the depth [m]. Source: least squares of the depths, the best of four ways on shops drawn from the
    books (the others: median, mean and geometric mean of read over rule).
    """
    asked = rule.depth_m(soak)
    if not rule.is_fitted:
        return asked
    by_rule = np.array([rule.depth_m(coupon) for coupon in coupons])
    return asked * float(read_m @ by_rule / (by_rule @ by_rule)) if len(coupons) else float("nan")


def width_of(rule: Rule, coupons: Sequence[ToldSoak], read_m: Array) -> float:
    """Return the 90 % band of the next reading over its middle, from how the coupons scatter; nan below 3.

    Source: Student's prediction interval of the logarithm of read over rule; coupons of no depth left out.
    """
    ratios = np.array([depth / rule.depth_m(soak) for soak, depth in zip(coupons, read_m, strict=True)])
    found = np.log(ratios[ratios > 0.0])
    if len(found) < 3:
        return float("nan")
    half = float(stdtrit(len(found) - 1, 0.95)) * found.std(ddof=1) * (1.0 + 1.0 / len(found)) ** 0.5
    return float(2.0 * np.sinh(half))


def left_out_foretold(rule: Rule, coupons: Sequence[ToldSoak], read_m: Array, fires: Sequence[str]) -> Array:
    """Return what a rule foretells of each coupon with its factor fitted to all other fires, (n,) [m].

    fires : the fire of each coupon; nan where no other fire has a coupon
    """
    names = np.array(fires)
    foretold = np.full(len(coupons), np.nan)
    for place, soak in enumerate(coupons):
        is_other = names != names[place]
        others = [coupon for coupon, is_told in zip(coupons, is_other, strict=True) if is_told]
        foretold[place] = foretold_by(rule, others, read_m[is_other], soak)
    return foretold
