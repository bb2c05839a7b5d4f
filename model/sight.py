"""What can be seen of a coupon, and what every kind of reading must know to do with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from model.likelihood import READING_FREEDOM, Likelihood
from model.traverse import depth_of_fall

Array = NDArray[np.float64]
After = Literal["slow_cool", "quench", "temper"]

SKIN_SLOPE_DEPTH_M: Final = 0.1e-3
LEAST_FALL_PER_M: Final = 500.0  # least share of the skin lost in a metre: keeps no case finite
LEAST_SKIN: Final = 0.1


@dataclass(frozen=True)
class Seen:
    """What can be seen of a coupon as quenched, over members.

    depth_m : (points,) or (members, points) [m] from the face; carbon_wt, hardness_HV : (members, points)
    tempered_HV : (members, points) after the tempers; nan where they are not modelled
    rim_carbon_wt : (members,) carbon where an eye sees the case end; bar_carbon_wt : (members,) the bar's own
    """

    depth_m: Array
    carbon_wt: Array
    hardness_HV: Array
    tempered_HV: Array
    rim_carbon_wt: Array
    bar_carbon_wt: Array

    def hardness_after_HV(self, after: After) -> Array:
        """Return the hardness at the moment of a reading, (members, points) [HV]."""
        return self.tempered_HV if after == "temper" else self.hardness_HV


@dataclass(frozen=True)
class Prediction:
    """Predicted value of a reading and the doubt the model itself adds, (members, points) each."""

    value: Array
    doubt: Array


class Reading(Protocol):
    """A kind of reading."""

    @property
    def tester(self) -> tuple[str, float]:
        """Key of what it was read with, and how much of its bias enters; ("", 0) for none."""

    def limits(self) -> tuple[Array, Array]:
        """Lowest and highest value the reading allows, (points,) each; equal for a point reading."""

    def predicted(self, seen: Seen) -> Prediction:
        """Predict the reading, without the tester's bias."""

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the likelihood at predicted values, (members, points) each."""

    @property
    def own_sd(self) -> tuple[float, float]:
        """1 sd of one value by itself, and by what factor it is widened where several err together."""

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return 1 sd of the reading at predicted values: its own, with the doubt of the prediction."""

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> Self:
        """Return the reading that a shop would note of member 0."""


def spread_of(own_sd: tuple[float, float], doubt: Array) -> Array:
    """Return 1 sd of values, of the shape of `doubt`: their own sd and the doubt in quadrature, widened.

    own_sd : as `Reading.own_sd`; doubt : what the prediction itself is doubted by, in the same unit
    """
    own, wider = own_sd
    return np.asarray(wider * np.hypot(own, doubt))


def noted_values(reading: Reading, seen: Seen, bias: float, rng: np.random.Generator) -> Array:
    """Return the values of member 0 as a shop would find them.

    reading : what is read; seen : the truth; bias : of its tester, in the reading's unit; rng : of scatter
    Returns (points,): predicted, with the tester's bias and a draw of the reading's own scatter.
    """
    prediction = reading.predicted(seen)
    value = prediction.value[0] + reading.tester[1] * bias
    sd = reading.spread(prediction.value[:1], prediction.doubt[:1])[0]
    return np.asarray(value + sd * rng.standard_t(READING_FREEDOM, len(value)))


def signed_depth(depth_m: Array, values: Array, limit: Array | float) -> Array:
    """Return the depth at which a profile falls through a limit, below 0 when it never reaches it.

    depth_m : (points,) or (members, points) [m]; values : (members, points); limit : one or (members,)
    Returns (members,) [m]: where the limit is not reached, the skin's slope is carried on outwards, so
    that the depth keeps a slope by every input; the last point where the profile is all above it.
    """
    case = depth_of_fall(depth_m, values, limit)
    depth = np.broadcast_to(depth_m, values.shape)
    rows = np.arange(values.shape[0])
    under = np.argmax(depth > SKIN_SLOPE_DEPTH_M, axis=1)
    fall_per_m = (values[:, 0] - values[rows, under]) / (depth[rows, under] - depth[:, 0])
    least_per_m = LEAST_FALL_PER_M * np.maximum(values[:, 0], LEAST_SKIN)
    outward = (values[:, 0] - limit) / np.maximum(fall_per_m, least_per_m)
    return np.where(case.found | case.whole_section, case.depth_m, np.minimum(outward, 0.0))
