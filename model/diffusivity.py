"""Diffusivity of carbon in austenite, one published formula a function.

Each takes carbon and temperature, broadcast against each other, and returns m2/s, so that any of them
can be handed to the solver. They are formulas for austenite alone: about 1000 to 1450 K and 0 to 1.5 wt%.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy import divide, exp, square, subtract
from numpy.typing import NDArray

Array = NDArray[np.float64]
Diffusivity = Callable[[Array, Array], Array]
GAS_CONSTANT = 8.314462618
"""Molar gas constant [J/(mol K)], SI 2019 exact value, rounded."""
GAS_CONSTANT_CAL = 1.987
"""The same [cal/(mol K)], rounded as the older publications did."""
MOLAR_MASS_CARBON = 12.011
MOLAR_MASS_IRON = 55.845
"""Molar masses [g/mol], IUPAC standard atomic weights."""
SITES_PER_WEIGHT = MOLAR_MASS_IRON / MOLAR_MASS_CARBON
"""Interstitial sites filled over carbon's weight over iron's [-]."""
_ALL_wt = 100.0
_RISE_K, _GROWTH_K = 8339.9, 26436.0
"""By which Agren's quadratic and his exponential grow with the sites filled, over temperature."""


class OfCarbon(Protocol):
    """Diffusivity of nodes at known temperatures, as a factor times a function of their carbon.

    factor : of the nodes, so that what moves together with all of it can be worked out once
    """

    factor: Array

    def fill(self, out: Array, carbon_wt: Array, spare: Array, /) -> Array:
        """Fill an array and return it, with another to work in; times the factor it is [m2/s]."""
        ...


def site_fraction(carbon_wt: Array) -> Array:
    """Return the fraction of interstitial sites that carbon fills, y = x / (1 - x).

    carbon_wt : carbon, any shape [wt%], 0 to 6
    returns : y, same shape [-]
    source : definition; austenite has one octahedral site an iron atom
    """
    return SITES_PER_WEIGHT * carbon_wt / (100.0 - carbon_wt)


@dataclass(slots=True)
class AgrenAt:
    """Agren's diffusivity at temperatures, as its factor times a function of carbon: few sums in each state.

    He writes 4.53e-7 (1 + y (1 - y) 8339.9 / T) exp((26436 y - 17767) (1 / T - 2.221e-4)), y being the
    filling of sites. In x = pull / (100 - c) - middle that is factor * (square - x * x) * exp(x).

    factor : [m2/s]; pull : [wt%]; middle, square : [-]. All of one shape.
    all_wt : 100 wt%, without a dimension and of the precision of the others
    """

    factor: Array
    pull: Array
    middle: Array
    square: Array
    all_wt: Array

    @classmethod
    def of(cls, temperature_K: Array) -> AgrenAt:
        """Return it at temperatures, any shape [K]."""
        return cls(*_numbers_of_agren(temperature_K), all_wt=np.array(_ALL_wt))

    @classmethod
    def for_nodes(cls, temperature_K: Array, spread: Callable[[Array], Array]) -> list[AgrenAt]:
        """Return it at each of k moments from (k, M) temperatures, spread over the nodes."""
        numbers = spread(np.array(_numbers_of_agren(temperature_K)))
        all_wt = np.array(_ALL_wt, numbers.dtype)
        factor, pull, middle, square = numbers
        moments = zip(factor, pull, middle, square, strict=True)
        return [cls(*moment, all_wt) for moment in moments]

    def fill(self, out: Array, carbon_wt: Array, spare: Array) -> Array:
        """Fill an array with the diffusivity over its factor [-], as `OfCarbon` says."""
        subtract(self.all_wt, carbon_wt, spare)
        divide(self.pull, spare, spare)
        spare -= self.middle
        square(spare, out)
        subtract(self.square, out, out)
        out *= exp(spare, spare)
        return out


def _numbers_of_agren(temperature_K: Array) -> tuple[Array, Array, Array, Array]:
    """Return factor, pull, middle and square of `AgrenAt`."""
    inverse = 1.0 / temperature_K
    growth = _GROWTH_K * inverse - _GROWTH_K * 2.221e-4
    squared = growth * growth
    # with y (1 - y) as 0.25 - (y - 0.5) ** 2, and growth (y - 0.5) as x
    factor = (4.53e-7 * _RISE_K) * inverse * np.exp((0.5 - 17767.0 / _GROWTH_K) * growth) / squared
    pull, middle = (100.0 * SITES_PER_WEIGHT) * growth, (0.5 + SITES_PER_WEIGHT) * growth
    return factor, pull, middle, squared * (0.25 + temperature_K / _RISE_K)


def diffusivity_agren_1986(carbon_wt: Array, temperature_K: Array) -> Array:
    """Return the diffusivity of carbon in austenite after Agren.

    carbon_wt, temperature_K : broadcastable [wt%] 0 to 1.5, [K] 1000 to 1450
    returns : diffusivity [m2/s]
    source : J. Agren, Scripta Metall. 20 (1986) 1507; constants seen in public numerical sources
    """
    shape = np.broadcast_shapes(np.shape(carbon_wt), np.shape(temperature_K))
    at = AgrenAt.of(temperature_K)
    return at.factor * at.fill(np.empty(shape), carbon_wt, np.empty(shape))


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


@dataclass(slots=True)
class Formula:
    """Any other formula at (M,) temperatures, as `OfCarbon` says."""

    diffusivity: Diffusivity
    temperature_K: Array
    factor: Array

    def fill(self, out: Array, carbon_wt: Array, _spare: Array) -> Array:
        """Fill an array with the diffusivity [m2/s]: its factor is one."""
        by_member = self._by_member(out)
        by_member[...] = self.diffusivity(self._by_member(carbon_wt), self.temperature_K[:, None])
        return out

    def _by_member(self, nodes: Array) -> Array:
        """Return nodes as (M, n), whether members lie one after the other or side by side."""
        return nodes.T if nodes.ndim > 1 else nodes.reshape(len(self.temperature_K), -1)


def at_temperatures(
    diffusivity: Diffusivity, temperature_K: Array, spread: Callable[[Array], Array]
) -> Sequence[OfCarbon]:
    """Return a diffusivity as a function of carbon alone at each of k moments, to be asked for many states.

    diffusivity : any of the formulas, or another of (M, nodes) carbon and (M, 1) temperature
    temperature_K : (k, M) [K]; spread : of values a member, (..., M), over its nodes
    returns : for each moment what `OfCarbon` says, of all nodes in a row
    source : of the formula
    """
    if diffusivity is diffusivity_agren_1986:
        return AgrenAt.for_nodes(temperature_K, spread)
    ones = spread(np.ones(temperature_K.shape[-1]))
    return [Formula(diffusivity, moment_K, ones) for moment_K in temperature_K]
