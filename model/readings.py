"""The kinds of reading, and one reading of one process.

A kind of reading is a frozen value with `predicted`, `likelihood` and `simulated` (`sight.Reading`). Values
are in the scale's own unit; the tester's bias is added to the predicted value times `tester_share`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.bend_reading import BendReading
from model.depth_readings import DepthReading, NoHardSkin
from model.hardness_readings import FilesReading, HardnessReading
from model.likelihood import Likelihood, probit_likelihood
from model.process import Process
from model.sight import After, Prediction, Seen, spread_of
from model.traverse_reading import TraverseReading

__all__ = [
    "After",
    "BendReading",
    "DepthReading",
    "FilesReading",
    "HardnessReading",
    "NoHardSkin",
    "Observation",
    "SparkReading",
    "TraverseReading",
]

Array = NDArray[np.float64]

SPARK_CARBON_WT: Final = 0.40  # carbon from which a spark stream bursts; common practice, no source
SPARK_SD_WT: Final = 0.08


@dataclass(frozen=True)
class SparkReading:
    """Whether the sparks burst as those of high-carbon steel do."""

    high_carbon: bool
    of_bare_bar: bool = True

    @property
    def tester(self) -> tuple[str, float]:
        """An eye has no bias kept here."""
        return "", 0.0

    def limits(self) -> tuple[Array, Array]:
        """Return carbon above or below the threshold."""
        low, high = (SPARK_CARBON_WT, np.inf) if self.high_carbon else (-np.inf, SPARK_CARBON_WT)
        return np.array([low]), np.array([high])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict the bar's own carbon."""
        return Prediction(seen.bar_carbon_wt[:, None], np.zeros((len(seen.bar_carbon_wt), 1)))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of that stream at that carbon."""
        del doubt
        return probit_likelihood(predicted, self.high_carbon, SPARK_CARBON_WT, SPARK_SD_WT)

    @property
    def own_sd(self) -> tuple[float, float]:
        """How sharply an eye tells streams apart."""
        return SPARK_SD_WT, 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return how sharply an eye tells streams apart."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> SparkReading:
        """Return what an eye would say."""
        del bias
        felt = float(seen.bar_carbon_wt[0]) + SPARK_SD_WT * float(rng.standard_normal())
        return replace(self, high_carbon=felt > SPARK_CARBON_WT)


@dataclass(frozen=True)
class Observation:
    """One reading, of one process, by the logbook's own key; `coupon` names the piece it was taken on."""

    key: str
    process: Process
    reading: (
        HardnessReading
        | FilesReading
        | DepthReading
        | NoHardSkin
        | TraverseReading
        | SparkReading
        | BendReading
    )
    coupon: str = ""
