"""How deep a case by eye grows over the hours at heat: what a belief foretells, and what the books do.

The answers are kept by the belief, the job and the hours, so that a page asks for them once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from threading import Lock

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from model.belief import handbook_belief
from model.look import look
from model.planner import band, with_soak
from model.process import Carburize, History, Process, Quench
from model.readings import DepthReading, HardnessReading
from model.units import HOUR_s
from webapp.services.plan_sums import Believed, carbon_only

Array = NDArray[np.float64]
DRAWS = 96
PLACES = 8
"""Soaks that are worked out, even in the root of the time; a case grows nearly straight in it."""
KEPT = 8
MOST_BATHS = 6
BY_EYE = DepthReading("break", 0.0)
BY_ROCKWELL = HardnessReading("HRC", 60.0)
_one_at_a_time = Lock()  # two at once would only share the processor


@dataclass(frozen=True)
class GrowthLines:
    """Depths [m] at some hours at heat, from 0 on: nine fires in ten of this forge, and the books' middle."""

    hours: tuple[float, ...]
    low_m: tuple[float, ...]
    middle_m: tuple[float, ...]
    high_m: tuple[float, ...]
    books_m: tuple[float, ...]

    def at(self, hours: float, values: tuple[float, ...]) -> float:
        """Return one of the lines at some hours, straight in the root of the time."""
        return float(np.interp(hours**0.5, np.sqrt(self.hours), values))


@dataclass(frozen=True)
class Hardness:
    """Nine readings in ten of a job in one bath [HRC]."""

    low: float
    middle: float
    high: float


def job_at(job: Process, heat_K: float) -> Process:
    """Return a standard job at another heat."""
    soak = next(step for step in job.steps if isinstance(step, Carburize))
    held = replace(soak, history=History.hold(heat_K, soak.history.duration_s))
    return replace(job, steps=tuple(held if step is soak else step for step in job.steps))


def growth_lines(believed: Believed, job: Process, most_hours: float) -> GrowthLines:
    """Return both lines from 0 to some hours at heat."""
    with _one_at_a_time:
        own = _depths(believed, job, most_hours)
        books = _depths(Believed.of(handbook_belief()), job, most_hours)
    hours = (0.0, *(float(most_hours * (k / PLACES) ** 2) for k in range(1, PLACES + 1)))
    low, middle, high = own
    return GrowthLines(hours, low, middle, high, books[1])


@lru_cache(maxsize=KEPT)
def _depths(believed: Believed, job: Process, most_hours: float) -> tuple[tuple[float, ...], ...]:
    """Return the lowest, middle and highest depth of nine fires in ten, from no time on [m]."""
    carbon = carbon_only(job)
    soaks = [with_soak(carbon, HOUR_s * most_hours * (k / PLACES) ** 2) for k in range(1, PLACES + 1)]
    inputs = believed.belief.inputs(carbon, DRAWS)
    seen = look(soaks, np.broadcast_to(inputs, (PLACES, *inputs.shape)))
    depths = np.stack([np.maximum(BY_EYE.predicted(one).value[:, 0], 0.0) for one in seen])
    low, middle, high = band(depths)
    return tuple((0.0, *(float(value) for value in row)) for row in (low, middle, high))


def hardness_in(believed: Believed, job: Process, quenches: tuple[tuple[str, Quench], ...]) -> list[Hardness]:
    """Return what a tester would read of a job as quenched in each bath, by the bath's key."""
    with _one_at_a_time:
        return [_hardness(believed, job, key, quench) for key, quench in quenches]


@lru_cache(maxsize=KEPT * MOST_BATHS)
def _hardness(believed: Believed, job: Process, key: str, quench: Quench) -> Hardness:
    steps = (*carbon_only(job).steps, quench)
    process = replace(job, steps=steps, keys=replace(job.keys, bath=key))
    seen = look([process], believed.belief.inputs(process, DRAWS)[None])[0]
    told = BY_ROCKWELL.predicted(seen)
    scatter = BY_ROCKWELL.spread(told.value, told.doubt)
    low, middle, high = band(_with_scatter(told.value[:, 0], scatter[:, 0]))
    return Hardness(float(low), float(middle), float(high))


def _with_scatter(values: Array, sd: Array) -> Array:
    """Return values with a tester's own scatter, evenly spread and not by chance."""
    shares = np.random.default_rng(0).permuted((np.arange(len(values)) + 0.5) / len(values))
    return np.asarray(values + sd * ndtri(shares))
