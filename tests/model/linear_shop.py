"""Shops whose readings go straight with the few local inputs: the physics is worked out once for all of them.

The fit, the scores and the watch are the app's own; only `Evidence.points` is a straight line. So many
shops cost what their sums cost, and what is found of the sums' rates is not muddled with curvature.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from model.dated_changes import Loosened
from model.drift import Drift, watch
from model.evidence import Evidence
from model.inputs import FITTED_INPUTS
from model.likelihood import LATENT_FREEDOM, LATENT_SCALE, READING_FREEDOM
from model.linearised import DIFFERENCE
from model.look import look
from model.outliers import FireScore, fire_scores
from model.priors import heat_kind, prior_for, scatter_scale
from model.process import Process
from model.readings import DepthReading, HardnessReading, Observation
from model.variational import Gaussian, best_point, variational
from tests.model.logbooks import job

Array = NDArray[np.float64]

SIZES_m = (0.012, 0.016)


def fires_of(count: int, heat_method: str = "thermocouple:1") -> list[Process]:
    """Return two coupons in each of some fires, over two boxes, two mixes, usual heats and soaks."""
    rng = np.random.default_rng(7)
    made = []
    for fire in range(count):
        hours, heat = float(rng.choice([2.0, 3.0, 4.0, 6.0])), float(rng.choice([900.0, 925.0, 940.0]))
        box, mix = str(rng.integers(1, 3)), str(rng.integers(1, 3))
        made += [
            job(f"f{fire}", hours, heat, box=box, mix=mix, heat_method=heat_method, size_m=size)
            for size in SIZES_m
        ]
    return made


def read_of(processes: Sequence[Process]) -> list[Observation]:
    """Return a depth by eye and a hardness of each coupon."""
    readings = (DepthReading("break", 5e-4), HardnessReading("HRC", 60.0, "rockwell:1"))
    return [
        Observation(f"{place} {kind}", process, reading, coupon=str(place))
        for place, process in enumerate(processes)
        for kind, reading in enumerate(readings)
    ]


class LinearEvidence(Evidence):
    """Evidence whose predictions are straight in the local inputs, about what the books foretell."""

    straight: tuple[Array, Array, Array]

    def predicted(self, inputs: Array) -> tuple[Array, Array]:
        """Return every value without its tester's bias, and the model's own doubt, (values, members)."""
        value, slope, doubt = self.straight
        away = (inputs - self.offset[:, None, :])[self.rows][:, :, :FITTED_INPUTS]
        found = value[:, None] + np.einsum("vml,vl->vm", away, slope)
        return found, np.broadcast_to(doubt[:, None], found.shape)


@cache
def straight_of(count: int, heat_method: str) -> tuple[Evidence, tuple[Array, Array, Array]]:
    """Return the fires' evidence, and each prediction's value, slope by the local inputs and doubt."""
    evidence = Evidence(read_of(fires_of(count, heat_method)), [], look)
    members = np.repeat(evidence.offset[:, None, :], 1 + FITTED_INPUTS, axis=1)
    for place, step in enumerate(DIFFERENCE):
        members[:, 1 + place, place] += step
    value, doubt = evidence.predicted(members)
    return evidence, (value[:, 0], (value[:, 1:] - value[:, :1]) / DIFFERENCE, doubt[:, 0])


def drawn_shop(
    seed: int,
    count: int,
    heat_method: str = "thermocouple:1",
    colder_K: Callable[[int], float] = lambda _fire: 0.0,
    failed: Sequence[int] = (),
    told_of: Callable[[int], tuple[Loosened, ...]] = lambda _fire: (),
    scatter: float | None = None,
    heavy_tails: bool = False,
) -> LinearEvidence:
    """Return a shop drawn from the books, with its readings.

    colder_K : how much colder the work ran in a fire than its reading says [K]; failed : fires whose seal
    failed: 0.4 of the transfer, and an activity 1 lower in its logit, as in the demo's shop; told_of : the
    dated changes that the logbook knows of before a fire; scatter : how far fires scatter over
    what the books say, None for one drawn from the books too; heavy_tails : fires scatter as the fit's own
    Student's t has them, by a fifth more in sd, and not as forecasts do
    """
    told, straight = straight_of(count, heat_method)
    rng = np.random.default_rng(seed)
    truth = rng.standard_normal(len(told.names))
    truth[told.is_latent] *= scatter or float(
        prior_for(scatter_scale(heat_kind(heat_method))).value(rng.standard_normal())
    )
    if heavy_tails:
        truth[told.is_latent] *= (
            LATENT_SCALE * (LATENT_FREEDOM / rng.chisquare(LATENT_FREEDOM, told.is_latent.sum())) ** 0.5
        )
    inputs = told.inputs(truth)
    for row, process in enumerate(told.processes):
        fire = int(process.keys.fire[1:])
        inputs[row, 0] -= colder_K(fire)
        if fire in failed:
            inputs[row, 1:3] += np.log(0.4), -1.0
    away = (inputs - told.offset)[:, :FITTED_INPUTS]
    bias, noted = told.local(truth)[:, FITTED_INPUTS], []
    for index, observation in enumerate(told.observations):
        value, slope, doubt = (part[index] for part in straight)
        true = value + away[told.rows[index]] @ slope + bias[index]
        noted.append(_noted(observation, float(true), float(doubt), rng))
    noted = [after(one, told_of(int(one.process.keys.fire[1:]))) for one in noted]
    shop = LinearEvidence(noted, [], look)
    shop.straight = straight
    return shop


def after(observation: Observation, loosened: tuple[Loosened, ...]) -> Observation:
    """Return a reading of a process that some dated changes came before."""
    process = observation.process
    return replace(observation, process=replace(process, keys=replace(process.keys, loosened=loosened)))


def _noted(observation: Observation, true: float, doubt: float, rng: np.random.Generator) -> Observation:
    reading = observation.reading
    assert isinstance(reading, DepthReading | HardnessReading)
    if isinstance(reading, DepthReading):
        reading = replace(reading, value_m=max(true, 0.0))
    sd = float(reading.spread(np.array([[true]]), np.array([[doubt]]))[0, 0])
    value = true + sd * float(rng.standard_t(READING_FREEDOM))
    if isinstance(reading, DepthReading):
        return replace(observation, reading=replace(reading, value_m=max(0.0, value)))
    return replace(observation, reading=replace(reading, value=value))


def fitted(shop: Evidence) -> Gaussian:
    """Return the belief learnt from a shop's readings."""
    return variational(shop, best_point(shop, np.zeros(len(shop.names))))


def scores_of(shop: Evidence) -> tuple[FireScore, ...]:
    """Return how odd each fire is against all the others."""
    return fire_scores(shop, fitted(shop))[0]


def drifts_of(shop: Evidence, found: Gaussian | None = None) -> tuple[Drift, ...]:
    """Return the drifts that the watch finds; `found` is the belief where it is at hand."""
    return watch(shop, found or fitted(shop))
