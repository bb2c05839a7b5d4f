"""What an instrument would show of a coupon: for each kind of reading its value, likelihood, simulator.

A kind of reading is a frozen value with `predicted`, `likelihood` and `simulated`. Values are in the
scale's own unit; the tester's bias is added to the predicted value times `tester_share`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.conversion import ROCKWELL_C_RANGE, rockwell_c_continued
from model.likelihood import (
    READING_FREEDOM,
    Likelihood,
    interval_likelihood,
    probit_likelihood,
    student_likelihood,
)
from model.process import Process
from model.sight import Prediction, Reading, Seen, signed_depth
from model.traverse import (
    ISO_18203_LIMIT_HV,
    US_LIMIT_HV,
    interpolate_rows,
    rockwell_c_reading,
)

Array = NDArray[np.float64]
Scale = Literal["HRC", "HRA", "HV"]
DepthMethod = Literal["break", "etch", "HV550", "HRC50"]
After = Literal["slow_cool", "quench", "temper"]

# Doubt of one reading, 1 sd (simulation study, section 2 of the calibration notes, where not said otherwise).
HARDNESS_SD: Final = {"HRC": 1.5, "HRA": 0.8, "HV": 25.0}  # HRA half of HRC, HV about 1.5 HRC at 700 HV
SCALE_RANGES: Final = {"HRC": ROCKWELL_C_RANGE, "HRA": (60.0, 86.0), "HV": (100.0, 1000.0)}
FILE_SD_HRC: Final = 2.0
DEPTH_SHARE: Final = 0.03
DEPTH_SD_M: Final = {"break": 0.07e-3, "etch": 0.05e-3, "HV550": 0.03e-3, "HRC50": 0.03e-3}  # etch assumed
TRAVERSE_SD_HV: Final = 25.0
TRAVERSE_PLACE_SD_M: Final = 0.02e-3  # where an indent lies under the face; common practice, no source
TRAVERSE_WORTH: Final = 4.0  # points a long traverse counts for, as neighbours err together; assumed
SKIN_DOUBT_SHARE: Final = 0.5  # share of what a Rockwell reading loses on a thin case that is doubted
SPARK_CARBON_WT: Final = 0.40  # carbon from which a spark stream bursts; common practice, no source
SPARK_SD_WT: Final = 0.08
FILES_HRC: Final = (40.0, 45.0, 50.0, 55.0, 60.0, 65.0)  # handbook graded files, from memory
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
        """Predict from the metal under the indenter; a thin case makes a Rockwell reading doubtful."""
        places = np.broadcast_to(
            self.surface_removed_m + FELT_GRID_M, (len(seen.hardness_HV), len(FELT_GRID_M))
        )
        under_HV = interpolate_rows(places, seen.depth_m, seen.hardness_HV)
        if self.scale == "HV":
            return Prediction(under_HV[:, :1], np.zeros((len(under_HV), 1)))
        # the A scale's cone goes in about half as deep, which is a grid twice as deep to it
        reach = 2.0 if self.scale == "HRA" else 1.0
        reading, _ = rockwell_c_reading(FELT_GRID_M * reach, under_HV)
        doubt = SKIN_DOUBT_SHARE * np.abs(rockwell_c_continued(under_HV[:, 0]) - reading)
        if self.scale == "HRA":
            reading, doubt = HRA_AT_20_HRC + HRA_PER_HRC * (reading - 20.0), HRA_PER_HRC * doubt
        return Prediction(reading[:, None], doubt[:, None])

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about the reading."""
        return student_likelihood(predicted, self.value, self.spread(predicted, doubt))

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the reading's own sd with the doubt of a thin case."""
        del predicted
        return np.hypot(self.sd or HARDNESS_SD[self.scale], doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> HardnessReading:
        """Return the reading a shop would note, on the scale, to half a point or 5 HV."""
        step = 5.0 if self.scale == "HV" else 0.5
        value = np.clip(_noted(self, seen, bias, rng)[0], *SCALE_RANGES[self.scale])
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
        skin = rockwell_c_continued(interpolate_rows(place, seen.depth_m, seen.hardness_HV))
        return Prediction(skin, np.zeros_like(skin))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of lying between the files."""
        low, high = self.limits()
        return interval_likelihood(predicted, float(low[0]), float(high[0]), self.spread(predicted, doubt))

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return a file's own doubt."""
        del predicted
        return np.hypot(FILE_SD_HRC, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> FilesReading:
        """Return the pair of graded files that the skin falls between."""
        felt = _noted(self, seen, bias, rng)[0]
        softer = [file for file in FILES_HRC if file <= felt]
        harder = [file for file in FILES_HRC if file > felt]
        return replace(self, low_HRC=softer[-1] if softer else None, high_HRC=harder[0] if harder else None)


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
        return _depth_prediction(self.how, seen)

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about the reading."""
        return student_likelihood(predicted, self.value_m, self.spread(predicted, doubt))

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the reading's sd: a fixed part, and 3 % of the depth that was read."""
        own = self.sd_m or DEPTH_SD_M[self.how]
        return np.broadcast_to(np.hypot(own, DEPTH_SHARE * self.value_m), predicted.shape) + doubt

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> DepthReading:
        """Return the depth a shop would note, to 0.01 mm."""
        value = replace(self, value_m=max(0.0, float(self.predicted(seen).value[0, 0])))
        noted = max(0.0, float(_noted(value, seen, bias, rng)[0]))
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
        return _depth_prediction("break", seen)

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of a rim shallower than the limit."""
        return interval_likelihood(predicted, -np.inf, self.limit_m, self.spread(predicted, doubt))

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the doubt of a depth seen by eye."""
        return np.broadcast_to(np.float64(DEPTH_SD_M["break"]), predicted.shape) + doubt

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> NoHardSkin:
        """Return the same reading: a shop notes it or notes a depth."""
        del seen, bias, rng
        return self


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
        at = np.broadcast_to(np.array(self.depth_m), (len(seen.hardness_HV), len(self.depth_m)))
        inner, outer = (
            interpolate_rows(np.maximum(at + side * TRAVERSE_PLACE_SD_M, 0.0), seen.depth_m, seen.hardness_HV)
            for side in (1.0, -1.0)
        )
        value = interpolate_rows(at, seen.depth_m, seen.hardness_HV)
        return Prediction(value, 0.5 * np.abs(outer - inner))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return Student's t about each point, all of them together worth a few."""
        return student_likelihood(predicted, np.array(self.hardness_HV), self.spread(predicted, doubt))

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return each point's sd, widened so that a long traverse does not count for more than it knows."""
        del predicted
        several = max(1.0, len(self.depth_m) / TRAVERSE_WORTH) ** 0.5
        return np.asarray(np.hypot(TRAVERSE_SD_HV, doubt) * several)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> TraverseReading:
        """Return the traverse a laboratory would report, to 1 HV."""
        noted = np.round(_noted(self, seen, bias, rng))
        return replace(self, hardness_HV=tuple(float(value) for value in noted))


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

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return how sharply an eye tells streams apart."""
        return np.broadcast_to(np.float64(SPARK_SD_WT), predicted.shape) + doubt

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> SparkReading:
        """Return what an eye would say."""
        del bias
        felt = float(seen.bar_carbon_wt[0]) + SPARK_SD_WT * float(rng.standard_normal())
        return replace(self, high_carbon=felt > SPARK_CARBON_WT)


@dataclass(frozen=True)
class BendReading:
    """How a coupon took a bend; kept, and not used in this release."""

    outcome: Literal["bent", "cracked", "snapped"]
    angle_degrees: float


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


def _depth_prediction(how: DepthMethod, seen: Seen) -> Prediction:
    """Depth by eye goes by carbon, the others by hardness."""
    if how in ("break", "etch"):
        depth = signed_depth(seen.depth_m, seen.carbon_wt, seen.rim_carbon_wt)
    else:
        limit = ISO_18203_LIMIT_HV if how == "HV550" else US_LIMIT_HV
        depth = signed_depth(seen.depth_m, seen.hardness_HV, limit)
    return Prediction(depth[:, None], np.zeros((len(depth), 1)))


def _noted(reading: Reading, seen: Seen, bias: float, rng: np.random.Generator) -> Array:
    """Predicted values of member 0 with the tester's bias and a draw of the reading's own scatter."""
    prediction = reading.predicted(seen)
    value = prediction.value[0] + reading.tester[1] * bias
    sd = reading.spread(prediction.value[:1], prediction.doubt[:1])[0]
    return np.asarray(value + sd * rng.standard_t(READING_FREEDOM, len(value)))


def _or(value: float | None, default: float) -> float:
    return default if value is None else value
