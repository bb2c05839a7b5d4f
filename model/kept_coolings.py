"""Cooling tables, made several in one quench and kept.

A quench of many members takes little longer than one of a few, so the tables that a fit wants are made
together. Each member steps on its own clock and members do not touch: a table comes out the same, to the last
bit, alone and in whatever company, and nothing hangs on which tables were kept from before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from itertools import groupby
from typing import Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc

from model.baths import BathKind, Baths, bath_group
from model.cooling import Cooling
from model.cooling_table import (
    BREAKDOWNS_K,
    HEATS_K,
    LEVELS,
    SEVERITIES,
    STEPS_PER_K,
    CoolingTable,
    SHORTEST_s,
)
from model.jominy import RATE_AT_K
from model.made_together import MadeTogether
from model.pack import alloy_factor_gunn_1967
from model.piecework import Piecework
from model.process import Section, Shape
from model.quench import quench_grid
from model.quenched_part import HotPart, bare_cooling, cooled
from model.steels import Composition

Array = NDArray[np.float64]

TABLES_KEPT: Final = 512
MEMBERS_AT_ONCE: Final = 512
"""Members of one quench, at most, unless one table has more: beyond, their arrays leave the cache."""
CASE_SURFACE_WT: Final = 0.8
CASE_DEPTH_m: Final = 0.7e-3
"""Usual case whose transformation heat the cooling has [wt%], [m]; own choice, a test says what it costs."""
USUAL_GRAIN_NUMBER: Final = 8.0
_LEAST_RATE: Final = 1e-6


class Asked(NamedTuple):
    """What a table is asked for.

    composition : of the steel; section, bath : what is quenched in what
    start_K : recorded heat of the fire [K]; seconds_to_bath : [s]
    """

    composition: Composition
    section: Section
    bath: BathKind
    start_K: float
    seconds_to_bath: float


class _Nodes(NamedTuple):
    """The N members of one table: (N,) each but the breakdowns, which are the nodes themselves [K]."""

    breakdowns_K: tuple[float, ...]
    heat_K: Array
    breakdown_K: Array
    severity: Array

    @classmethod
    def of(cls, asked: Asked) -> _Nodes:
        """Return the members that a table needs."""
        breakdowns_K = _breakdowns(asked.bath, asked.start_K)
        own = np.meshgrid(HEATS_K, breakdowns_K, SEVERITIES, indexing="ij")
        hotter_K, breakdown_K, severity = (axis.ravel() for axis in own)
        return cls(breakdowns_K, asked.start_K + hotter_K, breakdown_K, severity)


def _made(asked: list[Asked], piecework: Piecework) -> Iterator[tuple[Asked, CoolingTable]]:
    """Give the tables that are asked for."""
    companies = list(_companies(asked))
    for several, tables in zip(companies, piecework(_made_of, companies), strict=True):
        yield from zip(several, tables, strict=True)


def _made_of(several: list[Asked]) -> list[CoolingTable]:
    """Return the tables of a company, by one quench."""
    nodes = [_Nodes.of(one) for one in several]
    company = np.repeat(np.arange(len(several)), [len(one.heat_K) for one in nodes])
    part, baths, entry_s = _joined(several, nodes, company)
    with_heat, bare = cooled(part, baths, entry_s, company), bare_cooling(part, baths, entry_s)
    ends = np.searchsorted(company, np.arange(len(several) + 1)).tolist()
    tables = []
    for own, first, end in zip(nodes, ends, ends[1:], strict=False):
        rows = slice(first, end)
        rate = bare.of_members(rows).at_depths(part.depth_m[first : first + 1]).rate_at(RATE_AT_K)
        tables.append(_table(with_heat.of_members(rows), _known_rate(rate), own.breakdowns_K))
    return tables


KEPT_TABLES: Final = MadeTogether[Asked, CoolingTable](TABLES_KEPT, _made)
"""Tables by what is asked for. Raises NotPossible as `quench.quench`. Source: `quenched_part`."""


def _companies(asked: list[Asked]) -> Iterator[list[Asked]]:
    """Give what is asked for in groups for one quench: those alike, whose coolings take about as many steps.

    Only tubes lose heat by two faces, so they keep to themselves.
    """

    def kind(one: Asked) -> tuple[bool, str]:
        return one.section.shape is Shape.TUBE, bath_group(one.bath.medium)

    for (_, group), alike in groupby(sorted(asked, key=lambda one: (*kind(one), one.section.size_m)), kind):
        several = list(alike)
        most_a_table = len(HEATS_K) * len(SEVERITIES) * (len(BREAKDOWNS_K) if group == "water" else 1)
        size = MEMBERS_AT_ONCE // most_a_table
        yield from (several[first : first + size] for first in range(0, len(several), size))


def _breakdowns(bath: BathKind, start_K: float) -> tuple[float, ...]:
    """Return the nodes of the breakdown: more than one only where a film of water forms at any of them."""
    lowest = Baths.of([bath], np.ones(1), None, min(BREAKDOWNS_K))
    is_wet_at_once = np.isinf(bath.litres) and lowest.film_gone_K(lowest.bath_K)[0] > start_K
    return (0.0,) if bath_group(bath.medium) != "water" or is_wet_at_once else BREAKDOWNS_K


def _joined(
    asked: Sequence[Asked], nodes: Sequence[_Nodes], company: NDArray[np.intp]
) -> tuple[HotPart, Baths, Array]:
    """Return the members of all tables: the parts, their baths, and the seconds to them."""
    steels = [one.composition for one in asked]
    depth_m = np.concatenate([quench_grid([one.section]).centres_m for one in asked])
    base_wt = np.array([steel.C for steel in steels])[:, None]
    carbon_wt = base_wt + np.maximum(CASE_SURFACE_WT - base_wt, 0.0) * erfc(depth_m / CASE_DEPTH_m)
    part = HotPart(
        sections=[asked[place].section for place in company.tolist()],
        depth_m=depth_m[company],
        carbon_wt=carbon_wt[company],
        temperature_K=np.concatenate([one.heat_K for one in nodes]),
        composition=_columns(steels, company),
        alloy_factor=np.array([alloy_factor_gunn_1967(steel) for steel in steels])[company],
        grain_number=np.full(len(company), USUAL_GRAIN_NUMBER),
        retained_factor=np.ones(len(company)),
        martensite_shift_HV=np.zeros(len(company)),
    )
    severity, breakdown_K = (
        np.concatenate([getattr(one, name) for one in nodes]) for name in ("severity", "breakdown_K")
    )
    baths = Baths.of([one.bath for one in asked], severity, company, breakdown_K)
    return part, baths, np.array([one.seconds_to_bath for one in asked], dtype=float)[company]


def _columns(steels: Sequence[Composition], company: NDArray[np.intp]) -> Composition:
    """Return the compositions of all members, as columns (M, 1)."""
    names = [field.name for field in fields(Composition)]
    columns = {name: np.array([getattr(steel, name) for steel in steels])[company, None] for name in names}
    return Composition(**cast("dict[str, float]", columns))


def _known_rate(rate_K_per_s: Array) -> Array:
    """Return the rates, those of a heat that began too cold to have one as at the other heat."""
    by_heat = rate_K_per_s.reshape(len(HEATS_K), len(rate_K_per_s) // len(HEATS_K), -1)
    filled = np.where(np.isnan(by_heat), by_heat[::-1], by_heat)
    known: Array = np.maximum(np.nan_to_num(filled.reshape(rate_K_per_s.shape), nan=0.0), _LEAST_RATE)
    return known


def _table(cooling: Cooling, rate_K_per_s: Array, breakdowns_K: tuple[float, ...]) -> CoolingTable:
    """Read all coolings at the shares of heat at which the solver stepped in a middle one."""
    entry_s = cooling.entry_s[:, None]
    given_off = cooling.given_off_J_per_m2 / cooling.given_off_J_per_m2[:, -1:]
    middle = np.unique(given_off[len(SEVERITIES) * breakdowns_K.index(0.0) + len(SEVERITIES) // 2])
    levels = np.interp(np.linspace(0.0, 1.0, LEVELS), np.linspace(0.0, 1.0, len(middle)), middle)
    at = _Between.of(levels, given_off)
    seconds, kelvin = at.read(cooling.seconds[:, :, None])[:, :, 0], at.read(cooling.temperature_K)
    since_s = np.maximum(seconds - entry_s, 0.0)
    return CoolingTable(
        breakdowns_K=breakdowns_K,
        depth_m=cooling.depth_m[:1],
        in_air_s=np.minimum(seconds, entry_s).mean(axis=0),
        log_since=np.log(since_s + SHORTEST_s),
        kept_steps=np.rint(kelvin * STEPS_PER_K).astype(np.uint16),
        log_rate=np.log(rate_K_per_s),
        film_s=cooling.film_s,
    )


class _Between(NamedTuple):
    """Between which states levels of the heat given off lie: the later, and how near to it, (N, L) each."""

    later: NDArray[np.intp]
    share: Array

    @classmethod
    def of(cls, levels: Array, given_off: Array) -> _Between:
        """Return it of levels, (L,), from the shares of heat that states have given off, (N, t).

        A member that waits has the same state again, of which the first counts.
        """
        first = (given_off > given_off[:, :1]).argmax(axis=1)[:, None]
        later = np.stack([np.searchsorted(own, levels) for own in given_off])
        later = np.clip(later, first, given_off.shape[1] - 1)
        before, after = (np.take_along_axis(given_off, later + back, axis=1) for back in (-1, 0))
        return cls(later, np.clip((levels - before) / (after - before), 0.0, 1.0)[:, :, None])

    def read(self, states: Array) -> Array:
        """Return states, (N, t, n), at the levels, (N, L, n)."""
        rows = np.arange(len(states))[:, None]
        before = states[rows, self.later - 1]
        return np.asarray(before + self.share * (states[rows, self.later] - before))
