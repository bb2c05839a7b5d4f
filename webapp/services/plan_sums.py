"""The sums of a plan: the settled answer over all draws, and the quick one that a stepper asks for.

A settled answer is a planner's run and a forecast over 200 draws: a second or so. The quick one solves
only the carbon of the middle of what is believed afresh, without a quench. It borrows its band from the
settled answer that was worked out last for the same part, stretched in proportion to the depth. The page
asks for the settled one as soon as the hand rests.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from hashlib import sha256
from itertools import takewhile
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from model.assumptions_of_forecast import assumptions_of
from model.belief import Constants, ShopBelief, handbook_belief
from model.bending import Bend, Bent
from model.finish import finish_of
from model.forecast import Forecast, forecast
from model.inputs import links
from model.look import look
from model.planner import BLUR, ROUNDED_TO_S, CurvePoint, Goal, Plan, depth_of, plan, with_soak
from model.process import Process, Quench
from model.sight import Seen, signed_depth
from model.stages import KeptStages
from webapp.services.plan_face import Face, at_depths, face_of
from webapp.services.plan_spreads import HardnessSpreads, hardness_spreads

Array = NDArray[np.float64]

DRAWS: Final = 200
BOOKS_POINTS: Final = 8
KEPT_ANSWERS: Final = 16  # of 7 MB each, with all that is worked out for one
KEPT_STAGES: Final = 6  # of the middle and of the draws, of the last few plans
PLANNED_FROM_S: Final = 4 * 3600.0
QUARTER_S: Final = 900.0
SHORT_SOAK_S: Final = 5400.0
BY_CARBON: Final = ("rim", "total")  # definitions of the depth that ask for no hardness
NO_CASE_m: Final = 1e-5  # thinner than this there is nothing to stretch


@dataclass(frozen=True)
class Believed:
    """A belief that can be told from another by its fingerprint, so that answers can be kept by it."""

    fingerprint: str
    belief: ShopBelief = field(compare=False)

    @classmethod
    def of(cls, belief: ShopBelief) -> Believed:
        """Return a belief with its fingerprint."""
        content = sha256(repr((belief.names, belief.spread)).encode())
        content.update(belief.mean.tobytes())
        for part in belief.covariance.parts:
            content.update(part.tobytes())
        return cls(content.hexdigest(), belief)


@dataclass(frozen=True)
class Foretold:
    """What a process makes of a part: the forecast over draws, and the middle of the belief."""

    goal: Goal
    process: Process
    middle: Forecast
    drawn: Forecast
    middle_face: Face
    drawn_face: Face

    @cached_property
    def hardness(self) -> HardnessSpreads:
        """The bands of hardness, kept for the quick answers that lean on them."""
        return hardness_spreads(self.middle_face, self.drawn_face)

    @cached_property
    def bends(self) -> dict[Bend, Bent]:
        """What bends do to it, over draws, as far as they were asked for."""
        return {}


@dataclass(frozen=True)
class Settled(Foretold):
    """A full answer: the plan, and what the chosen soak makes of the part.

    case_m : (draws,) case depth after grinding, below 0 for none; middle_case_m : that of the middle
    books_m : the books' own depth at the soaks of the plan's curve, empty where the plan is the books'
    """

    soak_s: float
    best: Plan
    case_m: Array
    middle_case_m: float
    lag_s: Array
    books_m: Array


@dataclass(frozen=True)
class Sketched:
    """A quick answer: the middle worked out afresh, and how much deeper it goes than the settled one.

    deeper : the case before grinding over that of the settled answer at its own soak
    deeper_at_once : the same if both had the same soak
    """

    settled: Settled
    process: Process
    soak_s: float
    middle: Forecast
    deeper: float
    deeper_at_once: float
    assumptions: tuple[str, ...]


@lru_cache(maxsize=KEPT_ANSWERS)
def _best_plan(goal: Goal, process: Process, believed: Believed) -> Plan:
    return plan(goal, process, believed.belief, draws=DRAWS)


def carbon_only(process: Process) -> Process:
    """Return a process up to its quench: what its carbon is, without what the quench makes of it."""
    steps = takewhile(lambda step: not isinstance(step, Quench), process.steps)
    return replace(process, steps=tuple(steps), keys=replace(process.keys, bath="", oven=""))


def for_depth(goal: Goal, process: Process) -> Process:
    """Return as much of a process as its case depth hangs on: a quench is slow to work out."""
    return carbon_only(process) if goal.definition in BY_CARBON else process


def settle(goal: Goal, process: Process, soak_s: float | None, believed: Believed) -> Settled:
    """Return the full answer for a soak, or for the one with the best odds when none is given.

    One at a time: two at once would only share the processor, and the second often wants the same.
    """
    with _settling:
        # every soak of one route shares the planner's answer
        found = _settled(goal, with_soak(process, PLANNED_FROM_S), soak_s, believed)
        _latest.keep(found, believed)
        return found


@lru_cache(maxsize=KEPT_ANSWERS)
def _settled(goal: Goal, process: Process, soak_s: float | None, believed: Believed) -> Settled:
    best = _best_plan(goal, for_depth(goal, process), believed)
    chosen_s = handy_soak(best.soak_s) if soak_s is None else soak_s
    chosen = with_soak(process, chosen_s)
    point, constants = believed.belief.point(chosen), believed.belief.constants(chosen, DRAWS)
    _stages.quench_together(chosen, [point, constants])
    middle, middle_case_m = _forecast_with_case(goal, chosen, point)
    drawn, case_m = _forecast_with_case(goal, chosen, constants)
    return Settled(
        goal=goal,
        process=chosen,
        soak_s=chosen_s,
        best=best,
        middle=middle,
        drawn=drawn,
        middle_face=face_of(goal, middle),
        drawn_face=face_of(goal, drawn),
        case_m=case_m,
        middle_case_m=float(middle_case_m[0]),
        lag_s=constants.lag_s,
        books_m=np.array(_books_depth(goal, for_depth(goal, process), best.curve, believed)),
    )


def sketch(goal: Goal, process: Process, soak_s: float, believed: Believed) -> Sketched:
    """Return the quick answer for a soak; the first one for a part takes as long as a settled one."""
    settled = _latest.find(goal, process, believed) or settle(goal, process, soak_s, believed)
    chosen = with_soak(process, soak_s)
    assumptions = assumptions_of(chosen, finish_of(chosen))
    middle = forecast(carbon_only(chosen), believed.belief.point(chosen))
    new, old = _case_by_carbon(settled, middle, believed), settled.middle_case_m + goal.grinding_allowance_m
    deeper = new / old if old > NO_CASE_m else float(new > NO_CASE_m)
    by_soak = (soak_s / settled.soak_s) ** _growth_exponent(settled)
    return Sketched(settled, chosen, soak_s, middle, deeper, deeper / by_soak, assumptions)


def _case_by_carbon(settled: Settled, found: Forecast, believed: Believed) -> float:
    """Return the case before grinding [m] of a forecast without a quench, 0 or more.

    A case that is counted by hardness ends at the carbon at which it ended in the settled answer.
    """
    goal, ground_m = settled.goal, settled.goal.grinding_allowance_m
    if goal.definition in BY_CARBON:
        rim_wt = believed.belief.point(settled.process).rim_carbon_wt
        return max(float(case_of(goal, found, rim_wt)[0]) + ground_m, 0.0)
    old_m = np.array([max(settled.middle_case_m + ground_m, 0.0)])
    ends_wt = at_depths(old_m, settled.middle.depth_m, settled.middle.carbon_wt)[:, 0]
    return max(float(signed_depth(found.depth_m, found.carbon_wt, ends_wt)[0]), 0.0)


def _growth_exponent(settled: Settled) -> float:
    """Return the power of time with which the settled case grows; one half where none does."""
    ground_m = settled.goal.grinding_allowance_m
    first, last = settled.best.curve[0], settled.best.curve[-1]
    start, end = first.depth_median_m + ground_m, last.depth_median_m + ground_m
    if min(start, end) <= NO_CASE_m:
        return 0.5
    return float(np.log(end / start) / np.log(last.soak_s / first.soak_s))


def _forecast_with_case(goal: Goal, process: Process, constants: Constants) -> tuple[Forecast, Array]:
    """Return a forecast and its case depth after grinding, (draws,) [m]."""
    found = forecast(process, constants, _stages)
    return found, case_of(goal, found, constants.rim_carbon_wt)


def case_of(goal: Goal, found: Forecast, rim_wt: Array) -> Array:
    """Return the case depth after grinding, (draws,) [m], as the planner counts it; below 0 for none."""
    hardened = found.hardened
    soft = np.zeros_like(found.carbon_wt)
    seen = Seen(
        found.depth_m,
        found.carbon_wt,
        soft if hardened is None else hardened.as_quenched_HV,
        soft if hardened is None else hardened.tempered_HV,
        rim_wt,
        found.base_carbon_wt,
    )
    return depth_of(goal, seen)


def odds_at(goal: Goal, case_m: Array) -> tuple[float, float, float]:
    """Return the odds of too shallow, inside, too deep; smoothed over draws as the planner does."""
    blur = BLUR * case_m.std() + 1e-9
    shallow = float(ndtr((goal.depth_low_m - case_m) / blur).mean())
    deep = float(ndtr((case_m - goal.depth_high_m) / blur).mean())
    return shallow, 1.0 - shallow - deep, deep


@lru_cache(maxsize=KEPT_ANSWERS)
def _books_depth(
    goal: Goal, process: Process, curve: tuple[CurvePoint, ...], believed: Believed
) -> tuple[float, ...]:
    """Return what the books alone would give at the soaks of a curve; empty where the plan is the books'."""
    if not believed.belief.coupons:
        return ()
    soaks_s = np.array([point.soak_s for point in curve])
    tried_s = np.linspace(soaks_s[0], soaks_s[-1], BOOKS_POINTS)
    inputs = handbook_belief().point_inputs(links(process))
    seen = look(
        [with_soak(process, soak_s) for soak_s in tried_s],
        np.repeat(inputs[None, None], BOOKS_POINTS, axis=0),
    )
    depth_m = [max(float(depth_of(goal, one)[0]), 0.0) for one in seen]
    return tuple(np.interp(np.sqrt(soaks_s), np.sqrt(tried_s), depth_m).tolist())


