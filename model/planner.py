"""How long to soak for a wanted case depth, with the odds of missing it on either side.

The draws are solved once at a few soaks about the best guess; every other soak is read between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.belief import ShopBelief
from model.curves import monotone_curve
from model.errors import NotPossible
from model.inputs import links
from model.look import look, look_at_soaks
from model.process import Carburize, Process, Section, Shape
from model.sight import Seen, signed_depth
from model.traverse import ISO_18203_LIMIT_HV, TOTAL_CASE_RISE_WT, US_LIMIT_HV
from model.units import INCH_m

Array = NDArray[np.float64]
Definition = Literal["HV550", "HRC50", "total", "rim"]

SHORTEST_SOAK_S: Final = 15.0 * 60.0
LONGEST_SOAK_S: Final = 40.0 * 3600.0
GUESSES: Final = 9  # soaks at which the middle of the belief is solved, to find where to look
NODES: Final = (0.4, 0.8, 1.3, 2.2)  # soaks at which all draws are solved, over the guess
CURVE_POINTS: Final = 41
SEARCH_POINTS: Final = 361
ROUNDED_TO_S: Final = 300.0  # nobody keeps a soak closer than five minutes
BLUR: Final = 0.1  # of the depths' own sd: smooths the odds of a few hundred draws
POOR_ODDS: Final = 0.5
OTHER_HEATS_K: Final = (-25.0, 25.0)
HEAT_LIMITS_K: Final = (1123.15, 1253.15)  # 850 to 980 C, where packs are run; common practice, no source


@dataclass(frozen=True)
class Goal:
    """A wanted case depth.

    definition : depth to 550 HV or 50 HRC (after the temper), total, or the rim seen on a break
    depth_low_m, depth_high_m : window that is wanted after grinding [m], above 0
    grinding_allowance_m : what will be ground off each face [m], 0 or more
    """

    definition: Definition
    depth_low_m: float
    depth_high_m: float
    grinding_allowance_m: float = 0.0

    @property
    def window_m(self) -> tuple[float, float]:
        """Return the window before grinding [m]."""
        return self.depth_low_m + self.grinding_allowance_m, self.depth_high_m + self.grinding_allowance_m


@dataclass(frozen=True)
class CurvePoint:
    """Depth after grinding (90 % band) and surface carbon at one soak."""

    soak_s: float
    depth_low_m: float
    depth_median_m: float
    depth_high_m: float
    surface_carbon_wt: float


@dataclass(frozen=True)
class OtherHeat:
    """The soak that another recorded temperature would need; None when none would do."""

    temperature_K: float
    soak_s: float | None


@dataclass(frozen=True)
class Plan:
    """A soak, the depth it gives after grinding (90 % band) and the odds; `reason` is for a person."""

    soak_s: float
    depth_low_m: float
    depth_median_m: float
    depth_high_m: float
    odds_too_shallow: float
    odds_inside: float
    odds_too_deep: float
    curve: tuple[CurvePoint, ...]
    other_heats: tuple[OtherHeat, ...]
    feasible: bool
    reason: str


def plan(goal: Goal, process: Process, belief: ShopBelief, draws: int = 200, seed: int = 0) -> Plan:
    """Choose the soak with the best odds of landing inside the wanted window.

    goal : what is wanted; process : the whole route, whose longest soak is the one that is varied
    belief : of the shop; draws : 20 or more; seed : any integer
    Returns the plan; when the window cannot be reached it is the nearest, with the reason in words.
    Raises NotPossible for a window upside down, or a process without a soak.
    Source: own; depth over the root of time between solved soaks, monotone cubic.
    """
    _check(goal, process)
    heats = _other_heats(process)
    guess_s, *needed_s = _soaks_for_middle(goal, [process, *heats.values()], belief)
    centre_s = float(np.clip(guess_s, SHORTEST_SOAK_S / NODES[0], LONGEST_SOAK_S / NODES[-1]))
    soaks_s = centre_s * np.array(NODES)
    routes = [with_soak(process, soak_s) for soak_s in soaks_s]
    inputs = belief.inputs(process, draws, seed)
    seen = look_at_soaks(routes, inputs)
    return _best(
        goal,
        _Table(soaks_s, np.array([depth_of(goal, one) for one in seen]), _surface(seen)),
        tuple(OtherHeat(kelvin, _kept_soak(soak_s)) for kelvin, soak_s in zip(heats, needed_s, strict=True)),
        _why_not_feasible(goal, process, guess_s),
    )


def with_soak(process: Process, soak_s: float) -> Process:
    """Return the process with its longest soak stretched to a length [s], its temperatures kept."""
    place = _soak_at(process)
    step = process.steps[place]
    assert isinstance(step, Carburize)
    first, factor = step.history.seconds[0], soak_s / step.history.duration_s
    history = replace(step.history, seconds=tuple(first + factor * (s - first) for s in step.history.seconds))
    return _with_step(process, place, replace(step, history=history))


def hotter(process: Process, by_K: float) -> Process:
    """Return the process with its longest soak that much hotter."""
    place = _soak_at(process)
    step = process.steps[place]
    assert isinstance(step, Carburize)
    history = replace(
        step.history, temperature_K=tuple(kelvin + by_K for kelvin in step.history.temperature_K)
    )
    return _with_step(process, place, replace(step, history=history))


def depth_of(goal: Goal, seen: Seen) -> Array:
    """Return the depth after grinding by the goal's definition, (members,) [m]; below 0 for no case."""
    if goal.definition == "total":
        depth = signed_depth(seen.depth_m, seen.carbon_wt, seen.bar_carbon_wt + TOTAL_CASE_RISE_WT)
    elif goal.definition == "rim":
        depth = signed_depth(seen.depth_m, seen.carbon_wt, seen.rim_carbon_wt)
    else:
        final_HV = np.where(np.isnan(seen.tempered_HV), seen.hardness_HV, seen.tempered_HV)
        limit = ISO_18203_LIMIT_HV if goal.definition == "HV550" else US_LIMIT_HV
        depth = signed_depth(seen.depth_m, final_HV, limit)
    return depth - goal.grinding_allowance_m


