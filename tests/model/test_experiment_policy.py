"""Shops that follow the advice, against shops that repeat themselves and shops that pick anything.

Run by command (`pytest -m long tests/model/test_experiment_policy.py -s` prints the table); its dated
result stands in DEVELOPERS.md beside that of the simulation study.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from model.calibration import fit
from model.experiment import Taking, Trial, Want, weigh
from model.inputs import CARRIED, LATENTS, links
from model.look import look
from model.planner import Goal, depth_of
from model.process import Process
from model.readings import DepthReading, Observation
from tests.model.invented import InventedShop
from tests.model.logbooks import job

RIM = Goal("rim", 5e-4, 9e-4)
BREAK = DepthReading("break", 5e-4)
SHOPS, FIRST, MORE = 24, 2, 4
NEXT = {"other mix and box": job("", 6.0, mix="2", box="2"), "the same again": job("", 4.0)}


def coupon(fire: str, mix: str, box: str, hours: float) -> Process:
    return job(fire, hours, mix=mix, box=box)


MENU = [(mix, box, hours) for mix in "12" for box in "12" for hours in (2.0, 4.0, 8.0)]
USUAL = ("1", "1", 4.0)


def pick(
    policy: str, observations: list[Observation], want: Want, rng: np.random.Generator
) -> tuple[str, str, float]:
    if policy == "repeat":
        return USUAL
    if policy == "anything":
        return MENU[int(rng.integers(len(MENU)))]
    trials = [Trial(str(k), (Taking(coupon("new", *one), (BREAK,)),)) for k, one in enumerate(MENU)]
    return MENU[int(weigh([want], trials, fit(observations, []).belief).worths[0].trial)]


def true_depth_m(shop: InventedShop, process: Process) -> float:
    """Return the depth of a job in a shop whose fire has no luck of its own."""
    linked = links(process)
    inputs = linked.offset.copy()
    for name, row, coefficient in linked.terms:
        if not name.startswith(LATENTS) and name not in CARRIED.values():
            inputs[row] += coefficient * shop.coordinate(name)
    return float(depth_of(RIM, look([process], inputs[None, None])[0])[0])


def error_mm(seed: int, policy: str, process: Process) -> float:
    """Return by how much a shop's depth is off after its coupons."""
    shop, rng, want = InventedShop(seed), np.random.default_rng(seed), Want("next", process, "depth", RIM)
    observations: list[Observation] = []
    for fire in range(FIRST + MORE):
        told = USUAL if fire < FIRST else pick(policy, observations, want, rng)
        observations.append(shop.note(Observation(str(fire), coupon(f"f{fire}", *told), BREAK, str(fire))))
    belief = fit(observations, []).belief
    found = depth_of(RIM, look([process], belief.point_inputs(links(process))[None, None])[0])[0]
    return 1e3 * (float(found) - true_depth_m(shop, process))


@cache
def rms_mm(policy: str, wanted: str) -> float:
    errors = [error_mm(5000 + seed, policy, NEXT[wanted]) for seed in range(SHOPS)]
    return float(np.sqrt(np.mean(np.square(errors))))


@pytest.mark.long
def test_following_the_advice_beats_repeating_for_a_job_that_is_new() -> None:
    table = {
        wanted: {policy: rms_mm(policy, wanted) for policy in ("repeat", "anything", "advice")}
        for wanted in NEXT
    }
    for wanted, row in table.items():
        print(wanted, {policy: round(value, 3) for policy, value in row.items()})  # noqa: T201
    new = table["other mix and box"]
    assert new["advice"] < 0.9 * new["repeat"]
    assert new["advice"] < 1.05 * new["anything"]
