"""Coolings of a section in a bath at a few severities, heats and ends of the film, read in between.

A fit and a planner look at thousands of members that differ in carbon, in the bath's severity and by some
kelvin of heat and of the film's end. The cooling hardly depends on their carbon, so it is worked out once for
the section, at the nodes below and with a usual case, and read between them: a quick quench. What forms is
then worked out for each member.
Times and temperatures are read at equal shares of the heat given off, where coolings look most alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc

from model.baths import BathKind, Baths, bath_group
from model.cooling import Cooling, hats
from model.pack import alloy_factor_gunn_1967
from model.process import Section
from model.quench import quench_grid
from model.quenched_part import HotPart, bare_rate, cooled
from model.steels import Composition

Array = NDArray[np.float64]

SEVERITIES: Final = (0.3, 0.45, 0.6, 0.75, 0.95, 1.2, 1.6, 2.4)
"""Nodes of severity [-]; beyond the end ones it is carried on along the last stretch, to `REACH`."""
HEATS_K: Final = (-40.0, 40.0)
"""Nodes of heat about the recorded one [K]."""
BREAKDOWNS_K: Final = (-180.0, -90.0, 0.0, 90.0)
"""Nodes of where a film of water breaks down, about the books [K]; 0 alone where none forms."""
REACH: Final = 1.5
"""How far beyond the nodes a member may be, in the last stretch's lengths [-]."""
LEVELS: Final = 64
"""Shares of the heat given off at which times and temperatures are kept; as dense as the solver's steps."""
TABLES_KEPT: Final = 512
STEPS_PER_K: Final = 32.0
"""Temperatures are kept as whole steps of a 32nd of a kelvin, up to 2048 K: a quarter of the memory."""
CASE_SURFACE_WT: Final = 0.8
CASE_DEPTH_m: Final = 0.7e-3
"""Usual case whose transformation heat the cooling has [wt%], [m]; own choice, a test says what it costs."""
USUAL_GRAIN_NUMBER: Final = 8.0
_SHORTEST_s: Final = 1e-3
_LEAST_RATE: Final = 1e-6


@dataclass(frozen=True)
class CoolingTable:
    """Coolings at every heat, breakdown and severity: N of them, the severities of the first two first.

    breakdowns_K : nodes of where the film breaks down, one or more [K]
    depth_m : (1, n) of the cells [m]; in_air_s : (L,) seconds on the way to the bath at each level
    log_since : (N, L) of the seconds in the bath
    kept_steps : (N, L, n) of the temperatures, `STEPS_PER_K` to a kelvin
    log_rate : (N, n) of the rate at 704 C where nothing forms [K/s]; film_s : (N,)
    """

    breakdowns_K: tuple[float, ...]
    depth_m: Array
    in_air_s: Array
    log_since: Array
    kept_steps: NDArray[np.uint16]
    log_rate: Array
    film_s: Array

    @property
    def temperature_K(self) -> Array:
        """Temperatures, (N, L, n) [K]."""
        return self.kept_steps / STEPS_PER_K

    def read(self, severity: Array, hotter_K: Array, breakdown_K: Array, depth_m: Array) -> TableCooling:
        """Return the coolings of M members.

        severity : (M,) above 0 [-]; hotter_K : (M,) heat less the table's own [K]
        breakdown_K : (M,) how much hotter the film breaks down than the books say [K]; depth_m : (1, k) [m]
        """
        corners = _corners(
            (np.array(HEATS_K), np.array(self.breakdowns_K), np.log(SEVERITIES)),
            (hotter_K, breakdown_K, np.log(severity)),
        )
        to_depth = hats(self.depth_m, depth_m)[0]

        def between(nodes: Array) -> Array:
            wide = (-1,) + (1,) * (nodes.ndim - 1)
            return np.asarray(sum(nodes[place] * weight.reshape(wide) for place, weight in corners))

        since_s = np.exp(between(self.log_since)) - _SHORTEST_s
        return TableCooling(
            seconds=np.maximum.accumulate(self.in_air_s + np.maximum(since_s, 0.0), axis=1),
            temperature_K=between(self.temperature_K @ to_depth),
            rate_K_per_s=np.exp(between(self.log_rate @ to_depth)),
            # by its root, as a film's time falls to nothing with a bend
            film_s=np.maximum(between(np.sqrt(self.film_s)), 0.0) ** 2,
        )


@dataclass(frozen=True)
class TableCooling:
    """Coolings of M members read off a table; as `Cooling`, and the rate as `QuenchedPart` has it."""

    seconds: Array
    temperature_K: Array
    rate_K_per_s: Array
    film_s: Array


@lru_cache(maxsize=TABLES_KEPT)
def cooling_table(
    composition: Composition, section: Section, bath: BathKind, start_K: float, seconds_to_bath: float
) -> CoolingTable:
    """Return the coolings of a section in a bath.

    composition : of the steel; section, bath : what is quenched in what
    start_K : recorded heat of the fire [K]; seconds_to_bath : [s]
    Raises NotPossible as `quench.quench`. Source: `quenched_part`, as `quench.quench`.
    """
    breakdowns_K = _breakdowns(bath, start_K)
    own = np.meshgrid(HEATS_K, breakdowns_K, SEVERITIES, indexing="ij")
    hotter_K, breakdown_K, severity = (axis.ravel() for axis in own)
    heats = start_K + hotter_K
    grid = quench_grid([section])
    part = _usual_part(composition, section, heats, grid.centres_m)
    baths = Baths.of([bath], severity, np.zeros(len(heats), dtype=np.intp), breakdown_K)
    entry_s = np.full(len(heats), seconds_to_bath)
    cooling = cooled(part, baths, entry_s)
    return _table(cooling, _known_rate(bare_rate(part, baths, entry_s)), entry_s, breakdowns_K)


