"""Heat flux of a boiling bath against the temperature of the surface in it.

A liquid has three regimes as the surface cools: a vapour film, vigorous boiling once the film has
broken down, and plain convection. The breakdown is a front that wets the face bit by bit, from edges and
ends (Tetsu-to-Hagane 63 (1977) 1008, abstract seen), so that the face is wet and dry by shares for a while.
"""

from __future__ import annotations

from dataclasses import dataclass
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
    """Heat flux against surface temperature at one bath temperature; fields (M,), Celsius and W/m2.

    film, convection : transfer of the film and of the cold liquid [W/m2 K]
    low_C, high_C : (3, 1, M) ends of three stretches: boiling sets in, is in full, gives way to the film [C]
    log_start, log_slopes : logarithm of the flux where boiling ends, (M,); its slopes, (2, 1, M) [1/K]
    """

    bath_C: Array
    film: Array
    convection: Array
    low_C: Array
    high_C: Array
    log_start: Array
    log_slopes: Array

    def flux(self, surface_C: Array) -> Array:
        """Heat flux at a surface temperature, (k, M) [C] to the same [W/m2]."""
        within = np.minimum(np.maximum(surface_C, self.low_C), self.high_C) - self.low_C
        above_K = surface_C - self.bath_C
        rise = self.log_slopes * within[:2]
        boiling = np.exp(self.log_start + rise[0] + rise[1])
        wet = np.where(surface_C < self.low_C[0], self.convection * above_K, boiling)
        dry_share = within[2] / self.width_K
        return np.asarray(wet + dry_share * (self.film * above_K - wet))

    @cached_property
    def width_K(self) -> Array:
        """Stretch over which the film breaks down, (1, M) [K]."""
        return np.asarray(self.high_C[2] - self.low_C[2])
