"""A coupon bent in the vice: whole at an angle, or its case cracked by then."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.bending import Bend, bend
from model.bending_constants import middle_bending_constants
from model.likelihood import Likelihood, interval_likelihood
from model.process import Section
from model.sight import After, Prediction, Seen, noted_values, spread_of

Array = NDArray[np.float64]

VICE_SIZES: Final = 8.0  # length bent in a vice, in thicknesses; common practice, no source
# 1 sd of ln angle: the length is good to a factor 1.8, a hairline crack is seldom noticed at once; judgement
VICE_LN_SD: Final = 1.2
CONSTANTS_LN_SD: Final = 0.25  # what `bending_constants` leave of it on a hard case (a test holds it)
ANGLES_deg: Final = (1.0, 180.0)


@dataclass(frozen=True)
class BendReading:
    """How a coupon took a bend to `angle_deg` in a vice.

    A bar that snapped had its case cracked first, so both say that the first crack came by that angle; what
    snapping says beyond that hangs on toughness that no shop knows, and is not used.
    """

    outcome: Literal["bent", "cracked", "snapped"]
    angle_deg: float
    section: Section
    after: After = "quench"

    @property
    def tester(self) -> tuple[str, float]:
        """A bend has no tester's bias."""
        return "", 0.0

    def limits(self) -> tuple[Array, Array]:
        """Return the ends of ln of the first crack's angle in degrees: after it, or by it."""
        angle, open_end = np.array([log(self.angle_deg)]), np.array([np.inf])
        return (angle, open_end) if self.outcome == "bent" else (-open_end, angle)

    def predicted(self, seen: Seen) -> Prediction:
        """Predict ln of the angle at which the case cracks, by the books' middle constants of breaking."""
        how = Bend(VICE_SIZES * self.section.size_m, cantilever=True)
        depth_m = seen.depth_m if seen.depth_m.ndim == 1 else seen.depth_m[0]
        hardness_HV = _on_one_grid(depth_m, seen, self.after)
        bent = bend(self.section, depth_m, hardness_HV, middle_bending_constants(), how)
        angle = np.log(bent.first_crack_deg)[:, None]
        return Prediction(angle, np.full_like(angle, CONSTANTS_LN_SD))

    def likelihood(self, predicted: Array, doubt: Array) -> Likelihood:
        """Return the probability of a first crack on that side of the angle."""
        (low,), (high,) = self.limits()
        return interval_likelihood(predicted, float(low), float(high), self.spread(predicted, doubt))

    @property
    def own_sd(self) -> tuple[float, float]:
        """Doubt of the length bent and of the angle."""
        return VICE_LN_SD, 1.0

    def spread(self, predicted: Array, doubt: Array) -> Array:
        """Return the vice's doubt with that of the constants of breaking."""
        del predicted
        return spread_of(self.own_sd, doubt)

    def simulated(self, seen: Seen, bias: float, rng: np.random.Generator) -> BendReading:
        """Return whether the case of the true coupon held to the angle."""
        holds = noted_values(self, seen, bias, rng)[0] > log(self.angle_deg)
        return replace(self, outcome="bent" if holds else "cracked")


def _on_one_grid(depth_m: Array, seen: Seen, after: After) -> Array:
    """Return the hardness of all members at the depths of the first, (members, points)."""
    hardness_HV = seen.hardness_after_HV(after)
    if seen.depth_m.ndim == 1:
        return hardness_HV
    rows = zip(seen.depth_m, hardness_HV, strict=True)
    return np.stack([np.interp(depth_m, own_m, own_HV) for own_m, own_HV in rows])