def _breakdowns(bath: BathKind, start_K: float) -> tuple[float, ...]:
    """Return the nodes of the breakdown: more than one only where a film of water forms at any of them."""
    lowest = Baths.of([bath], np.ones(1), None, min(BREAKDOWNS_K))
    is_wet_at_once = np.isinf(bath.litres) and lowest.film_gone_K(lowest.bath_K)[0] > start_K
    return (0.0,) if bath_group(bath.medium) != "water" or is_wet_at_once else BREAKDOWNS_K


def _known_rate(rate_K_per_s: Array) -> Array:
    """Return the rates, those of a heat that began too cold to have one as at the other heat."""
    by_heat = rate_K_per_s.reshape(len(HEATS_K), len(rate_K_per_s) // len(HEATS_K), -1)
    filled = np.where(np.isnan(by_heat), by_heat[::-1], by_heat)
    known: Array = np.maximum(np.nan_to_num(filled.reshape(rate_K_per_s.shape), nan=0.0), _LEAST_RATE)
    return known


def _usual_part(composition: Composition, section: Section, heats: Array, depth_m: Array) -> HotPart:
    """Return the part that is cooled: a usual case on the steel's own carbon."""
    rise_wt = max(CASE_SURFACE_WT - composition.C, 0.0)
    carbon_wt = composition.C + rise_wt * erfc(depth_m / CASE_DEPTH_m)
    count = len(heats)
    return HotPart(
        sections=[section],
        depth_m=depth_m,
        carbon_wt=np.repeat(carbon_wt, count, axis=0),
        temperature_K=heats,
        composition=composition,
        alloy_factor=np.full(count, alloy_factor_gunn_1967(composition)),
        grain_number=np.full(count, USUAL_GRAIN_NUMBER),
        retained_factor=np.ones(count),
        martensite_shift_HV=np.zeros(count),
    )


def _table(
    cooling: Cooling, rate_K_per_s: Array, entry_s: Array, breakdowns_K: tuple[float, ...]
) -> CoolingTable:
    """Read all coolings at the shares of heat at which the solver stepped in a middle one."""
    given_off = cooling.given_off_J_per_m2 / cooling.given_off_J_per_m2[:, -1:]
    middle = np.unique(given_off[len(SEVERITIES) * breakdowns_K.index(0.0) + len(SEVERITIES) // 2])
    levels = np.interp(np.linspace(0.0, 1.0, LEVELS), np.linspace(0.0, 1.0, len(middle)), middle)
    clocks = cooling.seconds[:, :, None]
    seconds = np.stack([_at(levels, *pair) for pair in zip(given_off, clocks, strict=True)])[:, :, 0]
    kelvin = np.stack([_at(levels, *pair) for pair in zip(given_off, cooling.temperature_K, strict=True)])
    since_s = np.maximum(seconds - entry_s[:, None], 0.0)
    return CoolingTable(
        breakdowns_K=breakdowns_K,
        depth_m=cooling.depth_m,
        in_air_s=np.minimum(seconds, entry_s[:, None]).mean(axis=0),
        log_since=np.log(since_s + _SHORTEST_s),
        kept_steps=np.rint(kelvin * STEPS_PER_K).astype(np.uint16),
        log_rate=np.log(rate_K_per_s),
        film_s=cooling.film_s,
    )


def _at(levels: Array, share: Array, states: Array) -> Array:
    """Return states (t, n) at levels of the heat given off, waiting ones left out: (L, n)."""
    first = np.flatnonzero(np.diff(share, prepend=-1.0) > 0.0)
    known = share[first]
    above = np.clip(np.searchsorted(known, levels), 1, len(known) - 1)
    weight = ((levels - known[above - 1]) / (known[above] - known[above - 1]))[:, None]
    before, after = states[first[above - 1]], states[first[above]]
    return np.asarray(before + np.clip(weight, 0.0, 1.0) * (after - before))


def _corners(axes: tuple[Array, ...], wanted: tuple[Array, ...]) -> list[tuple[NDArray[np.intp], Array]]:
    """Return the nodes about each wanted point and their weights, (M,) each; the last axis runs fastest."""
    count = len(wanted[0])
    corners = [(np.zeros(count, dtype=np.intp), np.ones(count))]
    for nodes, values in zip(axes, wanted, strict=True):
        if len(nodes) == 1:
            continue
        at, share = _stretch(nodes, values)
        corners = [
            (len(nodes) * place + at + up, weight * part)
            for place, weight in corners
            for up, part in ((0, 1.0 - share), (1, share))
        ]
    return corners


def _stretch(nodes: Array, wanted: Array) -> tuple[NDArray[np.intp], Array]:
    """Return the stretch of nodes each wanted value is in and how far along it lies, (M,) each."""
    place = np.clip(np.searchsorted(nodes, wanted) - 1, 0, len(nodes) - 2)
    share = (wanted - nodes[place]) / (nodes[place + 1] - nodes[place])
    return place, np.clip(share, 1.0 - REACH, REACH)
