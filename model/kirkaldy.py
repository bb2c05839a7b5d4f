"""Ferrite, pearlite and bainite after Kirkaldy and Venugopalan.

J. S. Kirkaldy, D. Venugopalan, in Phase Transformations in Ferrous Alloys, AIME (1984) 125, from memory
(M-H). Chosen for the case because it meets the textbook critical rates of eutectoid steel, where Li et al.
1998 lets far too much martensite through; in alloy steels its ferrite comes far too fast.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from model.progress_integral import Brake, brake_place
from model.steels import Composition, ac1_andrews_1965, ac3_andrews_1965
from model.units import ZERO_CELSIUS_K

Array = NDArray[np.float64]
DOUBLE: Final[np.dtype[Any]] = np.dtype(np.float64)
TimeFactors = tuple[Array | float, Array | float, Array | float]

GAS_CONSTANT_CAL: Final = 1.987
"""Gas constant [cal/mol K], the unit of the published activation energies."""
FERRITE_ENERGY: Final = 23500.0
PEARLITE_ENERGY: Final = 27500.0
ALLOY_PEARLITE_ENERGY: Final = 37000.0
"""Activation energies [cal/mol]."""
EUTECTOID_WT: Final = 0.77
"""Carbon above which the rates no longer change [wt%]: the published terms were made for less."""
LEAST_FERRITE_FACTOR: Final = 3.0
"""Ferrite's factor in iron with no alloy, which the published form sends to 0: that of 0.05 %Mn."""
FERRITE_CARBON_WT: Final = 0.02
ANDREWS_CARBON_K: Final = 203.0


def ferrite_factor(composition: Composition) -> Array:
    """Factor of ferrite's time, any shape of composition [s K3, with `pace`]."""
    c = composition
    return np.asarray(
        np.maximum(59.6 * c.Mn + 1.45 * c.Ni + 67.7 * c.Cr + 244.0 * c.Mo, LEAST_FERRITE_FACTOR)
    )


def pearlite_factor(composition: Composition) -> Array:
    """Factor of pearlite's time, any shape of composition [s K3]."""
    c = composition
    return np.asarray(1.79 + 5.42 * (c.Cr + c.Mo + 4.0 * c.Mo * c.Ni))


def bainite_factor(carbon_wt: Array, composition: Composition) -> Array:
    """Factor of bainite's time, broadcasting [s K2]."""
    c = composition
    return np.asarray((2.34 + 10.1 * carbon_wt + 3.8 * c.Cr + 19.0 * c.Mo) * 1e-4)


def bainite_brake(carbon_wt: Array, composition: Composition) -> Array:
    """Exponent by which bainite slows as it goes on, broadcasting; acts where it is above 0 [-]."""
    c = composition
    return np.asarray(1.9 * carbon_wt + 2.5 * c.Mn + 0.9 * c.Ni + 1.7 * c.Cr + 4.0 * c.Mo - 2.6)


def bainite_start_kirkaldy_1984(carbon_wt: Array, composition: Composition) -> Array:
    """Bainite start, broadcasting [C]; from memory."""
    c = composition
    alloy = 35.0 * c.Mn + 75.0 * c.Si + 15.0 * c.Ni + 34.0 * c.Cr + 41.0 * c.Mo
    return np.asarray(656.0 - 58.0 * carbon_wt - alloy)


def ferrite_limit(carbon_wt: Array, composition: Composition) -> Array:
    """Share of ferrite in balance at Ae1 by the lever rule, Ae1 and Ae3 after Andrews, broadcasting [-]."""
    above_K = ac3_andrews_1965(np.zeros(1), composition, long_form=True) - ac1_andrews_1965(composition)
    eutectoid_wt = (np.maximum(above_K, 1.0) / ANDREWS_CARBON_K) ** 2
    return np.clip((eutectoid_wt - carbon_wt) / (eutectoid_wt - FERRITE_CARBON_WT), 0.0, 1.0)


class Paces(NamedTuple):
    """Rates at which ferrite, pearlite and bainite run through their progress integrals [1/s]."""

    ferrite: Array
    pearlite: Array
    bainite: Array


