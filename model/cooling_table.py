"""Coolings of a section in a bath at a few severities, heats and ends of the film, read in between.

A fit and a planner look at thousands of members that differ in carbon, in the bath's severity and by some
kelvin of heat and of the film's end. The cooling hardly depends on their carbon, so it is worked out once for
the section, at the nodes below and with a usual case, and read between them: a quick quench. What forms is
then worked out for each member.
Times and temperatures are read at equal shares of the heat given off, where coolings look most alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import prod
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
        weights = _weights(
            (np.array(HEATS_K), np.array(self.breakdowns_K), np.log(SEVERITIES)),
            (hotter_K, breakdown_K, np.log(severity)),
        )
        to_depth = hats(self.depth_m, depth_m)[0]

        def between(nodes: Array) -> Array:
            rows = weights @ nodes.reshape(len(nodes), -1)
            return np.asarray(rows.reshape(-1, *nodes.shape[1:]))

        since_s = np.exp(between(self.log_since)) - SHORTEST_s
        return TableCooling(
            seconds=np.maximum.accumulate(self.in_air_s + np.maximum(since_s, 0.0), axis=1),
            temperature_K=between(self.temperature_K @ to_depth),
            rate_K_per_s=np.exp(between(self.log_rate @ to_depth)),
            # by its root, as a film's time falls to nothing with a bend
            film_s=np.maximum(between(np.sqrt(self.film_s)), 0.0) ** 2,
        )


@dataclass(frozen=True)
class TableCooling:
    """Coolings of M members read off a table; as `Cooling`, and the rate as `QuenchedPart` has it."""

    seconds: Array
    temperature_K: Array
    rate_K_per_s: Array
    film_s: Array


def _weights(axes: tuple[Array, ...], wanted: tuple[Array, ...]) -> Array:
    """Return what each node weighs in each wanted point, (M, N); of the nodes the last axis runs fastest."""
    members = np.arange(len(wanted[0]))
    corners = [(np.zeros(len(members), dtype=np.intp), np.ones(len(members)))]
    for nodes, values in zip(axes, wanted, strict=True):
        if len(nodes) == 1:
            continue
        at, share = _stretch(nodes, values)
        corners = [
            (len(nodes) * place + at + up, weight * part)
            for place, weight in corners
            for up, part in ((0, 1.0 - share), (1, share))
        ]
    weights = np.zeros((len(members), prod(map(len, axes))))
    for place, weight in corners:
        weights[members, place] = weight
    return weights


def _stretch(nodes: Array, wanted: Array) -> tuple[NDArray[np.intp], Array]:
    """Return the stretch of nodes each wanted value is in and how far along it lies, (M,) each."""
    place = np.clip(np.searchsorted(nodes, wanted) - 1, 0, len(nodes) - 2)
    share = (wanted - nodes[place]) / (nodes[place + 1] - nodes[place])
    return place, np.clip(share, 1.0 - REACH, REACH)
