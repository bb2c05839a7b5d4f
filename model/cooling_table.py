"""Coolings of a section in a bath at a few severities, heats and ends of the film, read in between.

A fit and a planner look at thousands of members that differ in carbon, in the bath's severity and by some
kelvin of heat and of the film's end. The cooling hardly depends on their carbon, so it is worked out once for
the section, at the nodes below and with a usual case, and read between them: a quick quench. What forms is
then worked out for each member.
Times and temperatures are read at equal shares of the heat given off, where coolings look most alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.cooling import hats

Array = NDArray[np.float64]

SEVERITIES: Final = (0.3, 0.45, 0.6, 0.75, 0.95, 1.2, 1.6, 2.4)
"""Nodes of severity [-]; beyond the end ones it is carried on along the last stretch, to `REACH`."""
HEATS_K: Final = (-40.0, 40.0)
"""Nodes of heat about the recorded one [K]."""
BREAKDOWNS_K: Final = (-180.0, -90.0, 0.0, 90.0)
"""Nodes of where a film of water breaks down, about the books [K]; 0 alone where none forms."""
REACH: Final = 1.5
"""How far beyond the nodes a member may be, in the last stretch's lengths [-]."""
LEVELS: Final = 64
"""Shares of the heat given off at which times and temperatures are kept; as dense as the solver's steps."""
STEPS_PER_K: Final = 32.0
"""Temperatures are kept as whole steps of a 32nd of a kelvin, up to 2048 K: a quarter of the memory."""
SHORTEST_s: Final = 1e-3
_HEATS_K: Final = np.array([HEATS_K])
_LOG_SEVERITIES: Final = np.log([SEVERITIES])


@dataclass(frozen=True)
class CoolingTable:
    """Coolings at every heat, breakdown and severity: N of them, the severities of the first two first.

    breakdowns_K : nodes of where the film breaks down, one or more [K]
    depth_m : (1, n) of the cells [m]; in_air_s : (L,) seconds on the way to the bath at each level
    log_since : (N, L) of the seconds in the bath
    kept_steps : (N, L, n) of the temperatures, `STEPS_PER_K` to a kelvin
    log_rate : (N, n) of the rate at 704 C where nothing forms [K/s]; film_s : (N,)
    """

    breakdowns_K: tuple[float, ...]
    depth_m: Array
    in_air_s: Array
    log_since: Array
    kept_steps: NDArray[np.uint16]
    log_rate: Array
    film_s: Array

    @property
    def temperature_K(self) -> Array:
        """Temperatures, (N, L, n) [K]."""
        return self.kept_steps / STEPS_PER_K

    def read(self, severity: Array, hotter_K: Array, breakdown_K: Array, depth_m: Array) -> TableCooling:
        """Return the coolings of M members.

        severity : (M,) above 0 [-]; hotter_K : (M,) heat less the table's own [K]
        breakdown_K : (M,) how much hotter the film breaks down than the books say [K]; depth_m : (1, k) [m]
        """
        axes = (_HEATS_K, np.array([self.breakdowns_K]), _LOG_SEVERITIES)
        wanted = (hotter_K, breakdown_K, np.log(severity))
        each = (hats(nodes, own[None], REACH - 1.0)[0] for nodes, own in zip(axes, wanted, strict=True))
        by_heat, by_breakdown, by_severity = each
        by_node = by_heat[:, None, None] * by_breakdown[:, None] * by_severity
        weights, to_depth = by_node.reshape(-1, len(severity)).T, hats(self.depth_m, depth_m)[0]
        since_s = np.exp(weights @ self.log_since) - SHORTEST_s
        return TableCooling(
            seconds=np.maximum.accumulate(self.in_air_s + np.maximum(since_s, 0.0), axis=1),
            temperature_K=self._between(weights, to_depth),
            rate_K_per_s=np.exp(weights @ (self.log_rate @ to_depth)),
            # by its root, as a film's time falls to nothing with a bend
            film_s=np.maximum(weights @ np.sqrt(self.film_s), 0.0) ** 2,
        )

    def _between(self, weights: Array, to_depth: Array) -> Array:
        """Return the temperatures, (M, L, k), in single precision: steps of a 32nd have no more to tell."""
        nodes, levels, cells = self.kept_steps.shape
        steps, to_depth_K = self.kept_steps.reshape(-1, cells), to_depth / STEPS_PER_K
        own = steps.astype(np.float32) @ to_depth_K.astype(np.float32)
        between = weights.astype(np.float32) @ own.reshape(nodes, -1)
        return np.asarray(between.reshape(len(weights), levels, -1))


@dataclass(frozen=True)
class TableCooling:
    """Coolings of M members read off a table; as `Cooling`, and the rate as `QuenchedPart` has it.

    Temperatures are in single precision, and so is what forms along them.
    """

    seconds: Array
    temperature_K: Array
    rate_K_per_s: Array
    film_s: Array