@dataclass(frozen=True)
class Kinetics:
    """What the rates of M members with n depths depend on; fields (M, 1, n) or broadcasting to it.

    ae3_C, ae1_C, bs_C : where ferrite, pearlite, bainite may form at all [C]
    ferrite, pearlite, bainite : pace over driving force and diffusion
    alloy_pearlite : what Cr and Mo add to the resistance of pearlite's diffusion [-]
    brake_row, brake_scale : place of bainite's brake in the tables, as `Brake`
    ferrite_limit : share of ferrite in balance at Ae1 [-]
    """

    ae3_C: Array
    ae1_C: Array
    bs_C: Array
    ferrite: Array
    pearlite: Array
    bainite: Array
    alloy_pearlite: Array
    brake_row: NDArray[np.intp]
    brake_scale: Array
    ferrite_limit: Array

    @classmethod
    def of(
        cls,
        carbon_wt: Array,
        composition: Composition,
        grain_number: Array | float,
        time_factors: TimeFactors = (1.0, 1.0, 1.0),
    ) -> Kinetics:
        """Return the kinetics of austenite.

        carbon_wt : (M, n) dissolved in it [wt%], 0 to 2; acts as 0.77 above that
        composition : elements as floats or (M, 1) columns; grain_number : ASTM, (M,) or one
        time_factors : on the times of ferrite, pearlite, bainite, (M,) or one; the shop's own, or 1
        Source: as the module; Ae1 and Ae3 after Andrews, ferrite's share by the lever rule at Ae1.
        """
        columns = {
            name: np.asarray(value, dtype=float)[..., None] for name, value in vars(composition).items()
        }
        alloy = Composition(**cast("dict[str, float]", columns))
        carbon = np.minimum(carbon_wt, EUTECTOID_WT)[:, None, :]
        ae1_C = np.asarray(ac1_andrews_1965(alloy))
        highest_C = ac3_andrews_1965(np.zeros(1), alloy, long_form=True)
        finer = 2.0 ** (0.5 * (_column(grain_number) - 1.0))
        ferrite_s, pearlite_s, bainite_s = (_column(factor) for factor in time_factors)
        brake = brake_place(bainite_brake(carbon, alloy))
        return cls(
            ae3_C=np.maximum(highest_C - ANDREWS_CARBON_K * np.sqrt(carbon), ae1_C),
            ae1_C=ae1_C,
            bs_C=bainite_start_kirkaldy_1984(carbon, alloy),
            ferrite=finer / (ferrite_factor(alloy) * ferrite_s),
            pearlite=finer / (pearlite_factor(alloy) * pearlite_s),
            bainite=finer / (bainite_factor(carbon, alloy) * bainite_s),
            alloy_pearlite=np.asarray(0.01 * alloy.Cr + 0.52 * alloy.Mo),
            brake_row=brake.row,
            brake_scale=brake.scale,
            ferrite_limit=ferrite_limit(carbon, alloy),
        )

    @property
    def brake(self) -> Brake:
        """Place of bainite's brake in the tables."""
        return Brake(self.brake_row, self.brake_scale)

    def paces(self, temperature_K: Array) -> Paces:
        """Rates at a temperature, (M, t, n) [K] to the same [1/s]; none at an infinite one."""
        return Paces(*self.all_paces(temperature_K))

    def all_paces(self, temperature_K: Array) -> Array:
        """Return the rates of ferrite, pearlite and bainite as one array, (3, M, t, n); as `paces`.

        Source: equations for tF, tP, tB of the paper, turned over; pearlite only above the bainite start.
        """
        temperature_C = temperature_K - ZERO_CELSIUS_K
        inverse = (-1.0 / GAS_CONSTANT_CAL) / temperature_K
        diffusion = np.exp(PEARLITE_ENERGY * inverse)
        below = _less(self.ae3_C, temperature_C)
        shape = below.shape
        # what comes first lies first, for sums over moments; each rate is worked where all of it is in a row
        found = np.empty((shape[0], 3, *shape[1:]), below.dtype).swapaxes(0, 1)
        rate = below * below
        rate *= below
        rate *= self.ferrite
        np.multiply(rate, np.exp(FERRITE_ENERGY * inverse), out=found[0])
        below = _less(self.ae1_C, temperature_C)
        np.multiply(below, below, out=rate)
        rate *= below
        rate *= self.pearlite
        if self.has_alloy:
            slower = np.exp((PEARLITE_ENERGY - ALLOY_PEARLITE_ENERGY) * inverse) * self.alloy_pearlite
            slower += 1.0
            rate /= slower
        below = _less(self.bs_C, temperature_C)
        rate *= below <= 0.0
        np.multiply(rate, diffusion, out=found[1])
        below *= below
        below *= self.bainite
        np.multiply(below, diffusion, out=found[2])
        return found

    @cached_property
    def has_alloy(self) -> bool:
        """Whether any member has Cr or Mo, which slow pearlite's diffusion."""
        return bool(self.alloy_pearlite.any())

    def within(self, rows: slice) -> Kinetics:
        """Return the kinetics of some members."""
        return self._each(lambda value: value[rows] if value.shape[0] > 1 else value)

    def filled(self, shape: tuple[int, ...], precision: np.dtype[Any] = DOUBLE) -> Kinetics:
        """Return the same with every field of one shape, (M, 1, n): far quicker on few cells.

        precision : that paces are to be worked in, at temperatures of the same
        """

        def fill(value: Array) -> Array:
            filled = np.empty(shape, value.dtype if value.dtype == np.intp else precision)
            filled[...] = value
            return filled

        return self._each(fill)

    @property
    def highest_C(self) -> Array:
        """Temperature from which on nothing forms, (M, 1, n) or broadcasting to it [C]."""
        return np.maximum(np.maximum(self.ae3_C, self.ae1_C), self.bs_C)

    def in_a_row(self) -> Kinetics:
        """Return those of `filled` with the depths of all members in one row, (1, M * n)."""
        return self._each(lambda value: value.reshape(1, -1))

    def _each(self, change: Callable[[Array], Array]) -> Kinetics:
        changed = {each.name: change(getattr(self, each.name)) for each in fields(self)}
        return Kinetics(**cast("dict[str, Any]", changed))


def _less(start_C: Array, temperature_C: Array) -> Array:
    """Return by how much temperatures lie below a start, nowhere less than nothing, [K]."""
    held = np.minimum(temperature_C, start_C)
    return np.subtract(start_C, held, out=held)


def _column(values: Array | float) -> Array:
    """Return one value a member as (M, 1, 1)."""
    return np.atleast_1d(np.asarray(values, dtype=float))[:, None, None]
