"""Gas an hour at each setting of a forge's burner, learnt from bottle weights; a jet's flow is the prior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.gas_bottle import rate_from_weights
from model.gas_jet import jet_flow

Array = NDArray[np.float64]

USUAL_JET_M: Final = 1.0e-3
USUAL_GAUGE_Pa: Final = 0.7e5
"""Where nobody told them: the middle of forge jets and of forge pressures; common practice, no source."""
TOLD_JET_SD: Final = 0.2
"""In ln of the flow: discharge 0.80 to 0.90, a hole a twentieth off, a gauge a tenth off; judgement."""
UNTOLD_JET_SD: Final = 0.7
"""Holes of 0.5 to 1.5 mm differ nine times in area: a fifth of that span's ln either way; judgement."""
GAUGE_SD: Final = 0.1
"""How well a needle is set to the same pressure again, beside the law's own error; judgement."""
VALVE_SD: Final = 0.4
"""A valve behind the gauge takes an unknown share of the pressure; judgement."""
NO_GAUGE_SD: Final = 0.7
"""A mark on a valve alone: 0.15 to 2.5 bar at the jet; judgement."""
FIRE_SD: Final = 0.1
"""From fire to fire at one setting: hours as remembered, a cold bottle, a touch of the knob; judgement."""
SCALE_KG: Final = 0.05
"""One reading of a bottle's scales; judgement."""
SAME_PRESSURE: Final = 0.03
"""Pressures that differ by a smaller share are one setting [-]; own choice."""
STEPS: Final = 30
NINETY: Final = 1.645


@dataclass(frozen=True)
class Setting:
    """How a burner is set: gauge pressure [Pa], None for nobody told; mark of its valve, "" for none."""

    gauge_Pa: float | None = None
    valve: str = ""

    def is_like(self, other: Setting) -> bool:
        """Tell whether two are the same setting: the same mark, and as good as the same pressure."""
        if self.valve.casefold() != other.valve.casefold():
            return False
        if self.gauge_Pa is None or other.gauge_Pa is None:
            return self.gauge_Pa is other.gauge_Pa
        return abs(self.gauge_Pa - other.gauge_Pa) <= SAME_PRESSURE * max(self.gauge_Pa, other.gauge_Pa)


@dataclass(frozen=True)
class Weighed:
    """One fire: the bottle's weights [kg], and how long [s] it burned at each setting."""

    before_kg: float
    after_kg: float
    burnt: tuple[tuple[Setting, float], ...]


@dataclass(frozen=True)
class GasRate:
    """Gas of one run at one setting [kg/s]: middle and the ends of a 90 % band; fires weighed at it."""

    kg_per_s: float
    low_kg_per_s: float
    high_kg_per_s: float
    fires: int


@dataclass(frozen=True)
class GasBelief:
    """What is believed of a burner, as ln of the flow over that of its jet.

    settings : that were weighed; mean, covariance : of the whole forge's shift, then of each setting's own
    jet_m : hole of its jet, None where nobody told; fires : weighed at each setting
    """

    settings: tuple[Setting, ...]
    mean: Array
    covariance: Array
    jet_m: float | None
    fires: tuple[int, ...]

    def rate(self, setting: Setting) -> GasRate:
        """Return the gas of a next run at a setting, its fire's own scatter in the band.

        setting : one that was weighed or any other; its pressure within `GAUGE_BAR`
        Raises OutOfRange for a pressure that no regulator gives.
        """
        middle = log_flow(setting, self.jet_m)
        place = next((k for k, known in enumerate(self.settings) if known.is_like(setting)), None)
        if place is None:
            shift, variance = float(self.mean[0]), float(self.covariance[0, 0]) + own_sd(setting) ** 2
        else:
            pair = np.ix_((0, place + 1), (0, place + 1))
            shift, variance = float(self.mean[[0, place + 1]].sum()), float(self.covariance[pair].sum())
        half = NINETY * hypot(variance**0.5, FIRE_SD)
        fires = 0 if place is None else self.fires[place]
        return GasRate(exp(middle + shift), exp(middle + shift - half), exp(middle + shift + half), fires)


def log_flow(setting: Setting, jet_m: float | None) -> float:
    """Return ln of the flow [kg/s] that a jet passes at a setting; the usual one for what nobody told."""
    gauge_Pa = USUAL_GAUGE_Pa if setting.gauge_Pa is None else setting.gauge_Pa
    return log(jet_flow(jet_m or USUAL_JET_M, gauge_Pa).kg_per_s)


def own_sd(setting: Setting) -> float:
    """Return how far one setting may lie off its forge's jet, in ln."""
    if setting.gauge_Pa is None:
        return NO_GAUGE_SD
    return hypot(GAUGE_SD, VALVE_SD) if setting.valve else GAUGE_SD


def learn_gas(weighed: Sequence[Weighed], jet_m: float | None = None) -> GasBelief:
    """Learn the gas that a burner takes at each of its settings.

    weighed : fires of one forge, any number; each with one setting or more, hours above 0
    jet_m : hole of its jet, `JET_MM`, None where nobody told
    Returns the belief; what one setting teaches of the jet goes to all others (partial pooling).
    Raises OutOfRange for weights or a pressure that cannot be.
    Source: Gauss-Newton to the most likely shifts, their curvature as covariance (textbook); each fire's
    weight loss is the sum over its settings, in ln, with scale and fire scatter as its error.
    """
    settings = _settings(weighed)
    spread = [UNTOLD_JET_SD if jet_m is None else TOLD_JET_SD, *(own_sd(one) for one in settings)]
    prior = np.diag(np.array(spread) ** -2.0)
    flow = np.array([log_flow(one, jet_m) for one in settings])
    hours = np.array([_seconds_at(one, settings) for one in weighed]).reshape(len(weighed), len(settings))
    told, weight = _told(weighed)
    mean = np.zeros(len(spread))
    precision = prior
    for _ in range(STEPS):
        taken = hours * np.exp(flow + mean[0] + mean[1:])
        shares = taken / taken.sum(axis=1, keepdims=True)
        slope = np.hstack([np.ones((len(weighed), 1)), shares])
        off = told - np.log(taken.sum(axis=1))
        precision = prior + slope.T @ (weight[:, None] * slope)
        mean = mean + np.linalg.solve(precision, slope.T @ (weight * off) - prior @ mean)
    fires = tuple(int((hours[:, k] > 0.0).sum()) for k in range(len(settings)))
    return GasBelief(settings, mean, np.asarray(np.linalg.inv(precision)), jet_m, fires)


def _settings(weighed: Sequence[Weighed]) -> tuple[Setting, ...]:
    """Return every setting once, as it was first told."""
    found: list[Setting] = []
    for one in weighed:
        for setting, _ in one.burnt:
            if not any(known.is_like(setting) for known in found):
                found.append(setting)
    return tuple(found)


def _seconds_at(one: Weighed, settings: tuple[Setting, ...]) -> list[float]:
    return [sum(seconds for told, seconds in one.burnt if known.is_like(told)) for known in settings]


def _told(weighed: Sequence[Weighed]) -> tuple[Array, Array]:
    """Return ln of each fire's gas [kg] and the weight of it, one over its variance."""
    lost = []
    for one in weighed:
        seconds = sum(seconds for _, seconds in one.burnt)
        lost.append(rate_from_weights(one.before_kg, one.after_kg, seconds) * seconds)
    kg = np.array(lost)
    scale = np.divide(SCALE_KG * 2.0**0.5, kg)
    return np.log(kg), 1.0 / (FIRE_SD**2 + scale**2)
