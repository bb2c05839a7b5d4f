"""What a tester or a file would show of the face, as quenched or after the tempers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.conversion import ROCKWELL_C_RANGE, rockwell_c_continued
from model.likelihood import Likelihood, interval_likelihood, student_likelihood
from model.sight import After, Prediction, Seen, noted_values, spread_of
from model.traverse import interpolate_rows, rockwell_c_reading

Array = NDArray[np.float64]
Scale = Literal["HRC", "HRA", "HV"]

# Doubt of one reading, 1 sd (simulation study, section 2 of the calibration notes, where not said otherwise).
HARDNESS_SD: Final = {"HRC": 1.5, "HRA": 0.8, "HV": 25.0}  # HRA half of HRC, HV about 1.5 HRC at 700 HV
SCALE_RANGES: Final = {"HRC": ROCKWELL_C_RANGE, "HRA": (60.0, 86.0), "HV": (100.0, 1000.0)}
FILE_SD_HRC: Final = 2.0
FILES_HRC: Final = (40.0, 45.0, 50.0, 55.0, 60.0, 65.0)  # handbook graded files, from memory
# The temper's law is good to 1 HRC (`hardness.temper_loss_rockwell`), taken as nine in ten: 1 sd of every
# tempered reading in its own unit. What the law is wrong by for all of them is `temper_loss/shop`.
TEMPER_SD: Final = {"HRC": 0.61, "HRA": 0.32, "HV": 10.0}
SKIN_DOUBT_SHARE: Final = 0.5  # share of what a Rockwell reading loses on a thin case that is doubted
HRA_PER_HRC: Final = 0.523  # slope of HRA by HRC in ASTM E140 between 20 and 68 HRC
HRA_AT_20_HRC: Final = 60.5
FELT_GRID_M: Final = np.linspace(0.0, 3.0e-3, 61)


@dataclass(frozen=True)
class HardnessReading:
    """A hardness on the face: Rockwell C or A, or Vickers, after `surface_removed_m` was ground off."""

    scale: Scale
    value: float
    tester_key: str = ""
    sd: float | None = None
    surface_removed_m: float = 0.0
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """Half of a machine's Rockwell C bias shows on its A scale."""
        kind = "vickers" if self.scale == "HV" else "rockwell"
        return self.tester_key or f"{kind}:?", 0.5 if self.scale == "HRA" else 1.0

    def limits(self) -> tuple[Array, Array]:
        """Return the reading itself."""
        return np.array([self.value]), np.array([self.value])

    def predicted(self, seen: Seen) -> Prediction:
        """Predict from the metal under the indenter; a thin case or a temper makes it doubtful."""
        places = np.broadcast_to(
            self.surface_removed_m + FELT_GRID_M, (len(seen.hardness_HV), len(FELT_GRID_M))
        )
        under_HV = interpolate_rows(places, seen.depth_m, seen.hardness_after_HV(self.after))
        law = temper_doubt(self.scale, self.after)
        if self.scale == "HV":
            return Prediction(under_HV[:, :1], np.full((len(under_HV), 1), law))
        # the A scale's cone goes in about half as deep, which is a grid twice as deep to it
        reach = 2.0 if self.scale == "HRA" else 1.0
        reading, _ = rockwell_c_reading(FELT_GRID_M * reach, under_HV)
        doubt = SKIN_DOUBT_SHARE * np.abs(rockwell_c_continued(under_HV[:, 0]) - reading)
        if self.scale == "HRA":
            reading, doubt = HRA_AT_20_HRC + HRA_PER_HRC * (reading - 20.0), HRA_PER_HRC * doubt
        return Prediction(reading[:, None], np.hypot(doubt, law)[:, None])

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about the reading."""
        return student_likelihood(predicted, self.value, self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Scatter of the tester."""
        return self.sd or HARDNESS_SD[self.scale], 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the reading's own sd with the doubt of a thin case."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> HardnessReading:
        """Return the reading a shop would note, on the scale, to half a point or 5 HV."""
        step = 5.0 if self.scale == "HV" else 0.5
        value = np.clip(noted_values(self, seen, bias, rng)[0], *SCALE_RANGES[self.scale])
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
        place = np.full((len(seen.hardness_HV), 1), self.surface_removed_m)
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
    return TEMPER_SD[scale] if after == "temper" else 0.0


def _or(value: float | None, default: float) -> float:
    return default if value is None else value
