"""What can still be done with a piece that came out wrong, each way with its odds.

The piece is taken as its own readings leave it (`narrowed`). Each way is its story continued: the next heat
starts from the carbon that is there, in a fire whose luck nobody knows yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import Constants
from model.box_course import box_cooling
from model.course import HOT_STEPS
from model.curves import monotone_curve
from model.errors import NotPossible
from model.finish import finish_of
from model.narrowed import Narrowed
from model.outcome import (
    LOW_TEMPER_K,
    Finished,
    Outcome,
    Oven,
    Wanted,
    as_it_is,
    at_face,
    outcome_of,
    shares_met,
    tempered,
)
from model.piece_now import PieceNow, Requench, heat_again, piece_now, quench_again
from model.planner import HEAT_LIMITS_K
from model.process import (
    Carburize,
    EvenOut,
    History,
    Process,
    Reheat,
    SlowCool,
    Temper,
)
from model.reheat_advice import MUCH_RETAINED, REHEAT_S, reheat_options
from model.remedy import AGAIN, WORK, Advice, BathChoice, Remedy, Standing, Way, WhyNot
from model.temper_choice import STEP_K as TEMPER_STEP_K

Array = NDArray[np.float64]
EXTRA_SOAKS_S: Final = (900.0, 3600.0, 10800.0, 25200.0, 50400.0)
"""Further soaks that are solved [s], a quarter of an hour to fourteen hours: as long as a night."""
ROUNDED_TO_S: Final = 900.0
EVEN_OUTS_S: Final = (3600.0, 7200.0, 14400.0)
ANOTHER_HEAT_K: Final = 15.0
"""Heats nearer than this count as one [K]: no small fire is held closer."""
CASE_CARBON_WT: Final = (0.3, 1.6)
"""Range of `reheat_options`."""
RICH_WT: Final = 0.95
"""Carbon from which a skin is too rich [wt%]: network and soft austenite; common practice, no source."""
TOO_HARD_HRC: Final = 1.0
"""How far over what is wanted a skin must be to be worth a hotter temper [HRC]; two testers differ by it."""
HOPELESS: Final = 0.05
"""Odds of the wanted depth under which a way counts as none; own choice."""


@dataclass(frozen=True)
class _Task:
    """What every way is worked out from; heats before the quench are the case's and the core's [K]."""

    process: Process
    narrowed: Narrowed
    wanted: Wanted
    baths: tuple[BathChoice, ...]
    now: PieceNow
    case_heat_K: float
    core_heat_K: float
    oven: Oven

    def next_constants(self, bath: BathChoice) -> Constants:
        """Return the constants of the next fire and one bath."""
        return self.narrowed.constants(next_process(self.process, bath))

    def requenched(self, carbon_wt: Array, bath: BathChoice) -> list[Finished]:
        """Return carbon of several ways, (ways, draws, n), after the case's heat, a bath and a temper."""
        heat = Requench(self.case_heat_K, bath.quench, self.next_constants(bath))
        made = quench_again(self.process, self.now.depth_m, carbon_wt, [heat] * len(carbon_wt))
        return [
            tempered(self.wanted, self.now, carbon, hardened, self.oven)
            for carbon, hardened in zip(carbon_wt, made, strict=True)
        ]


def next_process(process: Process, bath: BathChoice) -> Process:
    """Return what the constants of the next fire hang on; `narrow` must be told of it for every bath.

    process : all that was done to the piece; bath : of the next quench
    """
    keys = replace(process.keys, fire=AGAIN, bath=bath.key)
    heated = tuple(step for step in process.steps if isinstance(step, HOT_STEPS))
    steps = (*heated, bath.quench, Temper(LOW_TEMPER_K, 1.0))
    return replace(process, steps=steps, keys=keys, record_doubt_K=0.0, temper_doubt_K=0.0)


def advise(
    process: Process,
    narrowed: Narrowed,
    wanted: Wanted,
    baths: Sequence[BathChoice],
    temper_s: float,
    reads_HRC: float | None = None,
) -> Advice:
    """Work out every way to put a piece right.

    process : all that was done to it, ending in a quench, with tempers or without
    narrowed : draws by its readings, told of `process` and of `next_process` for every bath
    wanted : case and hardness; baths : one or more, the one it was quenched in first
    temper_s : how long the shop tempers [s]
    reads_HRC : hardness last read on it, None where none was; no piece is tempered softer than it reads
    Returns how it stands and the ways, best odds first.
    Raises NotPossible as `harden`; for a process without a quench, or no bath to choose.
    Source: own; `carbon_states`, `harden_quickly` and `choose_temper` for each way.
    """
    if not baths:
        raise NotPossible("baths", "the shop has no bath", "Write a bath down first.")
    now = piece_now(process, narrowed.constants(process))
    heats = _heats(process, float(np.median(now.carbon_wt[:, 0])))
    oven = Oven.of(narrowed.constants(next_process(process, baths[0])), temper_s)
    task = _Task(process, narrowed, wanted, tuple(baths), now, *heats, oven)
    standing = _standing(task)
    left, reheated = _left(task), list(_reheated(task))
    bath = _hardest(task, reheated)
    again = (_evened_out(task, bath, standing), _boxed(task, bath, left))
    ways = [left, _tempered(task, left, reads_HRC), *reheated, *again]
    return Advice(standing, tuple(sorted(ways, key=_rank)))


