"""Heat flux of a boiling bath against the temperature of the surface in it.

A liquid has three regimes as the surface cools: a vapour film, vigorous boiling once the film has
broken down, and plain convection. The breakdown is a front that wets the face bit by bit, from edges and
ends (Tetsu-to-Hagane 63 (1977) 1008, abstract seen), so that the face is wet and dry by shares for a while.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FILM_SIZE_m: Final = 0.0125
"""Diameter on which the table's films are stated, that of the probes [m]."""


def film_by_size_breen_westwater_1962(size_m: Array | float, wave_m: Array) -> Array:
    """Return how much more the film gives on a part than on one of `FILM_SIZE_m`.

    size_m : diameter, 0.0005 to 1 [m]; wave_m : Taylor's wavelength of the liquid's face [m]; broadcasting
    Returns the broadcast shape [-].
    Source: Breen & Westwater, Chem. Eng. Prog. 58 (1962) no. 7, 67, from memory; on lying cylinders. Free
    convection of the cold liquid outside the film depends on the size nearly alike.
    """
    return np.asarray((0.59 + 0.069 * wave_m / size_m) / (0.59 + 0.069 * wave_m / FILM_SIZE_m))


@dataclass(frozen=True)
class Curve:
    """Heat flux against surface temperature at one bath temperature; fields (k, M), Celsius and W/m2.

    film : transfer of the vapour film [W/m2 K]
    low_C, span_K : (2, k, M) where two stretches begin, and their widths: boiling sets in, and gives way to
        the film; between them it is in full
    log_start, log_slope : logarithm of the flux where boiling ends, and its slope as it sets in [1/K]
    k is 1, or as many as the temperatures that are asked for at once: arrays of one shape are far quicker.
    """

    bath_C: Array
    film: Array
    low_C: Array
    span_K: Array
    log_start: Array
    log_slope: Array

    def flux(self, surface_C: Array) -> Array:
        """Heat flux at a surface temperature, (k, M) [C] to the same [W/m2]."""
        within = np.minimum(np.maximum(surface_C - self.low_C, 0.0), self.span_K)
        above_K = surface_C - self.bath_C
        boiling = np.exp(self.log_start + self.log_slope * within[0])
        wet = boiling * np.minimum(above_K * self._per_end_K, 1.0)  # below the end of boiling, convection
        dry_share = within[1] * self._per_width_K
        return np.asarray(wet + dry_share * (self.film * above_K - wet))

    def for_temperatures(self, count: int) -> Curve:
        """Return the same curve, quick for so many temperatures at once."""
        return Curve(*(np.repeat(getattr(self, each.name), count, axis=-2) for each in fields(self)))

    @cached_property
    def _per_end_K(self) -> Array:
        """One over the distance of the end of boiling from the bath [1/K]."""
        return np.asarray(1.0 / (self.low_C[0] - self.bath_C))

    @cached_property
    def _per_width_K(self) -> Array:
        """One over the stretch in which the film breaks down [1/K]."""
        return np.asarray(1.0 / self.span_K[1])
