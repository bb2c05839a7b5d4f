"""A sketch of each process in closed form: a few numbers that bend much as its forecast does.

A surface laid through few forecasts need only learn how the forecast differs from the sketch, which is far
straighter in the inputs than the forecast itself. Nothing else is ever read off a sketch.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc, erfcinv, erfcx

from model.belief import MOST_BIAS_K
from model.cooling_sketch import PLACES_M
from model.course import GAS_CONSTANT_J_PER_MOL_K, TRANSFER_REFERENCE_K
from model.diffusivity import diffusivity_agren_1986
from model.finish import finish_of
from model.hardening import asked_of
from model.inputs import LOCAL_INPUTS
from model.pack import carbon_at_activity
from model.piecework import Piecework, in_turn
from model.priors import prior_table
from model.process import Carburize, History, Process
from model.sketched_hardness import SketchedHardness

Array = NDArray[np.float64]

CARBON_WT: Final = 0.6
"""Carbon at which the one diffusivity is taken [wt%]."""
WARM_UP_FED: Final = 0.7
"""Share of a warm-up in a soak's clock that does not count [-]."""
LEAST_SHARE: Final = 0.1
"""About the least share of a soak that counts [-]."""
SHARES: Final = (0.02, 5.0)
"""Between which shares of the rise a depth is sketched [-]: above 1 it lies as far outside the steel."""
LEAST_RISE_WT: Final = 0.05
NEWTON_STEPS: Final = 2
SKETCHED: Final = 1 + len(PLACES_M)
"""Numbers of a sketch: the depth of the rim's carbon, and hardness at each place."""
PLACES_AT_ONCE: Final = 4096
"""Members of all processes that are sketched together: what fits a processor's cache."""


class Fed(NamedTuple):
    """A half-space of constant diffusivity fed through a transfer coefficient, of each member (P, N).

    base_wt, rise_wt : its carbon, and how much more the pack has [wt%]
    length_m : that carbon goes; feed : how fast it is fed over how fast it goes [-]
    Source: Crank, The Mathematics of Diffusion, equation 3.35.
    """

    base_wt: Array
    rise_wt: Array
    length_m: Array
    feed: Array

    def share(self, depth_m: Array) -> Array:
        """Return the share of the rise at depths, (D, 1), as (P, D, N) [-]."""
        scaled = depth_m / self.length_m[:, None]
        return np.asarray(erfc(scaled) - _held_back(scaled, self.feed[:, None]))

    def depth_m(self, limit_wt: Array) -> Array:
        """Return about how deep the carbon is at a limit, (P, N) [m]; below 0 where it is nowhere, as far.

        By Newton's method in ln of the share, from where it would be if the skin were held at its carbon.
        """
        wanted = np.clip((limit_wt - self.base_wt) / np.maximum(self.rise_wt, LEAST_RISE_WT), *SHARES)
        skin = 1.0 - erfcx(self.feed)
        scaled = erfcinv(np.minimum(wanted / skin, 1.0))
        for _ in range(NEWTON_STEPS):
            back = _held_back(scaled, self.feed)
            share = np.maximum(erfc(scaled) - back, SHARES[0] ** 2)
            scaled += share / (2.0 * self.feed * back) * np.log(share / wanted)
        return np.asarray(scaled * self.length_m)


