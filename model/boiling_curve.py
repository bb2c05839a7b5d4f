"""Heat flux of a boiling bath against the temperature of the surface in it.

A liquid has three regimes as the surface cools: a vapour film, vigorous boiling once the film has
broken down, and plain convection. The breakdown is a front that wets the face bit by bit, from edges and
ends (Tetsu-to-Hagane 63 (1977) 1008, abstract seen), so that the face is wet and dry by shares for a while.
"""

from __future__ import annotations

from typing import Final, NamedTuple

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


class Curve(NamedTuple):
    """Heat flux against surface temperature at one bath temperature; Celsius and W/m2.

    start_C, per_K, least, most : (3, k, M) of three stretches: where each begins, what it counts for each
        kelvin, and between what. Boiling sets in, as the logarithm of its flux; gives way to the film, as a
        share of the face; and comes to its full size from the bath on, as a share that may be below 0
    log_start : logarithm of the flux where boiling ends, (k, M)
    film : flux of the vapour film at the end of boiling, to which the film's own is in proportion, (k, M)
    k is 1, or as many as the temperatures that are asked for at once: arrays of one shape are far quicker.
    """

    start_C: Array
    per_K: Array
    least: Array
    most: Array
    log_start: Array
    film: Array

    def flux(self, surface_C: Array) -> Array:
        """Heat flux at a surface temperature, (k, M) [C] to the same [W/m2]."""
        along = (surface_C - self.start_C) * self.per_K
        within = np.minimum(np.maximum(along, self.least), self.most)
        wet = np.exp(self.log_start + within[0]) * within[2]  # below the end of boiling, convection
        return np.asarray(wet + within[1] * (self.film * along[2] - wet))

    def times(self, factor: Array) -> Curve:
        """Return the curve of a bath that takes more heat at every temperature by a factor, (M,) above 0."""
        return self._replace(log_start=self.log_start + np.log(factor), film=self.film * factor)

    def for_temperatures(self, count: int) -> Curve:
        """Return the same curve, quick for so many temperatures at once."""
        return Curve(*(np.repeat(each, count, axis=-2) for each in self))
