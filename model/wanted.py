"""What a shop wants to know next: this job's depth, its hardness, a box's warm-up, how a bath bites.

A depth or a hardness is told as a reading without scatter or likelihood: what a forecast shows of it, by
the same solve as the readings that are weighed for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.conversion import rockwell_c_continued
from model.likelihood import Likelihood
from model.planner import Goal, depth_of
from model.process import Process
from model.sight import After, Prediction, Seen

Array = NDArray[np.float64]

INPUT_OF: Final = {"warm_up": "ln_lag", "bath": "ln_bath_severity"}
"""Wants that are one local input themselves, in ln."""


@dataclass(frozen=True)
class Shown:
    """A case depth by a goal [m], or without a goal the true skin's hardness [HRC], as it is after a step."""

    goal: Goal | None = None
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """The truth is read with nothing."""
        return "", 0.0

    def limits(self) -> tuple[Array, Array]:
        """Anything: nothing was read."""
        return np.array([-np.inf]), np.array([np.inf])

    def predicted(self, seen: Seen) -> Prediction:
        """Return what is wanted of it, without doubt."""
        if self.goal is not None:
            value = depth_of(self.goal, seen)
        else:
            value = np.asarray(rockwell_c_continued(seen.hardness_after_HV(self.after)[:, 0]))
        return Prediction(value[:, None], np.zeros((len(value), 1)))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return nothing of nothing read."""
        del doubt
        nothing = np.zeros_like(predicted)
        return Likelihood(nothing, nothing, nothing)

    @property
    def own_sd(self) -> tuple[float, float]:
        """The truth has no scatter."""
        return 0.0, 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return no scatter."""
        del doubt
        return np.zeros_like(predicted)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> Shown:
        """Return itself: it is never noted."""
        del seen, bias, rng
        return self


@dataclass(frozen=True)
class Want:
    """One thing that is wanted: of which process, by a key of the asker's own.

    quantity : depth [m] (by `goal`), hardness out of the bath and tempered [HRC], warm_up [s] of its box,
        bath [-] how hard its bath bites
    """

    key: str
    process: Process
    quantity: Literal["depth", "hardness", "tempered", "warm_up", "bath"]
    goal: Goal | None = None

    @property
    def shown(self) -> Shown | None:
        """What a forecast shows of it; None for what is a constant of the shop itself."""
        if self.quantity in INPUT_OF:
            return None
        return Shown(self.goal, "temper" if self.quantity == "tempered" else "quench")
