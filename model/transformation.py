"""What austenite becomes on the way down: ferrite, pearlite, bainite, and what is left for martensite.

Each product runs through its progress integral by additivity (Scheil). Pearlite forms above the bainite
start, and below it bainite goes on from the share that pearlite has come to, as the published scheme has it.
Ferrite and the two share the austenite: left = (1 - F)(1 - PB), with F and PB the shares that each would
reach alone. So a slower cooling through the same temperatures never leaves more. Each takes its rise of what
the other leaves, in the middle of a step: what is lost then adds up to all that is lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.kirkaldy import EUTECTOID_WT, FERRITE_CARBON_WT, Kinetics, TimeFactors
from model.progress_integral import share_after, share_and_braked, share_gone_on
from model.steel_heat import AUSTENITE, TRANSFORMATION_HEAT_J_PER_KG
from model.steels import Composition, koistinen_rate_van_bohemen_2012, ms_van_bohemen_2012
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]

BLOCK: Final = 48_000
"""Cells and times worked at once: what fits a processor's cache."""
SEEN: Final = 1e-6
"""Share below which a product is not there, and has no temperature [-]."""
NOSES_K: Final = (600.0, 1100.0)
NOSE_POINTS: Final = 26
"""Where the greatest pace of a steel is looked for."""
HEAT_J_PER_M3: Final = TRANSFORMATION_HEAT_J_PER_KG * AUSTENITE.density


@dataclass(frozen=True)
class Products:
    """Shares of what was austenite, (M, n) [-], that sum to 1, and where they formed.

    ferrite, pearlite, bainite : formed by diffusion; left : still austenite at martensite's start
    *_K : mean temperature at which each formed [K]; nan where there is none
    carbon_left_wt : carbon of the austenite that is left [wt%]: what ferrite sheds, it takes up
    """

    ferrite: Array
    pearlite: Array
    bainite: Array
    left: Array
    ferrite_K: Array
    pearlite_K: Array
    bainite_K: Array
    carbon_left_wt: Array


