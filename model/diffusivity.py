"""Diffusivity of carbon in austenite, one published formula a function.

Each takes carbon and temperature, broadcast against each other, and returns m2/s, so that any of them
can be handed to the solver. They are formulas for austenite alone: about 1000 to 1450 K and 0 to 1.5 wt%.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Diffusivity = Callable[[Array, Array], Array]
OfCarbon = Callable[[Array, Array, Array], Array]
"""Diffusivity at known temperatures: of carbon, the array to fill and return, and one to work in."""

GAS_CONSTANT = 8.314462618
"""Molar gas constant [J/(mol K)], SI 2019 exact value, rounded."""
GAS_CONSTANT_CAL = 1.987
"""The same [cal/(mol K)], rounded as the older publications did."""
MOLAR_MASS_CARBON = 12.011
MOLAR_MASS_IRON = 55.845
"""Molar masses [g/mol], IUPAC standard atomic weights."""
SITES_PER_WEIGHT = MOLAR_MASS_IRON / MOLAR_MASS_CARBON
"""Interstitial sites filled over carbon's weight over iron's [-]."""


def site_fraction(carbon_wt: Array) -> Array:
    """Return the fraction of interstitial sites that carbon fills, y = x / (1 - x).

    carbon_wt : carbon, any shape [wt%], 0 to 6
    returns : y, same shape [-]
    source : definition; austenite has one octahedral site an iron atom
    """
    return SITES_PER_WEIGHT * carbon_wt / (100.0 - carbon_wt)


@dataclass(frozen=True)
class AgrenAt:
    """Agren's diffusivity at temperatures: what depends on them alone is worked out once.

    even : of iron without carbon [m2/s]; rise, bend : what its carbon adds; growth : of the exponential.
    All of the temperature's shape, as factors of carbon over iron by weight, c / (100 - c).
    """

    even: Array
    rise: Array
    bend: Array
    growth: Array

    @classmethod
    def of(cls, temperature_K: Array) -> AgrenAt:
        """Return it at temperatures, any shape [K]."""
        inverse = 1.0 / temperature_K
        beyond = inverse - 2.221e-4
        even = 4.53e-7 * np.exp(-17767.0 * beyond)
        rise = (8339.9 * SITES_PER_WEIGHT) * inverse * even
        return cls(even, rise, SITES_PER_WEIGHT * rise, (26436.0 * SITES_PER_WEIGHT) * beyond)

    def for_nodes(self, nodes: int) -> AgrenAt:
        """Return the same of (M,) temperatures with so many nodes each, (M * nodes,)."""
        each = (self.even, self.rise, self.bend, self.growth)
        return AgrenAt(*(values.repeat(nodes) for values in each))

    def __call__(self, carbon_wt: Array, out: Array, spare: Array) -> Array:
        """Fill an array with the diffusivity [m2/s], as `OfCarbon` says."""
        over_iron = np.divide(carbon_wt, np.subtract(100.0, carbon_wt, out=spare), out=spare)
        np.multiply(self.bend, over_iron, out=out)
        np.subtract(self.rise, out, out=out)
        out *= over_iron
        out += self.even
        over_iron *= self.growth
        out *= np.exp(over_iron, out=over_iron)
        return out


def diffusivity_agren_1986(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in austenite after Agren.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : J. Agren, Scripta Metall. 20 (1986) 1507; constants seen in public numerical sources
    """
    shape = np.broadcast_shapes(np.shape(carbon_wt), np.shape(temperature_K))
    return AgrenAt.of(temperature_K)(carbon_wt, np.empty(shape), np.empty(shape))


def diffusivity_tibbetts_1980(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in austenite after Tibbetts.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : G. G. Tibbetts, J. Appl. Phys. 51 (1980) 4813; constants from memory
    """
    inverse = 1.0 / (GAS_CONSTANT_CAL * temperature_K)
    return 0.47e-4 * np.exp(carbon_wt * (6600.0 * inverse - 1.6) - 37000.0 * inverse)


def diffusivity_slycke_ericsson_1981(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in austenite after Slycke and Ericsson.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : Slycke and Ericsson, J. Heat Treating 2 (1981) 3 and 97; pre-exponential seen, energy from memory
    """
    y = site_fraction(carbon_wt)
    x = y / (1.0 + y)
    energy = 155000.0 - 570000.0 * x
    return 4.84e-5 * np.exp(-38.5 * x - energy / (GAS_CONSTANT * temperature_K)) / (1.0 - 5.0 * x)


def diffusivity_lee_2011(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in plain carbon austenite after Lee, Matlock and Van Tyne.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : ISIJ Int. 51 (2011) 1903; abstract seen, constants from memory; no alloy terms
    """
    energy = 144300.0 - 15000.0 * carbon_wt + 370.0 * carbon_wt**2
    return (0.146e-4 - 0.036e-4 * carbon_wt) * np.exp(-energy / (GAS_CONSTANT * temperature_K))


def diffusivity_leslie_1981(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in austenite after Leslie.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : W. C. Leslie, The Physical Metallurgy of Steels (1981); from memory
    """
    return (0.07e-4 + 0.06e-4 * carbon_wt) * np.exp(-32000.0 / (GAS_CONSTANT_CAL * temperature_K))


def diffusivity_wells_1950(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return Wells, Batz and Mehl's average line, the same at every carbon content.

    carbon_wt, temperature_K : broadcastable [wt%], [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : Wells, Batz and Mehl, Trans. AIME 188 (1950) 553; from memory
    """
    return 0.12e-4 * np.exp(-32000.0 / (GAS_CONSTANT_CAL * temperature_K)) + 0.0 * carbon_wt


def diffusivity_textbook(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the line used in textbook exercises; 25 % to 60 % low against measurement.

    carbon_wt, temperature_K : broadcastable [wt%], [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : Callister, Materials Science and Engineering, Design Example 5.1 (seen); D0 2.3e-5, Q 148 kJ/mol
    """
    return 2.3e-5 * np.exp(-148000.0 / (GAS_CONSTANT * temperature_K)) + 0.0 * carbon_wt


def constant_diffusivity(diffusivity_m2_per_s: float) -> Diffusivity:
    """Return a diffusivity that depends on nothing, for exact solutions.

    diffusivity_m2_per_s : the value, above 0 [m2/s]
    returns : a callable of carbon [wt%] and temperature [K]
    source : definition
    """

    def constant(carbon_wt: Array, temperature_K: Array) -> Array:
        return np.full(np.broadcast_shapes(carbon_wt.shape, temperature_K.shape), diffusivity_m2_per_s)

    return constant


def at_temperature(diffusivity: Diffusivity, temperature_K: Array, nodes: int) -> OfCarbon:
    """Return a diffusivity as a function of carbon alone, to be asked for many states at one moment.

    diffusivity : any of the formulas, or another of (M, nodes) carbon and (M, 1) temperature
    temperature_K : (M,) [K]; nodes : of each member
    returns : a callable as `OfCarbon` says, of all nodes in a row
    source : of the formula
    """
    if diffusivity is diffusivity_agren_1986:
        return AgrenAt.of(temperature_K).for_nodes(nodes)

    def filled(carbon_wt: Array, out: Array, _spare: Array) -> Array:
        found = diffusivity(carbon_wt.reshape(-1, nodes), temperature_K[:, None])
        out.reshape(-1, nodes)[...] = found
        return out

    return filled