@dataclass(frozen=True)
class _Table:
    """Depth after grinding of every draw at the solved soaks, (soaks, draws) [m], and surface carbon."""

    soaks_s: Array
    depth_m: Array
    surface_wt: Array

    def depths(self, soaks_s: Array) -> Array:
        """Return depths at any soaks within the table, (soaks, draws)."""
        return np.asarray(monotone_curve(np.sqrt(self.soaks_s), self.depth_m)(np.sqrt(soaks_s)))

    def odds(self, goal: Goal, soaks_s: Array) -> tuple[Array, Array, Array]:
        """Return the odds of too shallow, inside and too deep, (soaks,) each; they sum to 1."""
        depth = self.depths(soaks_s)
        blur = BLUR * depth.std(axis=1, keepdims=True) + 1e-9
        shallow = ndtr((goal.depth_low_m - depth) / blur).mean(axis=1)
        deep = ndtr((depth - goal.depth_high_m) / blur).mean(axis=1)
        return shallow, 1.0 - shallow - deep, deep

    def curve(self) -> tuple[CurvePoint, ...]:
        """Return the band of depth and the middle of surface carbon over soak."""
        soaks_s = np.linspace(self.soaks_s[0], self.soaks_s[-1], CURVE_POINTS)
        low, middle, high = band(self.depths(soaks_s))
        surface = monotone_curve(np.sqrt(self.soaks_s), self.surface_wt)(np.sqrt(soaks_s))
        return tuple(
            CurvePoint(*(float(value) for value in row))
            for row in zip(soaks_s, low, middle, high, surface, strict=True)
        )


def band(depths: Array) -> tuple[Array, Array, Array]:
    """Return the 5, 50 and 95 % quantiles over draws, no case counted as 0."""
    low, middle, high = np.maximum(np.quantile(depths, [0.05, 0.5, 0.95], axis=-1), 0.0)
    return low, middle, high


def _best(goal: Goal, table: _Table, other_heats: tuple[OtherHeat, ...], why_not: str | None) -> Plan:
    """Choose the soak with the best odds, to five minutes; the middle of the window breaks a tie."""
    tried_s = np.geomspace(table.soaks_s[0], table.soaks_s[-1], SEARCH_POINTS)
    _, inside, _ = table.odds(goal, tried_s)
    off_middle = np.abs(
        np.median(table.depths(tried_s), axis=1) - 0.5 * (goal.depth_low_m + goal.depth_high_m)
    )
    best_s = float(tried_s[np.lexsort((off_middle, -np.round(inside, 3)))[0]])
    rounded_s = max(ROUNDED_TO_S, ROUNDED_TO_S * round(best_s / ROUNDED_TO_S))
    soak_s = float(np.clip(rounded_s, table.soaks_s[0], table.soaks_s[-1]))
    at = np.array([soak_s])
    odds = [float(share[0]) for share in table.odds(goal, at)]
    low, middle, high = (float(value[0]) for value in band(table.depths(at)))
    return Plan(
        soak_s=soak_s,
        depth_low_m=low,
        depth_median_m=middle,
        depth_high_m=high,
        odds_too_shallow=odds[0],
        odds_inside=odds[1],
        odds_too_deep=odds[2],
        curve=table.curve(),
        other_heats=other_heats,
        feasible=why_not is None,
        reason=why_not or _word(odds),
    )


