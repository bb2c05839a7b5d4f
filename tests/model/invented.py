"""An invented shop of which the truth is stated: it runs processes and notes readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from model.inputs import FITTED_INPUTS, links
from model.look import look
from model.priors import prior_for, scatter_factor
from model.process import Process
from model.readings import Observation
from model.sight import Seen

Array = NDArray[np.float64]

NOISE_STREAM: Final = 1


@dataclass(frozen=True)
class InventedShop:
    """A shop with a true value for every coordinate.

    seed : any integer; truth : coordinates by name, in prior sds; one that is not stated is drawn from the
    books by its name alone, so that neither the order of asking nor another coordinate changes it
    """

    seed: int
    truth: Mapping[str, float] = field(default_factory=dict)

    def coordinate(self, name: str) -> float:
        """Return the true whitened coordinate of a name."""
        if name in self.truth:
            return self.truth[name]
        return float(np.random.default_rng([self.seed, crc32(name.encode())]).standard_normal())

    def inputs(self, process: Process) -> Array:
        """Return the true local inputs of a process; what is not fitted is as in the books if not stated."""
        linked = links(process)
        inputs = linked.offset.copy()
        scatter = {latent: (scale, share) for latent, scale, share in linked.scatter}
        for name, row, coefficient in linked.terms:
            if row < FITTED_INPUTS or name in self.truth:
                inputs[row] += (
                    coefficient * self.coordinate(name) * self._scattered(*scatter.get(name, ("", 0.0)))
                )
        return inputs

    def _scattered(self, scale: str, share: float) -> float:
        """Return how much wider than the books say this shop's fires scatter."""
        return float(scatter_factor(scale, self.coordinate(scale), share)) if scale else 1.0

    def seen(self, process: Process) -> Seen:
        """Return what a coupon of the process truly looks like, as one member."""
        return look([process], self.inputs(process)[None, None])[0]

    def note(self, asked: Observation) -> Observation:
        """Return the observation as the shop would note it: its reading's value is filled in, with noise.

        asked : the key, process and kind of reading; what its reading says is not used
        """
        key, _ = asked.reading.tester
        name = f"tester/{key}"
        bias = self.coordinate(name) * prior_for(name).sd if key else 0.0
        rng = np.random.default_rng([self.seed, crc32(asked.key.encode()), NOISE_STREAM])
        reading = asked.reading.simulated(self.seen(asked.process), bias, rng)
        return Observation(asked.key, asked.process, reading, asked.coupon)