def _rank(way: Remedy) -> tuple[bool, float, int]:
    """Return what ways are put in order by; a tenth of odds is not worth another fire."""
    odds = 0.0 if way.outcome is None else way.outcome.odds
    return way.why_not != "", -round(odds, 1), WORK.index(way.way)


def _hardest(task: _Task, reheated: Sequence[Remedy]) -> BathChoice:
    """Return the bath that most likely gives the wanted hardness; the last one used if it is as good."""
    odds: dict[str, float] = {}
    for way in reheated:
        met = 1.0 if way.outcome is None or way.outcome.odds_hardness is None else way.outcome.odds_hardness
        odds.setdefault(way.bath, round(met, 1))
    return max(task.baths, key=lambda bath: odds[bath.key])


def _heats(process: Process, skin_wt: float) -> tuple[float, float]:
    """Return the heats that the books give a carburized case, and its core, before the quench [K]."""
    carbon_wt = float(np.clip(skin_wt, *CASE_CARBON_WT))
    options = reheat_options(process.steel, carbon_wt, HEAT_LIMITS_K[0], REHEAT_S)
    heats = {option.way: option.heats for option in options}
    return heats["single_case"][0].temperature_K, heats["single_core"][0].temperature_K


def _standing(task: _Task) -> Standing:
    now, hardened = task.now, task.now.hardened
    hard = hardened.martensite + hardened.retained_austenite + hardened.carbide
    skin = (now.carbon_wt, hardened.retained_austenite, hard)
    return Standing(*(float(np.median(at_face(task.wanted, now, values))) for values in skin))


def _why_not(wanted: Wanted, outcome: Outcome) -> WhyNot:
    """Return why a way does not lead to the wanted case, "" where it may."""
    if outcome.odds_depth >= HOPELESS:
        return ""
    return "too_shallow" if outcome.depth_m[1] < wanted.goal.depth_low_m else "too_deep"


def _outcome(task: _Task, made: Finished) -> Outcome:
    return outcome_of(task.wanted, made.depth_m, made.skin_HRC)


def _left(task: _Task) -> Remedy:
    outcome = _outcome(task, as_it_is(task.wanted, task.now))
    return Remedy("as_it_is", outcome, why_not=_why_not(task.wanted, outcome))


def _tempered(task: _Task, left: Remedy, reads_HRC: float | None) -> Remedy:
    """Temper hotter than before; no way for a skin that is, or reads, as soft as wanted or softer."""
    before_K = max((kelvin for kelvin, _ in finish_of(task.process).tempers), default=0.0)
    least_K = before_K + TEMPER_STEP_K if before_K else 0.0
    now = task.now
    made = tempered(task.wanted, now, now.carbon_wt, now.hardened, task.oven, least_K)
    outcome, wanted_HRC = _outcome(task, made), task.wanted.hardness_HRC
    skin_HRC = np.inf if left.outcome is None else left.outcome.skin_HRC[1]
    softest_HRC = skin_HRC if reads_HRC is None else min(skin_HRC, reads_HRC)
    is_soft = wanted_HRC is not None and softest_HRC <= wanted_HRC + TOO_HARD_HRC
    why_not: WhyNot = "soft_already" if is_soft else _why_not(task.wanted, outcome)
    return Remedy("temper", outcome, temper_K=made.temper_K, why_not=why_not)


