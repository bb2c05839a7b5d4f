"""What a tester or a file would show of the face, as quenched or after the tempers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.conversion import Scale, continued, rockwell_c_continued
from model.hardness_scales import SCALES
from model.likelihood import Likelihood, interval_likelihood, student_likelihood
from model.sight import After, Prediction, Seen, noted_values, spread_of
from model.traverse import interpolate_rows, rockwell_c_felt

Array = NDArray[np.float64]

FILE_SD_HRC: Final = 2.0
FILES_HRC: Final = (40.0, 45.0, 50.0, 55.0, 60.0, 65.0)  # handbook graded files, from memory
# What the temper's law is wrong by for all tempered readings is `temper_loss/shop`.
SKIN_DOUBT_SHARE: Final = 0.5  # share of what a Rockwell reading loses on a thin case that is doubted
FELT_STEP_M: Final = 0.05e-3
FELT_GRID_M: Final[Array] = np.asarray(FELT_STEP_M * np.arange(61))


@dataclass(frozen=True)
class HardnessReading:
    """A hardness on the face: Rockwell C, A or 15N, or Vickers, after `surface_removed_m` was ground off."""

    scale: Scale
    value: float
    tester_key: str = ""
    sd: float | None = None
    surface_removed_m: float = 0.0
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """The machine, and how much of its Rockwell C bias shows on this scale."""
        scale = SCALES[self.scale]
        return self.tester_key or f"{scale.machine}:?", scale.bias_share

    def limits(self) -> tuple[Array, Array]:
        """Return the reading itself; at an end of its scale all that lies beyond it too."""
        scale = SCALES[self.scale]
        low = -np.inf if self.value <= scale.low else self.value
        high = np.inf if self.value >= scale.high else self.value
        return np.array([low]), np.array([high])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict from the metal under the indenter; a thin case or a temper makes it doubtful."""
        (shown,) = self.predicted_of([seen])
        return shown

    def predicted_of(self, several: Sequence[Seen]) -> list[Prediction]:
        """Return the same of several pieces together."""
        places = self.surface_removed_m + FELT_GRID_M / SCALES[self.scale].shallower
        under_HV = np.concatenate(
            [interpolate_rows(places, one.depth_m, one.hardness_after_HV(self.after)) for one in several]
        )
        value, doubt = self._shown(under_HV)
        ends = np.cumsum([len(one.hardness_HV) for one in several])[:-1]
        return [Prediction(*one) for one in zip(np.split(value, ends), np.split(doubt, ends), strict=True)]

    def _shown(self, under_HV: Array) -> tuple[Array, Array]:
        """Return reading and doubt, (members, 1), of hardness at `FELT_GRID_M` as the scale feels it."""
        law = temper_doubt(self.scale, self.after)
        if self.scale == "HV":
            return under_HV[:, :1], np.full((len(under_HV), 1), law)
        felt = rockwell_c_felt(FELT_STEP_M, under_HV)
        skin, reading = continued(under_HV[:, 0], "HV", self.scale), continued(felt, "HRC", self.scale)
        doubt = SKIN_DOUBT_SHARE * np.abs(skin - reading)
        return reading[:, None], np.hypot(doubt, law)[:, None]

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about the reading, or the odds of what lies beyond an end of its scale."""
        (low,), (high,) = self.limits()
        if low == high:
            return student_likelihood(predicted, self.value, self.spread(predicted, doubt))
        return interval_likelihood(predicted, float(low), float(high), self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Scatter of the tester."""
        return self.sd or SCALES[self.scale].sd, 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the reading's own sd with the doubt of a thin case."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> HardnessReading:
        """Return the reading a shop would note, on the scale, to half a point or 5 HV."""
        step = 5.0 if self.scale == "HV" else 0.5
        scale = SCALES[self.scale]
        value = np.clip(noted_values(self, seen, bias, rng)[0], scale.low, scale.high)
        return replace(self, value=float(step * np.round(value / step)))


@dataclass(frozen=True)
class FilesReading:
    """Between two files: `low_HRC` skates, `high_HRC` cuts; None for no such file."""

    low_HRC: float | None
    high_HRC: float | None
    tester_key: str = ""
    surface_removed_m: float = 0.0
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """Bias of the file set."""
        return self.tester_key or "files:?", 1.0

    def limits(self) -> tuple[Array, Array]:
        """Return the two files."""
        low, high = _or(self.low_HRC, -np.inf), _or(self.high_HRC, np.inf)
        return np.array([low]), np.array([high])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict the hardness of the skin: a file feels no deeper."""
        place = np.array([self.surface_removed_m])
        skin = rockwell_c_continued(interpolate_rows(place, seen.depth_m, seen.hardness_after_HV(self.after)))
        return Prediction(skin, np.full_like(skin, temper_doubt("HRC", self.after)))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of lying between the files."""
        low, high = self.limits()
        return interval_likelihood(predicted, float(low[0]), float(high[0]), self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Doubt of a file."""
        return FILE_SD_HRC, 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return a file's own doubt with that of the temper's law."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> FilesReading:
        """Return the pair of graded files that the skin falls between."""
        felt = noted_values(self, seen, bias, rng)[0]
        softer = [file for file in FILES_HRC if file <= felt]
        harder = [file for file in FILES_HRC if file > felt]
        return replace(self, low_HRC=softer[-1] if softer else None, high_HRC=harder[0] if harder else None)


def temper_doubt(scale: Scale, after: After) -> float:
    """Return what the temper's law adds to the doubt of a hardness, 1 sd in the scale's unit."""
    return SCALES[scale].temper_sd if after == "temper" else 0.0


def _or(value: float | None, default: float) -> float:
    return default if value is None else value
