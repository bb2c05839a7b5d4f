"""A cooling that has been worked out: temperatures, and what is read off them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from model.baths import Baths
from model.grid import Grid
from model.units import ZERO_CELSIUS_K

Array = NDArray[np.float64]

RATE_SPAN_K = 50.0
"""Span over which a cooling rate is taken [K]."""
_SHORTEST_s = 1e-9


@dataclass(frozen=True)
class Cooling:
    """Temperatures of M members; each has its own times, and waits on them while others still move.

    depth_m : (1 or M, n) of the cells [m]
    seconds : (M, t) from the fire [s]; never falling
    temperature_K : (M, t, n); bath_K : (M, t)
    given_off_J_per_m2 : (M, t) heat given off so far, over the outer face
    entry_s : (M,) when the work met the bath
    film_s : (M,) how long the vapour film held on the face in the bath, 0 where there was none
    """

    depth_m: Array
    seconds: Array
    temperature_K: Array
    bath_K: Array
    given_off_J_per_m2: Array
    entry_s: Array
    film_s: Array

    @property
    def surface_K(self) -> Array:
        """Temperature of the face, (M, t) [K]: that of the first cell, which is within 5 K of it."""
        return self.temperature_K[:, :, 0]

    def seconds_to(self, temperature_K: float) -> Array:
        """Time at which each cell first is no hotter than a temperature, (M, n) [s]; nan if it never is."""
        return _crossing(self.seconds, self.temperature_K, temperature_K)

    def seconds_between(self, high_K: float, low_K: float) -> Array:
        """Time each cell takes from one temperature to another, (M, n) [s]."""
        return self.seconds_to(low_K) - self.seconds_to(high_K)

    def rate_at(self, temperature_K: float) -> Array:
        """Cooling rate of each cell at a temperature, over 50 K about it, (M, n) [K/s].

        Where the work began within those 50 K, over what is left of them; nan where it began below.
        """
        low_K = temperature_K - 0.5 * RATE_SPAN_K
        fall_K = np.minimum(self.temperature_K[:, 0], low_K + RATE_SPAN_K) - low_K
        taken = self.seconds_to(low_K) - self.seconds_to(low_K + RATE_SPAN_K)
        return np.where(fall_K > 0.0, fall_K / np.maximum(taken, _SHORTEST_s), np.nan)

    def at_depths(self, depth_m: Array) -> Cooling:
        """Return the same cooling at other depths, straight between the cells and level beyond the end ones.

        depth_m : (1 or M, k) [m]
        """
        if np.array_equal(depth_m, self.depth_m):
            return self
        return replace(self, depth_m=depth_m, temperature_K=self.temperature_K @ hats(self.depth_m, depth_m))

    def of_members(self, rows: slice) -> Cooling:
        """Return the cooling of some members, without the states on which all of them waited.

        depth_m stays one row if it was; each member's own is kept otherwise.
        """
        moves = (np.diff(self.seconds[rows], axis=1) > 0.0).any(axis=0)
        states = np.concatenate([[True], moves])
        return Cooling(
            depth_m=self.depth_m[rows] if len(self.depth_m) > 1 else self.depth_m,
            seconds=self.seconds[rows, states],
            temperature_K=self.temperature_K[rows, states],
            bath_K=self.bath_K[rows, states],
            given_off_J_per_m2=self.given_off_J_per_m2[rows, states],
            entry_s=self.entry_s[rows],
            film_s=self.film_s[rows],
        )


def _crossing(seconds: Array, temperature_K: Array, level_K: float) -> Array:
    """Return when each cell first is at or below a level, (M, n); nan where it is not."""
    below = temperature_K <= level_K
    place = below.argmax(axis=1)
    before = np.maximum(place - 1, 0)
    member, cell = np.arange(len(place))[:, None], np.arange(place.shape[1])
    high, low = temperature_K[member, before, cell], temperature_K[member, place, cell]
    start, end = seconds[member, before], seconds[member, place]
    fall = high - low
    share = np.divide(high - level_K, fall, out=np.zeros_like(fall), where=fall > 0.0)
    return np.where(below.any(axis=1), start + np.clip(share, 0.0, 1.0) * (end - start), np.nan)


def hats(nodes: Array, wanted: Array, beyond: float = 0.0) -> Array:
    """Return the weights of straight interpolation from nodes (., n) to points (., k), as (., n, k).

    beyond : how far the end stretches are carried on, in their own lengths; level from there on
    """
    along = (wanted[:, None, :] - nodes[:, :-1, None]) / (nodes[:, 1:] - nodes[:, :-1])[:, :, None]
    least, most = np.zeros((along.shape[1], 1)), np.ones((along.shape[1], 1))
    least[:1] -= beyond
    most[-1:] += beyond
    along = np.minimum(np.maximum(along, least), most)
    weights = np.ones((along.shape[0], nodes.shape[1], along.shape[2]))
    weights[:, 1:] = along
    weights[:, :-1] -= along
    return weights


@dataclass
class Recorded:
    """States of a cooling as they come."""

    seconds: list[Array] = field(default_factory=list)
    temperature_C: list[Array] = field(default_factory=list)
    bath_K: list[Array] = field(default_factory=list)
    given_off: list[Array] = field(default_factory=list)

    def add(self, seconds: Array, temperature_C: Array, bath_K: Array, given_off: Array) -> None:
        """Keep one state of all members."""
        self.seconds.append(seconds)
        self.temperature_C.append(temperature_C)
        self.bath_K.append(bath_K)
        self.given_off.append(given_off)

    def cooling(self, grid: Grid, baths: Baths, entry_s: Array) -> Cooling:
        """Return the whole of it."""
        seconds, bath_K = _in_turn(self.seconds), _in_turn(self.bath_K)
        temperature_K = _in_turn(self.temperature_C) + ZERO_CELSIUS_K
        return Cooling(
            depth_m=grid.centres_m,
            seconds=seconds,
            temperature_K=temperature_K,
            bath_K=bath_K,
            given_off_J_per_m2=_in_turn(self.given_off),
            entry_s=entry_s,
            film_s=_film_seconds(baths, seconds, temperature_K[:, :, 0], bath_K, entry_s),
        )


def _in_turn(states: list[Array]) -> Array:
    """Return states of all members, (M, ...) each, as (M, t, ...)."""
    joined = np.concatenate(states).reshape(len(states), *states[0].shape)
    return np.ascontiguousarray(joined.swapaxes(0, 1))


def _film_seconds(baths: Baths, seconds: Array, surface_K: Array, bath_K: Array, entry_s: Array) -> Array:
    """Return how long the face stays hotter than where half the film has broken down, (M,) [s]."""
    # until the work meets the bath, what was recorded is the temperature of the air
    bath_K = np.where(seconds <= entry_s[:, None], baths.bath_K[:, None], bath_K)
    half_gone_K = baths.film_gone_K(bath_K.T).T
    hotter = surface_K - half_gone_K
    after = seconds >= entry_s[:, None]
    gone = _crossing(seconds, np.where(after, hotter, 1e9)[:, :, None], 0.0)[:, 0]
    held = np.nan_to_num(gone - entry_s, nan=0.0)  # nan: the work was cold before it met the bath
    return np.where(baths.liquid > 0.0, np.maximum(held, 0.0), 0.0)
