"""The demo's hidden forge: what its constants truly are, in sds from what the books say.

All of it is invented. A coordinate is a prior's own scale (`model/data/priors.csv`): +1 on
`ln_transfer/shop` is a pack one standard deviation livelier than the books.
"""

from __future__ import annotations

from collections.abc import Mapping
from zlib import crc32

import numpy as np

from model.arrow import Covariance
from model.belief import ShopBelief
from model.inputs import LATENTS, links
from model.look import look
from model.priors import prior_for
from model.process import Process
from model.readings import Observation
from model.sight import Reading, Seen

SEED = 1933
# Keys are those of `webapp.demo.shop`; `mix/plain` becomes `ln_transfer/mix:3` once the mix has its id.
TRUE_COORDINATES: Mapping[str, float] = {
    "temperature_bias/thermocouple": -1.0,
    "temperature_bias/colour": 0.6,
    "ln_transfer/shop": 0.5,
    "mix/plain": -0.5,
    "mix/soda": 0.3,
    "mix/chalk": -0.4,
    "activity/shop": 0.4,
    "lag/shop": 0.4,
    "box/tube": -0.4,
    "box/plate": 0.7,
    "rim_carbon/shop": 0.4,
    "bar/rod": 0.3,
    "bar/flat": -0.2,
    "tester/rockwell": 0.7,
    "tester/files": -0.5,
    "oven/oven": -0.7,
}
# A seal that fails lets air in: the pack feeds less and its gas is leaner (physical scale of each).
FAILED_SEAL_LN_TRANSFER = float(np.log(0.4))
FAILED_SEAL_ACTIVITY_LOGIT = -1.0
LN_TRANSFER, ACTIVITY_LOGIT = 1, 2


class TrueForge:
    """Draws what a shop would have read off a piece."""

    def __init__(self, coordinates: Mapping[str, float]) -> None:
        """Hold the true coordinates by the logbook's own keys."""
        self._coordinates = coordinates
        self._seen: dict[tuple[Process, bool], Seen] = {}

    def seen(self, process: Process, seal_failed: bool) -> Seen:
        """Return what truly became of a piece; pieces that went the same way share one solve."""
        if (process, seal_failed) not in self._seen:
            self._seen[process, seal_failed] = self._look(process, seal_failed)
        return self._seen[process, seal_failed]

    def _look(self, process: Process, seal_failed: bool) -> Seen:
        linked = links(process)
        names = linked.names()
        mean = np.array([self.coordinate(name) for name in names])
        belief = ShopBelief(names, mean, Covariance.whole(np.zeros((len(names), len(names)))))
        inputs = belief.point_inputs(linked)
        if seal_failed:
            inputs[LN_TRANSFER] += FAILED_SEAL_LN_TRANSFER
            inputs[ACTIVITY_LOGIT] += FAILED_SEAL_ACTIVITY_LOGIT
        return look([process], inputs[None, None, :])[0]

    def coordinate(self, name: str) -> float:
        """Return a true coordinate; a fire, and a box in it, scatter as the books say they do."""
        if name.startswith(LATENTS):
            return float(np.random.default_rng([SEED, crc32(name.encode())]).standard_normal())
        return self._coordinates.get(name, 0.0)

    def warm_up_factor(self, box_id: int) -> float:
        """Return how many times what the books give a box truly takes to come to heat."""
        names = ("lag/shop", f"lag/box:{box_id}")
        return float(np.exp(sum(self.coordinate(name) * prior_for(name).sd for name in names)))

    def noted(self, observation: Observation, seen: Seen) -> Reading:
        """Return a reading as the shop would have noted it, with its tester's bias and its own scatter."""
        reading: Reading = observation.reading
        tester, _ = reading.tester
        bias = self.coordinate(f"tester/{tester}") * prior_for(f"tester/{tester}").sd if tester else 0.0
        rng = np.random.default_rng([SEED, crc32(observation.key.encode())])
        return reading.simulated(seen, bias, rng)
