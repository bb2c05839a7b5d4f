"""One shop put to the test: it keeps a logbook, fits it, and foretells a job of which the truth is known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zlib import crc32

import numpy as np

from model.belief import ShopBelief
from model.calibration import FitResult, fit
from model.conversion import rockwell_c_continued
from model.kept_forecasts import KeptForecasts
from model.look import look
from model.planner import Definition, Goal, depth_of
from model.process import Process
from model.readings import DepthReading, Observation
from model.rule_fits import RULES, ToldSoak, foretold_by, told_soak, width_of
from model.sight import Seen
from tests.honesty.shops import HonestShop
from tests.honesty.worlds import World

DRAWS = 300
MM = 1e3
LEVELS = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Verdict:
    """One foretold value beside its truth: depths in mm, hardness in HRC.

    job : which of the jobs foretold at that moment; target : `rim`, `HV550` or `HRC`
    truth, low, middle, high : no case counts as 0; rank : share of the draws below the truth, all as they are
    rules : of the rim, what each rule of thumb foretells; widths : its 90 % band over its middle
    """

    world: str
    heat: str
    batches: int
    seed: int
    job: int
    mix: str
    medium: str
    target: str
    truth: float
    low: float
    middle: float
    high: float
    rank: float
    settled: bool
    rules: tuple[float, ...] = ()
    widths: tuple[float, ...] = ()


def values_of(seen: Seen) -> dict[str, np.ndarray]:
    """Return what is foretold of a piece, over its members."""
    wanted: tuple[Definition, ...] = ("rim", "HV550")
    depths = {name: MM * depth_of(Goal(name, 1e-4, 1e-2), seen) for name in wanted}
    return depths | {"HRC": rockwell_c_continued(seen.hardness_HV[:, 0])}


def foretell(belief: ShopBelief, process: Process, seed: int) -> dict[str, np.ndarray]:
    """Return draws of each value, through what the planner looks at.

    seed : of the shop: what 300 draws are off by would else be off alike in all shops, and in no error told
    """
    drawn = belief.inputs(process, DRAWS, crc32(f"draws of {seed}".encode()))
    return values_of(look([process], drawn[None])[0])


def verdicts(seed: int, world: World, heat: str, counts: Sequence[int], jobs: int = 1) -> Iterator[Verdict]:
    """Put one shop to the test after each number of batches, on one job or on several."""
    shop = HonestShop(seed, world, heat)
    book, kept = shop.logbook(max(counts)), KeptForecasts()
    for batches in counts:
        observations = [one for batch in book[:batches] for one in batch]
        result = fit(observations, [], kept=kept)
        for which in range(jobs):
            yield from _on_one_job(shop, batches, which, observations, result)


def _on_one_job(
    shop: HonestShop, batches: int, which: int, observations: Sequence[Observation], result: FitResult
) -> Iterator[Verdict]:
    job = shop.next_job(batches, which)
    drawn, truly = foretell(result.belief, job, shop.seed), values_of(shop.truth(job, batches))
    for target, values in drawn.items():
        truth = float(truly[target][0])
        least = -np.inf if target == "HRC" else 0.0
        low, middle, high = (max(float(value), least) for value in np.quantile(values, LEVELS))
        rules = by_rules(observations, job) if target == "rim" else ((), ())
        yield Verdict(
            shop.world.name, shop.heat, batches, shop.seed, which, job.keys.mix, job.keys.bath, target,
            max(truth, least), low, middle, high, float(np.mean(values < truth)),
            result.diagnostics.settled, *rules,
        )  # fmt: skip


def by_rules(
    observations: Sequence[Observation], job: Process
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return what the rules of thumb foretell of a job's rim [mm], and how wide they must be."""
    seen = [
        (soak, one.reading.value_m)
        for one in observations
        if isinstance(one.reading, DepthReading) and (soak := told_soak(one.process))
    ]
    soaks: list[ToldSoak] = [soak for soak, _ in seen]
    read_m, soak = np.array([depth_m for _, depth_m in seen]), told_soak(job)
    assert soak is not None
    depths = tuple(MM * foretold_by(rule, soaks, read_m, soak) for rule in RULES)
    return depths, tuple(width_of(rule, soaks, read_m) if rule.is_fitted else np.nan for rule in RULES)
