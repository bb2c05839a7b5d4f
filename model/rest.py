"""Whether a fit came to rest, judged by what it foretells: depth and hardness of jobs as in the book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.evidence import Evidence
from model.hardness_readings import HardnessReading
from model.inputs import LATENTS, links
from model.look import told_of_each
from model.process import Process, Quench
from model.sight import Seen, signed_depth
from model.variational import STEP_SETTLED, Gaussian, best_point, variational

Array = NDArray[np.float64]

STARTS: Final = 3
START_SEED: Final = 41
START_PREDICTS: Final = 10_000  # predictions of each process that the other starts take
FAR_FROM_BEST: Final = 1.0  # sds between best point and mean beyond which the fit is not to be trusted
START_SDS: Final = 1.0
AGREEING: Final = 0.1
"""Sds of a predicted depth by which fits from other starts may differ (simulation study, section 3)."""
AT_REST: Final = 1.05  # split R-hat of what is foretold, below which chains have mixed (simulation study)
MOST_JOBS: Final = 3
ROCKWELL: Final = HardnessReading("HRC", 60.0)


@dataclass(frozen=True)
class Diagnostics:
    """Whether the fit came to rest.

    rounds, steps : of the search for the best point and of the variational stage
    last_step : largest last step [sd]; mean_shift : largest distance from best point to mean [sd]
    starts_apart : by how much fits from other starts foretell otherwise [sd], 0 where it was not tried
    method : `quick` (variational) or `slow` (sampled)
    r_hat, worth : of the slow one (`slow_fit.SlowFit`), 0 where it was not tried
    """

    rounds: int
    steps: int
    last_step: float
    mean_shift: float
    starts_apart: float = 0.0
    method: Literal["quick", "slow"] = "quick"
    r_hat: float = 0.0
    worth: float = 0.0

    @property
    def settled(self) -> bool:
        """True where the slow fit stands, or the quick one gives no reason for doubt."""
        is_near = self.mean_shift <= FAR_FROM_BEST and self.starts_apart <= AGREEING
        return self.method == "slow" or (self.last_step <= 2.0 * STEP_SETTLED and is_near)


def diagnosed(evidence: Evidence, best: Gaussian, fitted: Gaussian, careful: bool) -> Diagnostics:
    """Return how the quick fit came to rest; careful : try other starts too, where that is affordable."""
    away = np.abs(fitted.mean - best.mean) / np.sqrt(best.variance)
    shift = float(np.max(away, initial=0.0))
    is_tried = careful and len(evidence.processes) * START_PREDICTS <= evidence.most_predicted
    apart = starts_apart(evidence, fitted) if is_tried else 0.0
    return Diagnostics(best.steps, fitted.steps, fitted.rest, shift, apart)


def jobs_of(evidence: Evidence) -> tuple[Process, ...]:
    """Return jobs to judge by: the newest done again, each mix, box, bath and heat method once."""
    found: dict[tuple[str, ...], Process] = {}
    for process in reversed(evidence.processes):
        if any(isinstance(step, Quench) for step in process.steps):
            keys = process.keys
            found.setdefault((keys.mix, keys.box, keys.bath, keys.heat_method), process)
    return tuple(list(found.values())[:MOST_JOBS])


def foretold(evidence: Evidence, coordinates: Array, jobs: tuple[Process, ...]) -> Array:
    """Return depth to the eye's rim [m] and hardness [HRC] of jobs, no fire's luck in them.

    coordinates : (draws, at least names) in the order of the evidence's names
    Returns (draws, 2 * jobs).
    """
    place = {name: index for index, name in enumerate(evidence.names)}
    inputs = []
    for job in jobs:
        linked = links(job)
        shared = [name for name in linked.names() if name in place and not name.startswith(LATENTS)]
        matrix = linked.matrix(linked.names())[:, [linked.names().index(name) for name in shared]]
        inputs.append(linked.offset + coordinates[:, [place[name] for name in shared]] @ matrix.T)
    if not jobs:
        return np.zeros((len(coordinates), 0))
    told = told_of_each(jobs, np.stack(inputs), evidence.look, _depth_and_hardness, evidence.piecework)
    return np.concatenate(told, axis=1)


def _depth_and_hardness(_: int, seen: Seen) -> Array:
    """Return depth to the eye's rim [m] and hardness [HRC] of what is seen, (draws, 2)."""
    depth = signed_depth(seen.depth_m, seen.carbon_wt, seen.rim_carbon_wt)
    return np.stack([depth, ROCKWELL.predicted(seen).value[:, 0]], axis=1)


def split_r_hat(values: Array) -> Array:
    """Return split R-hat of each column; values : (kept, chains, columns), 4 or more kept.

    Source: Gelman et al., Bayesian Data Analysis, 3rd edition, section 11.4.
    """
    half = len(values) // 2
    parts = np.concatenate([values[:half], values[half : 2 * half]], axis=1)
    between = half * parts.mean(axis=0).var(axis=0, ddof=1)
    within = np.maximum(parts.var(axis=0, ddof=1).mean(axis=0), 1e-30)
    return np.asarray(np.sqrt((half - 1) / half + between / half / within))


def starts_apart(evidence: Evidence, fitted: Gaussian) -> float:
    """Return by how many sds fits from other starts differ in a value that they predict, the worst of them.

    evidence : what was read; fitted : the fit to judge
    """
    rng = np.random.default_rng([START_SEED, len(fitted.mean)])
    line = fitted.linearised
    sd = np.sqrt(np.maximum(np.sum((line.jacobian @ fitted.covariance) * line.jacobian, axis=1), 1e-30))
    apart = 0.0
    for _ in range(STARTS):
        start = fitted.mean + START_SDS * rng.standard_normal(len(fitted.mean))
        again = variational(evidence, best_point(evidence, start))
        moved = line.jacobian @ (again.mean - fitted.mean)
        apart = max(apart, float(np.max(np.abs(moved) / sd, initial=0.0)))
    return apart