class Sketches:
    """Sketches of P processes, worked as arrays."""

    def __init__(self, processes: Sequence[Process], piecework: Piecework = in_turn) -> None:
        """Gather what the sketches need of each process; piecework : how its cooling tables are made."""
        soaks = [[step for step in process.steps if isinstance(step, Carburize)] for process in processes]
        self.is_fed = np.array([bool(steps) for steps in soaks], dtype=bool)
        self.seconds = np.array([sum(step.history.duration_s for step in steps) for steps in soaks])
        self.kelvin = np.array([_mean_K(steps) for steps in soaks])
        self.share = np.array([steps[0].lag_share if steps else 0.0 for steps in soaks])
        self.base_wt = np.array([process.steel.composition.C for process in processes])
        self.half_wt = np.array(
            [0.5 * (process.steel.carbon_high_wt - process.steel.carbon_low_wt) for process in processes]
        )
        asked = [asked_of(process, finish_of(process)) for process in processes]
        self.hardness = SketchedHardness(processes, asked, piecework)

    def of(self, rows: NDArray[np.intp], inputs: Array) -> Array:
        """Return the sketches of some processes, (R, N, local inputs) to (R, N, SKETCHED); some at a time."""
        sketch = np.empty((*inputs.shape[:2], SKETCHED))
        at_once = max(1, PLACES_AT_ONCE // max(1, inputs.shape[1]))
        for first in range(0, len(rows), at_once):
            some = slice(first, first + at_once)
            self._write(rows[some], inputs[some], sketch[some])
        return sketch

    def _write(self, rows: NDArray[np.intp], inputs: Array, sketch: Array) -> None:
        """Write sketches in their place: depth, and hardness at each place."""
        at = dict(zip(LOCAL_INPUTS, np.moveaxis(inputs, 2, 0), strict=True))
        fed = self.fed(rows, at)
        carbon_wt = fed.base_wt[:, None] + fed.rise_wt[:, None] * fed.share(PLACES_M[:, None])
        np.multiply(fed.depth_m(at["rim_carbon_wt"]), self.is_fed[rows, None], out=sketch[:, :, 0])
        sketch[:, :, 1:] = self.hardness.of(rows, at, carbon_wt).transpose(0, 2, 1)

    def fed(self, rows: NDArray[np.intp], at: dict[str, Array]) -> Fed:
        """Return how some processes take up carbon; at : local inputs by name, (R, N) each."""
        kelvin = self.kelvin[rows, None] + np.clip(at["temperature_K"], -MOST_BIAS_K, MOST_BIAS_K)
        seconds = self._seconds(rows, np.exp(at["ln_lag"]))
        activity = prior_table()["activity/shop"].transformed(at["activity_logit"])
        shift = prior_table()["bar_carbon"].transformed(at["bar_quantile"])
        base_wt = self.base_wt[rows, None] + self.half_wt[rows, None] * shift
        energy_K = at["activation_J_per_mol"] / GAS_CONSTANT_J_PER_MOL_K
        transfer = np.exp(at["ln_transfer"] - energy_K * (1.0 / kelvin - 1.0 / TRANSFER_REFERENCE_K))
        diffusivity = diffusivity_agren_1986(np.full_like(kelvin, CARBON_WT), kelvin)
        length_m = 2.0 * np.sqrt(diffusivity * seconds)
        rise_wt = (carbon_at_activity(activity, kelvin) - base_wt) * self.is_fed[rows, None]
        return Fed(base_wt, rise_wt, length_m, 0.5 * transfer / diffusivity * length_m)

    def _seconds(self, rows: NDArray[np.intp], lag_s: Array) -> Array:
        """Seconds of soak that count, never quite none."""
        whole = self.seconds[rows, None]
        left = whole - WARM_UP_FED * self.share[rows, None] * lag_s
        return np.asarray(0.5 * (left + np.hypot(left, LEAST_SHARE * whole + 1.0)))


def _mean_K(soaks: Sequence[Carburize]) -> float:
    """Return the mean heat of soaks; a usual one for none."""
    if not soaks:
        return TRANSFER_REFERENCE_K
    heat = [_area(step.history) for step in soaks]
    seconds = sum(step.history.duration_s for step in soaks)
    return float(sum(heat) / seconds) if seconds > 0.0 else soaks[0].history.temperature_K[0]


def _area(history: History) -> float:
    """Return kelvin times seconds of a history."""
    points = pairwise(zip(history.seconds, history.temperature_K, strict=True))
    return sum((then - at) * (cooler_K + hotter_K) / 2.0 for (at, cooler_K), (then, hotter_K) in points)


def _held_back(scaled: Array, feed: Array) -> Array:
    """Return the share that a slow feed holds back at depths over the length carbon goes [-]."""
    return np.asarray(np.exp(-(scaled**2)) * erfcx(scaled + feed))
