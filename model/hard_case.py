"""What a good case reads on each of a shop's testers: the sum that is known where its parts are not.

A tester's bias, the hardness of martensite and the share of soft austenite all move a reading on a hard skin
alike, so coupons tell their sum long before they tell any one of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from model.belief import ShopBelief, handbook_belief
from model.inputs import LATENTS, links
from model.learnt import NOT_YET_LEARNT, Band, ParameterRow
from model.look import look
from model.planner import band
from model.priors import prior_for
from model.process import Carburize, History, Process
from model.readings import FilesReading, HardnessReading, Observation

Array = NDArray[np.float64]

DRAWS: Final = 200
ROCKWELL: Final = HardnessReading("HRC", 60.0)
FILES: Final = FilesReading(60.0, None)
DEEP_SOAK_S: Final = 8.0 * 3600.0  # a case too deep for a cone to feel what is under it


def hard_case_rows(
    observations: Sequence[Observation], belief: ShopBelief, jobs: Sequence[Process]
) -> tuple[ParameterRow, ...]:
    """Return what a deep case out of water would read on each tester that told of a skin.

    observations : the readings that were used; belief : learnt from them
    jobs : standard jobs of the shop, of which the first is looked at, soaked for 8 h; none gives no rows
    Returns a row of kind `hard_case` [HRC] for each Rockwell tester and set of files, without the luck of
    any one fire and without a reading's own scatter.
    """
    taught: dict[str, set[str]] = {}
    for observation in observations:
        tester = _tester_of_skin(observation)
        if tester and not tester.endswith(":?"):
            taught.setdefault(tester, set()).add(observation.coupon or observation.key)
    if not taught or not jobs:
        return ()
    soak = cast(Carburize, jobs[0].steps[0])
    deep = replace(soak, history=History.hold(soak.history.temperature_K[0], DEEP_SOAK_S))
    job = replace(jobs[0], steps=(deep, *jobs[0].steps[1:]))
    return tuple(_row(tester, belief, job, len(coupons)) for tester, coupons in taught.items())


def _tester_of_skin(observation: Observation) -> str:
    """Return the Rockwell tester or set of files of a reading, "" for any other kind."""
    reading = observation.reading
    if isinstance(reading, FilesReading) or (isinstance(reading, HardnessReading) and reading.scale != "HV"):
        return reading.tester[0]
    return ""


def _row(tester: str, belief: ShopBelief, job: Process, coupons: int) -> ParameterRow:
    books, now = (_band(_readings(tester, one, job)) for one in (handbook_belief(), belief))
    # by the bands that are shown: the few draws of a soft skin far below them would outweigh all others
    is_learnt = now.high - now.low <= NOT_YET_LEARNT * (books.high - books.low)
    return ParameterRow("hard_case", tester, "HRC", books, now, is_learnt, coupons)


def _readings(tester: str, belief: ShopBelief, job: Process) -> Array:
    """Return what the tester would show of the job in each draw, (draws,) [HRC]."""
    name, linked = f"tester/{tester}", links(job)
    names = linked.names_in_turn()
    drawn = belief.drawn((*names, name), DRAWS, 0)
    drawn[:, [one.startswith(LATENTS) for one in (*names, name)]] = 0.0
    inputs = linked.offset + drawn[:, :-1] @ linked.matrix(names).T
    reading = FILES if tester.startswith("files") else ROCKWELL
    skin = reading.predicted(look([job], inputs[None])[0]).value[:, 0]
    return np.asarray(skin + prior_for(name).sd * drawn[:, -1])


def _band(readings: Array) -> Band:
    low, middle, high = band(readings)
    return Band(float(middle), float(low), float(high))
