"""What austenite becomes on the way down: ferrite, pearlite, bainite, and what is left for martensite.

Each product runs through its progress integral by additivity (Scheil). Pearlite forms above the bainite
start, and below it bainite goes on from the share that pearlite has come to, as the published scheme has it.
Ferrite and the two share the austenite: left = (1 - F)(1 - PB), with F and PB the shares that each would
reach alone. So a slower cooling through the same temperatures never leaves more.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.kirkaldy import EUTECTOID_WT, FERRITE_CARBON_WT, Kinetics, TimeFactors
from model.progress_integral import share_after, share_and_braked
from model.steel_heat import AUSTENITE, TRANSFORMATION_HEAT_J_PER_KG
from model.steels import Composition, koistinen_rate_van_bohemen_2012, ms_van_bohemen_2012
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]

BLOCK: Final = 48_000
"""Cells and times worked at once: what fits a processor's cache."""
_LEAST: Final = 1e-12
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
    seconds : (M, t) or (t,) [s], never falling; temperature_K : (M, t, n) [K]
    time_factors : on the times of ferrite, pearlite and bainite, (M,) or one
    Returns `Products`, (M, n).
    Source: Kirkaldy & Venugopalan 1984 as in `kirkaldy`; additivity; the sharing is our own (extended
    volumes, as in Avrami's argument). Nothing forms below the martensite start of the carbon given.
    """
    members, times, depths = temperature_K.shape
    kinetics = Kinetics.of(carbon_wt, composition, grain_number, time_factors).filled((members, 1, depths))
    ms_K = celsius_to_kelvin(ms_van_bohemen_2012(carbon_wt, composition))
    seconds = np.broadcast_to(seconds, (members, times))
    size = max(BLOCK // max(times * depths, 1), 1)
    blocks = [slice(first, first + size) for first in range(0, members, size)]
    parts = [
        _products(kinetics.within(rows), carbon_wt[rows], ms_K[rows], seconds[rows], temperature_K[rows])
        for rows in blocks
    ]
    return Products(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in _NAMES})


_NAMES: Final = [field.name for field in fields(Products)]


def _products(kinetics: Kinetics, carbon_wt: Array, ms_K: Array, seconds: Array, kelvin: Array) -> Products:
    """Return the products of some members."""
    awake = _awake(kinetics, ms_K, kelvin)
    half_s = 0.5 * np.diff(seconds[:, awake], axis=1).T
    # all cells of a moment in a row, moments first: what sums over them goes row by row
    kelvin_K = np.ascontiguousarray(kelvin[:, awake].swapaxes(0, 1)).reshape(half_s.shape[0] + 1, ms_K.size)
    kinetics = kinetics.in_a_row()
    # no pace at an infinite heat, which stands for cells that are past their martensite start
    paces = kinetics.all_paces(np.where(kelvin_K > ms_K.reshape(1, -1), kelvin_K, np.inf))
    reached = _reached(kinetics, _spent(paces, half_s))
    lost = _rises(reached.left, 1.0)
    claims = [_claim(reached.ferrite), _claim(reached.eutectoid)]
    lost /= -np.maximum(claims[0] + claims[1], _LEAST)
    middle_K = 0.5 * (kelvin_K[1:] + kelvin_K[:-1])
    of_pearlite = np.minimum(_rises(reached.pearlite) / np.maximum(_rises(reached.eutectoid), _LEAST), 1.0)
    both = claims[1] * lost
    formed = (claims[0] * lost, both * of_pearlite, both * (1.0 - of_pearlite))
    (ferrite, ferrite_K), (pearlite, pearlite_K), (bainite, bainite_K) = (
        _gathered(one, middle_K, carbon_wt.shape) for one in formed
    )
    shed = (carbon_wt - ferrite * FERRITE_CARBON_WT) / np.maximum(1.0 - ferrite, FERRITE_CARBON_WT)
    richer = np.maximum(carbon_wt, np.minimum(shed, EUTECTOID_WT))
    # nothing may be left to go through: cold before it began
    left = reached.left[-1].reshape(carbon_wt.shape) if len(reached.left) else np.ones_like(carbon_wt)
    return Products(ferrite, pearlite, bainite, left, ferrite_K, pearlite_K, bainite_K, richer)


def _awake(kinetics: Kinetics, ms_K: Array, kelvin: Array) -> slice:
    """Return the times, of (M, t, n), outside which nothing can form at any depth; one at least."""
    highest_K = celsius_to_kelvin(kinetics.highest_C).max(axis=0)
    paced = (kelvin.max(axis=0) > ms_K.min(axis=0)) & (kelvin.min(axis=0) < highest_K)
    times = np.flatnonzero(paced.any(axis=1))
    return slice(max(times[0] - 1, 0), times[-1] + 2) if len(times) else slice(0, 1)


def _spent(paces: Array, half_s: Array) -> Array:
    """Return how far paces (3, t, M * n) have run, (3, t - 1, M * n); half_s : of stretches, (t - 1, M)."""
    ran = paces[:, 1:] + paces[:, :-1]
    by_member = ran.reshape(3, *half_s.shape, ran.shape[2] // half_s.shape[1])
    by_member *= half_s[:, :, None]
    for time in range(1, len(half_s)):  # numpy's own running sum goes down each column by itself
        ran[:, time] += ran[:, time - 1]
    return ran


class _Reached(NamedTuple):
    """Shares that ferrite, pearlite, and pearlite with bainite would reach alone; what all of them leave."""

    ferrite: Array
    pearlite: Array
    eutectoid: Array
    left: Array


def _reached(kinetics: Kinetics, spent: Array) -> _Reached:
    """Return the shares reached when each product, (3, ...), has run so far through its integral.

    Bainite goes on from where pearlite has come to.
    """
    (ferrite, pearlite), braked = share_and_braked(spent[:2], kinetics.brake)
    ferrite *= kinetics.ferrite_limit
    eutectoid = np.maximum(share_after(braked + spent[2], kinetics.brake), pearlite)
    return _Reached(ferrite, pearlite, eutectoid, (1.0 - ferrite) * (1.0 - eutectoid))


def _rises(values: Array, start: float = 0.0) -> Array:
    """Return the rise of each time, (t, cells), over the one before."""
    rises = np.empty_like(values)
    np.subtract(values[:1], start, out=rises[:1])
    np.subtract(values[1:], values[:-1], out=rises[1:])
    return rises


def _claim(alone: Array) -> Array:
    """Return a product's claim on what is lost in a step: its rise over the austenite it has left itself."""
    claim = _rises(alone)
    claim[1:] /= np.maximum(1.0 - alone[:-1], _LEAST)
    return claim


def _gathered(formed: Array, middle_K: Array, shape: tuple[int, ...]) -> tuple[Array, Array]:
    """Return what formed in all, and the mean temperature at which it did, each of a shape."""
    share = formed.sum(axis=0)
    warmth = np.einsum("tc,tc->c", formed, middle_K)
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
        self.diffusional = _reached(self.kinetics, self.spent).left[:, 0]
