"""The sums of a case that is still growing, kept by what they hang on: a tenth of a second or two each.

Only carbon is solved. A case that is counted by hardness ends at the carbon at which the plan's own route
ends it at the middle of what is believed: a sketch, and the screen says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.case_while_hot import case_while_hot, held_longer
from model.curves import monotone_curve
from model.inputs import links
from model.look import look
from model.narrowed import Narrowed, Taken, narrow
from model.planner import Definition, Goal, depth_of
from model.process import Carburize, History, HotStep, Process
from model.readings import DepthReading, NoHardSkin, Observation
from model.units import HOUR_s
from webapp.services.plan_face import at_depths
from webapp.services.plan_sums import BY_CARBON, Believed, carbon_only
from webapp.services.soak_pauses import FALL_K_PER_S

Array = NDArray[np.float64]

KEPT_ANSWERS: Final = 32
DRAWS: Final = 64
WEIGHED_DRAWS: Final = 256
HOLDS_s: Final = (600.0, 2 * HOUR_s, 10 * HOUR_s)
LONGEST_HOLD_s: Final = HOLDS_s[-1]
BAND: Final = (0.05, 0.5, 0.95)
_one_at_a_time = Lock()


@dataclass(frozen=True)
class CaseAsked:
    """All that the answer hangs on, but for what is believed.

    process : what was done so far, the soak last; rest : hot steps after it; hold_K : what it is held at on
    route : the plan's own route with its quench, None without one
    """

    process: Process
    readings: tuple[Taken, ...]
    definition: Definition
    rest: tuple[HotStep, ...]
    hold_K: float
    route: Process | None = None


@dataclass(frozen=True)
class CaseFound:
    """The case now, and the middle of what it comes to by further time at heat; `roots` of whole time.

    read : readings of drawn pieces that counted; has_hardness : one of them is no depth by eye
    """

    low_m: float
    middle_m: float
    high_m: float
    so_far_s: float
    roots: Array
    done_m: Array
    is_sketch: bool
    is_rough: bool
    read: int
    has_hardness: bool

    def done_after(self, hold_s: float) -> float:
        """Return the case after so much further time at heat and the rest of the way, the middle [m]."""
        return float(np.interp(np.sqrt(self.so_far_s + hold_s), self.roots, self.done_m))

    def hold_for(self, depth_m: float) -> float:
        """Return how much longer it takes to a depth [s]; 0 where it is reached, inf beyond ten hours."""
        if depth_m > self.done_m[-1]:
            return float("inf")
        root = float(np.interp(depth_m, self.done_m, self.roots))
        return max(root**2 - self.so_far_s, 0.0)


def work_out_case(asked: CaseAsked, believed: Believed) -> CaseFound:
    """Return the case so far, one answer at a time; raises `ModelError` for what cannot be."""
    with _one_at_a_time:
        return _worked_out(asked, believed)


@lru_cache(maxsize=KEPT_ANSWERS)
def _worked_out(asked: CaseAsked, believed: Believed) -> CaseFound:
    soak = asked.process.steps[-1]
    assert isinstance(soak, Carburize)
    standing = replace(soak, history=History.hold(asked.hold_K, HOUR_s))
    narrowed = _narrowed(asked.readings, replace(asked.process, steps=(standing,)), believed)
    climb_s = max(asked.hold_K - soak.history.temperature_K[-1], 0.0) / FALL_K_PER_S
    holds = [held_longer(asked.process, seconds, asked.hold_K, climb_s) for seconds in HOLDS_s]
    end_wt, is_sketch = _end_of_case(asked, believed)
    found = case_while_hot(asked.process, narrowed.constants(asked.process), asked.rest, holds, end_wt)
    low, middle, high = (max(float(end), 0.0) for end in np.quantile(found.now_m, BAND))
    so_far_s = soak.history.duration_s
    roots, done_m = _curve(np.sqrt(so_far_s + np.array(HOLDS_s)), np.median(found.done_m, axis=1))
    counted = [taken for taken in asked.readings if taken.observation.key in narrowed.used]
    has_hardness = not all(goes_by_carbon(taken.observation) for taken in counted)
    return CaseFound(
        low, middle, high, so_far_s, roots, done_m, is_sketch, narrowed.widened, len(counted), has_hardness
    )


@lru_cache(maxsize=KEPT_ANSWERS)
def _narrowed(readings: tuple[Taken, ...], standing: Process, believed: Believed) -> Narrowed:
    """Return the draws that a pin leaves; the same from minute to minute, so weighed once.

    `standing` is the piece in any such soak: only the names of its constants count.
    """
    drawn = WEIGHED_DRAWS if readings else DRAWS
    return narrow(believed.belief, readings, [standing], drawn, DRAWS)


def _curve(roots: Array, done_m: Array) -> tuple[Array, Array]:
    """Return depth over the root of time, fine enough to be read straight between; it never falls."""
    fine = np.linspace(roots[0], roots[-1], 121)
    grown = np.maximum.accumulate(monotone_curve(roots, np.maximum.accumulate(done_m))(fine))
    return fine, grown


def _end_of_case(asked: CaseAsked, believed: Believed) -> tuple[float | str, bool]:
    """Return the carbon at which the case ends, and whether that is a sketch of a hardness."""
    if asked.definition in BY_CARBON:
        return asked.definition, False
    if asked.route is None:
        return "rim", True
    return _carbon_at_hardness(asked.definition, asked.route, believed), True


@lru_cache(maxsize=KEPT_ANSWERS)
def _carbon_at_hardness(definition: Definition, route: Process, believed: Believed) -> float | str:
    """Return the carbon at which the plan's route ends its case by hardness; the rim's where it has none."""
    inputs = believed.belief.point_inputs(links(route))
    (seen,) = look([route], inputs[None, None])
    depth_m = depth_of(Goal(definition, 0.0, 1.0), seen)
    at_m = np.broadcast_to(seen.depth_m, seen.carbon_wt.shape)[0]
    if not 0.0 < depth_m[0] < at_m[-1]:
        return "rim"
    return float(at_depths(depth_m, at_m, seen.carbon_wt)[0, 0])


def goes_by_carbon(observation: Observation) -> bool:
    """Tell whether a reading is a depth by eye, which needs no quench to be worked out."""
    reading = observation.reading
    return isinstance(reading, NoHardSkin) or (
        isinstance(reading, DepthReading) and reading.how in ("break", "etch")
    )


def as_weighed(taken: Taken) -> Taken:
    """Return a reading as it is weighed: a depth by eye off a process without its quench, which is quick."""
    observation = taken.observation
    if not goes_by_carbon(observation):
        return taken
    return replace(taken, observation=replace(observation, process=carbon_only(observation.process)))
