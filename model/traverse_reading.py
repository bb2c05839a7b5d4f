"""What a row of Vickers indents through a cut section would show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.hardness_readings import temper_doubt
from model.likelihood import Likelihood, student_likelihood
from model.sight import After, Prediction, Seen, noted_values, spread_of
from model.traverse import interpolate_rows

Array = NDArray[np.float64]

TRAVERSE_SD_HV: Final = 25.0
TRAVERSE_PLACE_SD_M: Final = 0.02e-3  # where an indent lies under the face; common practice, no source
TRAVERSE_WORTH: Final = 4.0  # points a long traverse counts for, as neighbours err together; assumed


@dataclass(frozen=True)
class TraverseReading:
    """Vickers hardness at several depths of a cut section."""

    depth_m: tuple[float, ...]
    hardness_HV: tuple[float, ...]
    tester_key: str = ""
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """Bias of the Vickers tester."""
        return self.tester_key or "vickers:?", 1.0

    def limits(self) -> tuple[Array, Array]:
        """Return the readings themselves."""
        return np.array(self.hardness_HV), np.array(self.hardness_HV)

    def predicted(self, seen: Seen) -> Prediction:
        """Predict each point; where the profile is steep, the place of the indent is doubted too."""
        at = np.array(self.depth_m)
        hardness_HV = seen.hardness_after_HV(self.after)
        inner, outer = (
            interpolate_rows(np.maximum(at + side * TRAVERSE_PLACE_SD_M, 0.0), seen.depth_m, hardness_HV)
            for side in (1.0, -1.0)
        )
        value = interpolate_rows(at, seen.depth_m, hardness_HV)
        return Prediction(value, np.hypot(0.5 * np.abs(outer - inner), temper_doubt("HV", self.after)))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about each point, all of them together worth a few."""
        return student_likelihood(predicted, np.array(self.hardness_HV), self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Scatter of a point, widened so that a long traverse does not count for more than it knows."""
        return TRAVERSE_SD_HV, max(1.0, len(self.depth_m) / TRAVERSE_WORTH) ** 0.5

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return each point's sd with the doubt of its place."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> TraverseReading:
        """Return the traverse a laboratory would report, to 1 HV."""
        noted = np.round(noted_values(self, seen, bias, rng))
        return replace(self, hardness_HV=tuple(float(value) for value in noted))
