"""What a stretch of a process does to the work: its temperature, how long, and what its faces are offered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from model.errors import NotPossible

Array = NDArray[np.float64]


class Supply(Protocol):
    """What a surface is offered, for all members at once."""

    def __call__(self, temperature_K: Array, /) -> tuple[Array, Array]:
        """Return transfer [m/s] (inf: held, 0: sealed) and the steel's own potential [wt%].

        temperature_K : (M,), or (k, M) for k moments; returns that shape, or (M,) or (1,) where it is steady
        """
        ...


def steady(transfer_m_per_s: Array | float, potential_wt: Array | float) -> Supply:
    """Return a supply that does not change with temperature.

    transfer_m_per_s : one or (M,), 0 or more [m/s]; potential_wt : one or (M,), the steel's own [wt%]
    returns : the supply
    source : definition
    """
    offered = np.atleast_1d(np.asarray(transfer_m_per_s)), np.atleast_1d(np.asarray(potential_wt))
    return lambda _: offered


def held(surface_carbon_wt: Array | float) -> Supply:
    """Return a supply that holds the surface at a carbon content, one or (M,) [wt%]."""
    return steady(np.inf, surface_carbon_wt)


sealed: Supply = steady(0.0, 0.0)
"""A surface that nothing crosses."""


class Moment(NamedTuple):
    """Temperature (M,) or (k, M) [K] and supplies of one moment or k of them, as a `Supply` returns them."""

    temperature_K: Array
    outer: tuple[Array, Array]
    inner: tuple[Array, Array] | None


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

    def __post_init__(self) -> None:
        """Refuse a moment outside the segment."""
        if not all(0.0 < fraction < 1.0 for fraction in self.record):
            raise NotPossible(
                "segments.record",
                "a recorded moment lies outside its stretch",
                "Use fractions between 0 and 1.",
            )

    def spread(self, members: int) -> Segment:
        """Return the segment with duration and temperatures given for every member."""
        if all(len(each) == members for each in (self.duration_s, self.start_K, self.end_K)):
            return self
        return replace(
            self,
            duration_s=np.broadcast_to(self.duration_s, (members,)),
            start_K=np.broadcast_to(self.start_K, (members,)),
            end_K=np.broadcast_to(self.end_K, (members,)),
        )

    def moment(self, s: Array | float) -> Moment:
        """Return temperature and supplies at fractions s, 0 to 1, of a segment that is spread.

        s : one, or (k, 1) for what is (k, M)
        """
        temperature_K = self.start_K + s * (self.end_K - self.start_K)
        inner = self.inner(temperature_K) if self.inner else None
        return Moment(temperature_K, self.outer(temperature_K), inner)