def _reheated(task: _Task) -> Iterator[Remedy]:
    """Yield another quench in every bath from the heat for the case, and one from the core's in the first."""
    plans = [(task.case_heat_K, bath) for bath in task.baths]
    if abs(task.core_heat_K - task.case_heat_K) > ANOTHER_HEAT_K:
        plans.append((task.core_heat_K, task.baths[0]))
    heats_K = sorted({heat_K for heat_K, _ in plans})
    routes = [(Reheat(History.hold(heat_K, REHEAT_S)),) for heat_K in heats_K]
    by_heat = heat_again(task.process, task.now, task.next_constants(task.baths[0]), routes)
    carbon_wt = np.stack([by_heat[heats_K.index(heat_K)] for heat_K, _ in plans])
    requenches = [Requench(heat_K, bath.quench, task.next_constants(bath)) for heat_K, bath in plans]
    made = quench_again(task.process, task.now.depth_m, carbon_wt, requenches)
    for (heat_K, bath), carbon, hardened in zip(plans, carbon_wt, made, strict=True):
        finished = tempered(task.wanted, task.now, carbon, hardened, task.oven)
        yield _requench("reheat", task, finished, bath, reheat_K=heat_K)


def _requench(way: Way, task: _Task, made: Finished, bath: BathChoice, **more: float) -> Remedy:
    outcome = _outcome(task, made)
    return Remedy(
        way,
        outcome,
        bath=bath.key,
        medium=bath.quench.medium,
        temper_K=made.temper_K,
        why_not=_why_not(task.wanted, outcome),
        **more,
    )


def _last_soak(process: Process) -> Carburize:
    """Return the last stay in the pack."""
    soaks = [step for step in process.steps if isinstance(step, Carburize)]
    if not soaks:
        raise NotPossible("steps", "the piece was never in the pack", "Note its soak first.")
    return soaks[-1]


def _soak_heat_K(process: Process) -> float:
    """Return the heat of the last soak, within what packs are run at [K]."""
    return float(np.clip(_last_soak(process).history.temperature_K[-1], *HEAT_LIMITS_K))


def _evened_out(task: _Task, bath: BathChoice, standing: Standing) -> Remedy:
    """Hold hot with a sealed surface, then quench; a skin that is not too rich only loses by it."""
    heat_K, constants = _soak_heat_K(task.process), task.next_constants(bath)
    if standing.carbon_wt < RICH_WT and standing.retained < MUCH_RETAINED:
        return Remedy("even_out", None, heat_K=heat_K, why_not="not_rich")
    routes = [(EvenOut(History.hold(heat_K, seconds)),) for seconds in EVEN_OUTS_S]
    tried = task.requenched(heat_again(task.process, task.now, constants, routes), bath)
    best = int(np.argmax([_outcome(task, made).odds for made in tried]))
    more = {"heat_K": heat_K, "seconds": EVEN_OUTS_S[best], "reheat_K": task.case_heat_K}
    return _requench("even_out", task, tried[best], bath, **more)


def _boxed(task: _Task, bath: BathChoice, left: Remedy) -> Remedy:
    """Put it back in the box for as long as gives the best odds, then cool shut, reheat and quench."""
    soak, heat_K = _last_soak(task.process), _soak_heat_K(task.process)
    if left.why_not == "too_deep":
        return Remedy("box", None, heat_K=heat_K, why_not="too_deep")
    cool = SlowCool(box_cooling(task.process.box, heat_K), soak.supply)
    routes = [(Carburize(History.hold(heat_K, seconds), soak.supply), cool) for seconds in EXTRA_SOAKS_S]
    tried = task.requenched(heat_again(task.process, task.now, task.next_constants(bath), routes), bath)
    seconds, made = _best_soak(task.wanted, tried)
    more = {"heat_K": heat_K, "seconds": seconds, "reheat_K": task.case_heat_K}
    return _requench("box", task, made, bath, **more)


def _best_soak(wanted: Wanted, tried: Sequence[Finished]) -> tuple[float, Finished]:
    """Return the further soak with the best odds, read between those solved; the shorter of equal ones."""
    nodes = np.sqrt(EXTRA_SOAKS_S)
    at_s = np.arange(EXTRA_SOAKS_S[0], EXTRA_SOAKS_S[-1] + 1.0, ROUNDED_TO_S)
    depth_m, skin_HRC = (
        monotone_curve(nodes, np.stack(values))(np.sqrt(at_s))
        for values in ([made.depth_m for made in tried], [made.skin_HRC for made in tried])
    )
    in_depth, in_hardness = shares_met(wanted, depth_m, skin_HRC)
    odds = (in_depth * in_hardness).mean(axis=1)
    middle_m = 0.5 * (wanted.goal.depth_low_m + wanted.goal.depth_high_m)
    off_m = np.abs(np.median(depth_m, axis=1) - middle_m)
    best = int(np.lexsort((off_m, -np.round(in_depth.mean(axis=1), 2), -np.round(odds, 2)))[0])
    nearest = tried[int(np.abs(nodes - np.sqrt(at_s[best])).argmin())]
    return float(at_s[best]), Finished(depth_m[best], skin_HRC[best], nearest.temper_K)