def _word(odds: Sequence[float]) -> str:
    if odds[1] >= POOR_ODDS:
        return ""
    return (
        "The window is narrower than what is known of this forge: even the best soak misses it more often "
        "than not. Widen the window, or run coupons first."
    )


def _soaks_for_middle(goal: Goal, processes: Sequence[Process], belief: ShopBelief) -> list[float]:
    """Return the soak [s] of each process that gives the middle of the window at the middle of the belief.

    0 when the shortest soak is already deeper than the window; infinite when the longest is not deep enough.
    All soaks of all processes are one array.
    """
    soaks_s = np.geomspace(SHORTEST_SOAK_S, LONGEST_SOAK_S, GUESSES)
    routes = [with_soak(process, soak_s) for process in processes for soak_s in soaks_s]
    points = np.array([belief.point_inputs(links(process)) for process in processes])
    seen = look(routes, np.repeat(points, GUESSES, axis=0)[:, None])
    depths = np.array([float(depth_of(goal, one)[0]) for one in seen]).reshape(len(processes), GUESSES)
    return [_soak_between(goal, soaks_s, own) for own in np.maximum.accumulate(depths, axis=1)]


def _soak_between(goal: Goal, soaks_s: Array, depths: Array) -> float:
    """Return the soak [s] that gives the middle of the window, from depths that never fall."""
    if depths[-1] < goal.depth_low_m:
        return float("inf")
    if depths[0] > goal.depth_high_m:
        return 0.0
    middle = np.clip(0.5 * (goal.depth_low_m + goal.depth_high_m), depths[0], depths[-1])
    rising = np.concatenate([[True], np.diff(depths) > 0.0])
    return float(np.interp(middle, depths[rising], np.sqrt(soaks_s[rising])) ** 2)


def _other_heats(process: Process) -> dict[float, Process]:
    """Return the process in a cooler and in a hotter fire, by its heat [K]."""
    step = process.steps[_soak_at(process)]
    assert isinstance(step, Carburize)
    now_K = step.history.temperature_K[-1]
    heats = {now_K + by_K: hotter(process, by_K) for by_K in OTHER_HEATS_K}
    return {kelvin: own for kelvin, own in heats.items() if HEAT_LIMITS_K[0] <= kelvin <= HEAT_LIMITS_K[1]}


def _kept_soak(soak_s: float) -> float | None:
    """Return a soak [s] that somebody could keep, or None."""
    return soak_s if np.isfinite(soak_s) and soak_s > 0.0 else None


def _why_not_feasible(goal: Goal, process: Process, guess_s: float) -> str | None:
    reach_m = _reach_m(process.section)
    if goal.window_m[0] >= reach_m:
        return (
            f"The case wanted is deeper than the part has metal: {1e3 * reach_m:.2f} mm "
            f"({reach_m / INCH_m:.3f} in) to its middle."
        )
    if np.isinf(guess_s):
        return "Even forty hours would not give this depth here: a hotter fire or a richer pack is needed."
    if guess_s == 0.0:
        return "A quarter of an hour already goes deeper than this: use a cooler fire, or want a deeper case."
    return None


def _reach_m(section: Section) -> float:
    """Return how deep a case can be: to the middle, or through a tube wall fed from outside only."""
    if section.shape is not Shape.TUBE:
        return 0.5 * section.size_m
    wall_m = 0.5 * (section.size_m - section.bore_m)
    return 0.5 * wall_m if section.bore_packed else wall_m


def _check(goal: Goal, process: Process) -> None:
    if not 0.0 < goal.depth_low_m <= goal.depth_high_m or goal.grinding_allowance_m < 0.0:
        raise NotPossible(
            "goal", "the least depth must be above 0 and not above the most", "Look at the window."
        )
    _soak_at(process)


def _soak_at(process: Process) -> int:
    """Return the place of the longest soak."""
    soaks = {
        place: step.history.duration_s
        for place, step in enumerate(process.steps)
        if isinstance(step, Carburize)
    }
    if not soaks:
        raise NotPossible("steps", "there is no soak in the pack to plan", "Add a soak.")
    return max(soaks, key=lambda place: soaks[place])


def _with_step(process: Process, place: int, step: Carburize) -> Process:
    return replace(process, steps=(*process.steps[:place], step, *process.steps[place + 1 :]))


def _surface(seen: Sequence[Seen]) -> Array:
    return np.array([float(np.median(one.carbon_wt[:, 0])) for one in seen])