def transform(
    carbon_wt: Array,
    composition: Composition,
    grain_number: Array | float,
    seconds: Array,
    temperature_K: Array,
    time_factors: TimeFactors = (1.0, 1.0, 1.0),
) -> Products:
    """Transform austenite along a cooling.

    carbon_wt : (M, n) dissolved in the austenite [wt%], 0 to 2
    composition : the steel's, floats or (M, 1) columns; grain_number : ASTM, (M,) or one
    seconds : (M, t) or (t,) [s], never falling; temperature_K : (M, t, n) [K], in whose precision all goes
    time_factors : on the times of ferrite, pearlite and bainite, (M,) or one
    Returns `Products`, (M, n).
    Source: Kirkaldy & Venugopalan 1984 as in `kirkaldy`; additivity; the sharing is our own (extended
    volumes, as in Avrami's argument). Nothing forms below the martensite start of the carbon given.
    """
    members, times, depths = temperature_K.shape
    precision = temperature_K.dtype
    kinetics = Kinetics.of(carbon_wt, composition, grain_number, time_factors)
    kinetics = kinetics.filled((members, 1, depths), precision)
    ms_K = celsius_to_kelvin(ms_van_bohemen_2012(carbon_wt, composition)).astype(precision)
    seconds = np.broadcast_to(seconds, (members, times))
    size = max(BLOCK // max(times * depths, 1), 1)
    blocks = [slice(first, first + size) for first in range(0, members, size)]
    parts = [
        _products(kinetics.within(rows), carbon_wt[rows], ms_K[rows], seconds[rows], temperature_K[rows])
        for rows in blocks
    ]
    joined = {name: np.concatenate([getattr(part, name) for part in parts], dtype=float) for name in _NAMES}
    return Products(**joined)


_NAMES: Final = [field.name for field in fields(Products)]


def _products(kinetics: Kinetics, carbon_wt: Array, ms_K: Array, seconds: Array, kelvin: Array) -> Products:
    """Return the products of some members."""
    kinetics = kinetics.in_a_row()
    # all cells of a moment in a row, moments first: what sums over them goes row by row
    kelvin_K = np.ascontiguousarray(kelvin.swapaxes(0, 1)).reshape(kelvin.shape[1], -1)
    hot = kelvin_K > ms_K.reshape(1, -1)
    awake = _awake(hot & (kelvin_K < celsius_to_kelvin(kinetics.highest_C)))
    half_s = 0.5 * np.diff(seconds[:, awake], axis=1).T.astype(kelvin.dtype)
    kelvin_K = kelvin_K[awake]
    paces = kinetics.all_paces(kelvin_K)
    paces *= hot[awake]
    spent = _spent(paces, half_s.repeat(carbon_wt.shape[1], axis=1))
    reached = _reached(kinetics, spent, spent[1, -1:])
    both_K = _both(kelvin_K)
    (ferrite, ferrite_K), (pearlite, pearlite_K), (bainite, bainite_K) = (
        _gathered(twice, both_K, carbon_wt.shape) for twice in reached.formed_twice()
    )
    richer = carbon_left(carbon_wt, ferrite)
    left = reached.left(-1).reshape(carbon_wt.shape)
    return Products(ferrite, pearlite, bainite, left, ferrite_K, pearlite_K, bainite_K, richer)


def carbon_left(carbon_wt: Array, ferrite: Array) -> Array:
    """Return the carbon of austenite beside ferrite, which takes up what ferrite sheds, broadcasting [wt%].

    carbon_wt : dissolved before [wt%]; ferrite : its share [-]
    Source: balance of carbon, up to the eutectoid's where ferrite sheds no more.
    """
    shed = (carbon_wt - ferrite * FERRITE_CARBON_WT) / np.maximum(1.0 - ferrite, FERRITE_CARBON_WT)
    return np.asarray(np.maximum(carbon_wt, np.minimum(shed, EUTECTOID_WT)))


def _awake(paced: NDArray[np.bool_]) -> slice:
    """Return the moments, of cells that have a pace (t, cells), outside which none has; one at least."""
    moments = np.flatnonzero(paced.any(axis=1))
    return slice(max(moments[0] - 1, 0), moments[-1] + 2) if len(moments) else slice(0, 1)


def _spent(paces: Array, half_s: Array) -> Array:
    """Return how far paces (3, t, M * n) have run at each time; half_s : of stretches, (t - 1, M * n)."""
    ran = np.empty_like(paces)
    ran[:, 0] = 0.0
    stretches = ran[:, 1:]
    np.add(paces[:, 1:], paces[:, :-1], out=stretches)
    stretches *= half_s
    for before, now in pairwise(stretches.swapaxes(0, 1)):  # numpy's own running sum goes down each column
        now += before
    return ran


class _Reached(NamedTuple):
    """Shares that ferrite, pearlite, and pearlite with bainite would reach alone, by moment."""

    ferrite: Array
    pearlite: Array
    eutectoid: Array

    def left(self, moment: int | slice = slice(None)) -> Array:
        """Return the share that all of them leave at a moment, or at each."""
        return np.asarray((1.0 - self.ferrite[moment]) * (1.0 - self.eutectoid[moment]))

    def formed_twice(self) -> Iterator[Array]:
        """Give twice what of ferrite, of pearlite and of bainite formed between moments."""
        yield np.diff(self.ferrite, axis=0) * _both(1.0 - self.eutectoid)
        of_pearlite, beside = np.diff(self.pearlite, axis=0), _both(1.0 - self.ferrite)
        of_bainite = np.diff(self.eutectoid, axis=0)
        of_bainite -= of_pearlite
        of_pearlite *= beside
        of_bainite *= beside
        yield of_pearlite
        yield of_bainite


def _reached(kinetics: Kinetics, spent: Array, of_pearlite: Array) -> _Reached:
    """Return the shares reached when each product, (3, ...), has run so far through its integral.

    of_pearlite : how far pearlite runs in all, from where bainite goes on
    """
    ferrite = share_after(spent[0])
    ferrite *= kinetics.ferrite_limit
    eutectoid, pearlite = share_gone_on(spent[1], spent[2], of_pearlite, kinetics.brake)
    return _Reached(ferrite, pearlite, eutectoid)


def _left_now(kinetics: Kinetics, spent: Array) -> Array:
    """Return what all products leave at one moment, as `_reached` has it, in fewer calls of few cells."""
    (ferrite, pearlite), braked = share_and_braked(spent[:2], kinetics.brake)
    ferrite *= kinetics.ferrite_limit
    eutectoid = np.maximum(share_after(braked + spent[2], kinetics.brake), pearlite)
    return np.asarray((1.0 - ferrite) * (1.0 - eutectoid))


def _both(values: Array) -> Array:
    """Return the sum of the values, (t, cells), at both ends of each stretch, (t - 1, cells)."""
    return np.asarray(values[1:] + values[:-1])


def _gathered(twice: Array, both_K: Array, shape: tuple[int, ...]) -> tuple[Array, Array]:
    """Return what formed in all, and the mean temperature at which it did, each of a shape.

    twice, both_K : twice what formed in each stretch and sum of the temperatures at its ends, (t - 1, cells)
    """
    share = 0.5 * twice.sum(axis=0)
    warmth = 0.25 * np.einsum("tc,tc->c", twice, both_K)
    mean_K = np.divide(warmth, share, out=np.full_like(share, np.nan), where=share > SEEN)
    return share.reshape(shape), mean_K.reshape(shape)


class Forming:
    """Transformation that runs along with a cooling and gives its heat back: a `quench.Progress`.

    It holds shares only; the structure itself is worked out from the finished cooling by `transform`.
    """

    def __init__(
        self,
        carbon_wt: Array,
        austenite: Array,
        composition: Composition,
        grain_number: Array | float,
        time_factors: TimeFactors = (1.0, 1.0, 1.0),
    ) -> None:
        """Begin with (M, n) carbon in the austenite [wt%] and its share [-]; the rest as `transform`."""
        shape = (carbon_wt.shape[0], 1, carbon_wt.shape[1])
        self.kinetics = Kinetics.of(carbon_wt, composition, grain_number, time_factors).filled(shape)
        self.ms_C = ms_van_bohemen_2012(carbon_wt, composition)
        self.falls_per_K = -koistinen_rate_van_bohemen_2012(carbon_wt, composition)
        self.austenite, self.heat_J_per_m3 = austenite, austenite * HEAT_J_PER_M3
        self.never_hot = 1.0 - austenite
        at_K = np.linspace(*NOSES_K, NOSE_POINTS)[None, :, None]
        self.swiftest_per_s = self.kinetics.all_paces(at_K).sum(axis=0).max(axis=1)
        self.spent = np.zeros((3, *shape))
        self.paces = np.zeros((3, *shape))  # in balance at the heat of the fire
        self.still_pacing = False
        self.diffusional, self.left = np.ones_like(carbon_wt), np.ones_like(carbon_wt)
        self.lowest_C = np.full_like(carbon_wt, np.inf)
        self.all_hot = True  # no cell has ever been at its martensite start

    def advance(self, step_s: Array, temperature_C: Array) -> tuple[Array, Array, Array]:
        """Take one step, as `quench.Progress` says."""
        np.minimum(self.lowest_C, temperature_C, out=self.lowest_C)
        hot = temperature_C > self.ms_C
        hot_cells = int(np.count_nonzero(hot))
        self.all_hot = self.all_hot and hot_cells == hot.size
        if hot_cells or self.still_pacing:
            temperature_K = celsius_to_kelvin(temperature_C)
            self._diffuse(step_s, temperature_K if self.all_hot else np.where(hot, temperature_K, np.inf))
        self.still_pacing = hot_cells > 0
        left = np.minimum(self.diffusional if self.all_hot else self._past_martensite(), self.left)
        released = (self.left - left) * self.heat_J_per_m3
        self.left = left
        to_form = left * self.austenite
        return released, self.never_hot + to_form, to_form * self.swiftest_per_s

    def _past_martensite(self) -> Array:
        """Return what martensite has left of what diffusion has, (M, n)."""
        below_ms_K = np.maximum(self.ms_C - self.lowest_C, 0.0)
        return np.asarray(self.diffusional * np.exp(self.falls_per_K * below_ms_K))

    def _diffuse(self, step_s: Array, temperature_K: Array) -> None:
        """Let ferrite, pearlite and bainite go on for a step; none does at an infinite heat."""
        paces = self.kinetics.all_paces(temperature_K[:, None, :])
        self.spent += (paces + self.paces) * (0.5 * step_s)[:, None, None]
        self.paces = paces
        self.diffusional = _left_now(self.kinetics, self.spent)[:, 0]
