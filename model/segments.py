"""What a stretch of a process does to the work: its temperature, how long, and what its faces are offered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Supply(Protocol):
    """What a surface is offered, for all members at once."""

    def __call__(self, temperature_K: Array, /) -> tuple[Array, Array]:
        """Return transfer [m/s] (inf: held, 0: sealed) and the steel's carbon potential [wt%], each (M,)."""
        ...


def steady(transfer_m_per_s: Array | float, potential_wt: Array | float) -> Supply:
    """Return a supply that does not change with temperature.

    transfer_m_per_s : one or (M,), 0 or more [m/s]; potential_wt : one or (M,), the steel's own [wt%]
    returns : the supply
    source : definition
    """

    def supply(temperature_K: Array) -> tuple[Array, Array]:
        shape = temperature_K.shape
        return np.broadcast_to(transfer_m_per_s, shape), np.broadcast_to(potential_wt, shape)

    return supply


def held(surface_carbon_wt: Array | float) -> Supply:
    """Return a supply that holds the surface at a carbon content, one or (M,) [wt%]."""
    return steady(np.inf, surface_carbon_wt)


sealed: Supply = steady(0.0, 0.0)
"""A surface that nothing crosses."""


class Moment(NamedTuple):
    """Temperature [K] and supplies of one moment, each array (M,)."""

    temperature_K: Array
    outer: tuple[Array, Array]
    inner: tuple[Array, Array]


@dataclass(frozen=True)
class Segment:
    """One stretch of a process in which the temperature runs straight from start to end.

    duration_s : (M,) or (1,), 0 or more [s]; 0 leaves that member as it was
    start_K, end_K : (M,) or (1,) [K]
    outer : what the outer face is offered; inner : what a packed bore is offered, None for sealed
    record : fractions of the segment, above 0 and below 1, at which a profile is wanted besides its end
    """

    duration_s: Array
    start_K: Array
    end_K: Array
    outer: Supply
    inner: Supply | None = None
    record: tuple[float, ...] = ()

    def moment(self, s: float, members: int) -> Moment:
        """Return temperature and supplies of all members at the fraction s of the segment, 0 to 1."""
        kelvin = np.broadcast_to(self.start_K + s * (self.end_K - self.start_K), (members,))
        return Moment(kelvin, self.outer(kelvin), (self.inner or sealed)(kelvin))
