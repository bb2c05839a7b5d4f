"""How deep a case would look: on a break or an etched section, or to a hardness."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.hardness_readings import temper_doubt
from model.likelihood import Likelihood, interval_likelihood, student_likelihood
from model.sight import After, Prediction, Seen, noted_values, signed_depth, spread_of
from model.traverse import ISO_18203_LIMIT_HV, US_LIMIT_HV

Array = NDArray[np.float64]
DepthMethod = Literal["break", "etch", "HV550", "HRC50"]

DEPTH_SHARE: Final = 0.03
# Doubt of one reading, 1 sd (simulation study, section 2 of the calibration notes); the etch is assumed.
DEPTH_SD_M: Final = {"break": 0.07e-3, "etch": 0.05e-3, "HV550": 0.03e-3, "HRC50": 0.03e-3}


@dataclass(frozen=True)
class DepthReading:
    """A depth: of the rim seen on a break or an etched section, or to a hardness."""

    how: DepthMethod
    value_m: float
    sd_m: float | None = None
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """A depth has no tester's bias."""
        return "", 0.0

    def limits(self) -> tuple[Array, Array]:
        """Return the reading itself."""
        return np.array([self.value_m]), np.array([self.value_m])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict the depth of the rim's carbon, or of the limiting hardness."""
        if self.how in ("break", "etch"):
            return _by_carbon(seen)
        return _by_hardness(ISO_18203_LIMIT_HV if self.how == "HV550" else US_LIMIT_HV, self.after, seen)

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about the reading."""
        return student_likelihood(predicted, self.value_m, self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Return a fixed part, and 3 % of the depth that was read."""
        own = self.sd_m or DEPTH_SD_M[self.how]
        return np.hypot(own, DEPTH_SHARE * self.value_m), 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the reading's sd with the doubt of the temper's law."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> DepthReading:
        """Return the depth a shop would note, to 0.01 mm."""
        value = replace(self, value_m=max(0.0, float(self.predicted(seen).value[0, 0])))
        noted = max(0.0, float(noted_values(value, seen, bias, rng)[0]))
        return replace(self, value_m=round(noted, 5))


@dataclass(frozen=True)
class NoHardSkin:
    """A break or file showed no hard case deeper than `limit_m`."""

    limit_m: float = 0.12e-3
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """A depth has no tester's bias."""
        return "", 0.0

    def limits(self) -> tuple[Array, Array]:
        """Anything shallower than the limit."""
        return np.array([-np.inf]), np.array([self.limit_m])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict the depth of the rim."""
        return _by_carbon(seen)

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of a rim shallower than the limit."""
        return interval_likelihood(predicted, -np.inf, self.limit_m, self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Doubt of a depth seen by eye."""
        return DEPTH_SD_M["break"], 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the doubt of a depth seen by eye."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> NoHardSkin:
        """Return the same reading: a shop notes it or notes a depth."""
        del seen, bias, rng
        return self


def _by_carbon(seen: Seen) -> Prediction:
    """Predict the depth an eye sees: it goes by carbon."""
    depth = signed_depth(seen.depth_m, seen.carbon_wt, seen.rim_carbon_wt)
    return Prediction(depth[:, None], np.zeros((len(depth), 1)))


def _by_hardness(limit_HV: float, after: After, seen: Seen) -> Prediction:
    """Predict the depth to a hardness; after a temper, what the law doubts moves it."""
    law_HV, hardness_HV = temper_doubt("HV", after), seen.hardness_after_HV(after)
    shallow, depth, deep = (
        signed_depth(seen.depth_m, hardness_HV, limit_HV + side * law_HV) for side in (1.0, 0.0, -1.0)
    )
    return Prediction(depth[:, None], 0.5 * np.abs(deep - shallow)[:, None])