def handy_soak(soak_s: float) -> float:
    """Return a soak as a shop keeps it: to a quarter of an hour, a short one to five minutes."""
    to_s = QUARTER_S if soak_s >= SHORT_SOAK_S else ROUNDED_TO_S
    return max(to_s * round(soak_s / to_s), ROUNDED_TO_S)


class _Latest:
    """The settled answer worked out last for each part; sketches take their band from it."""

    def __init__(self) -> None:
        self._found: dict[tuple[object, ...], Settled] = {}
        self._lock = Lock()

    def keep(self, found: Settled, believed: Believed) -> None:
        """Keep an answer in place of the one before it; the oldest of too many goes."""
        key = self._key(found.goal, found.process, believed)
        with self._lock:
            self._found.pop(key, None)
            self._found[key] = found
            while len(self._found) > KEPT_ANSWERS:
                del self._found[next(iter(self._found))]

    def find(self, goal: Goal, process: Process, believed: Believed) -> Settled | None:
        """Return the answer that a sketch can start from."""
        with self._lock:
            return self._found.get(self._key(goal, process, believed))

    @staticmethod
    def _key(goal: Goal, process: Process, believed: Believed) -> tuple[object, ...]:
        return goal, process.section, process.steel, believed


_latest = _Latest()
_stages = KeptStages(KEPT_STAGES)
_settling = Lock()
