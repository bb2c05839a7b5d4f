"""An independent look at what a bath can harden through: ideal diameters and Grossmann's severity."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from model.ranges import Range, check
from model.steels import Composition

Array = NDArray[np.float64]

A255_CARBON_WT: Final = Range(0.0, 0.90, "wt%", "The table of ASTM A255 ends at 0.90 % carbon.")
MANGANESE_BREAK_WT: Final = 1.20
HALF_TEMPERATURE: Final = 0.5
"""Centre temperature above the bath, over that at the start, at which two bars are compared [-]."""
_ROOTS: Final = 12


def ideal_diameter_a255(composition: Composition) -> float:
    """Ideal diameter: the bar that hardens to half martensite at its middle in an ideal quench.

    composition : [wt%], C to 0.90; Mn to 1.65, Cr to 1.35, Ni to 1.50, Mo to 0.55 in the standard's scope
    Returns the diameter [inch], for grain number 7 and no boron.
    Raises OutOfRange for carbon above 0.90.
    Source: ASTM A255 multiplying factors, from memory (H).
    """
    c = composition
    check("steel.composition_wt.C", c.C, A255_CARBON_WT)
    manganese = 1.0 + 3.3333 * c.Mn if c.Mn <= MANGANESE_BREAK_WT else 5.10 * c.Mn - 1.12
    alloy = (1.0 + 0.7 * c.Si) * (1.0 + 0.363 * c.Ni) * (1.0 + 2.16 * c.Cr) * (1.0 + 3.0 * c.Mo)
    return _carbon_factor(c.C) * manganese * alloy * (1.0 + 0.365 * c.Cu) * (1.0 + 1.73 * c.V)


def _carbon_factor(carbon_wt: float) -> float:
    """Return the factor of carbon at grain number 7 [inch]; ASTM A255, from memory."""
    for most, terms in _CARBON_FACTORS:
        if carbon_wt <= most:
            return float(np.polynomial.polynomial.polyval(carbon_wt, terms))
    raise AssertionError("carbon was checked before")


_CARBON_FACTORS: Final = (
    (0.39, (0.0, 0.54)),
    (0.55, (0.171, 0.001, 0.265)),
    (0.65, (0.115, 0.268, -0.038)),
    (0.75, (0.143, 0.2)),
    (0.90, (0.062, 0.409, -0.135)),
)


@cache
def half_temperature_fourier_cylinder(biot: float) -> float:
    """Fourier number at which the middle of a long cylinder has come half way to the bath.

    biot : h R / k, above 0 [-]
    Returns a t / R2 [-]; 0.2005 as the quench becomes ideal.
    Source: exact series for a cylinder with surface transfer (Carslaw & Jaeger); twelve terms.
    """
    roots = _cylinder_roots(biot)
    weight = 2.0 * j1(roots) / (roots * (j0(roots) ** 2 + j1(roots) ** 2))

    def above_half(fourier: float) -> float:
        return float(weight @ np.exp(-(roots**2) * fourier)) - HALF_TEMPERATURE

    slowest = 10.0 / float(roots[0]) ** 2
    return float(brentq(above_half, 0.02, slowest))


def _cylinder_roots(biot: float) -> Array:
    """Return the first roots of z J1(z) = Bi J0(z), one between each two zeros of J1."""
    low = np.concatenate([[0.0], jn_zeros(1, _ROOTS - 1)])
    high = jn_zeros(0, _ROOTS)

    def condition(z: float) -> float:
        return float(z * j1(z) - biot * j0(z))

    return np.array([brentq(condition, a + 1e-12, b) for a, b in zip(low, high, strict=True)])


def ideal_diameter_of_bar_grossmann(diameter_in: float, severity_per_in: float) -> float:
    """Ideal diameter that a real bar in a real bath asks for, to be half martensite at its middle.

    diameter_in : of the bar [inch], above 0; severity_per_in : Grossmann's H = h / 2k [1/inch], above 0
    Returns the diameter [inch].
    Source: equal half-temperature times (Grossmann & Asimow 1940, from memory), worked exactly.
    """
    bar = half_temperature_fourier_cylinder(severity_per_in * diameter_in)
    return diameter_in * float(np.sqrt(bar / half_temperature_fourier_cylinder(IDEAL_BIOT)))


IDEAL_BIOT: Final = 1.0e6
"""Biot number that stands for an ideal quench [-]."""
