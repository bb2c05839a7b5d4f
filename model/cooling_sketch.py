"""A sketch of a cooling table: how far each product would run along its coolings, and how fast these are.

Of every depth that is sketched, as short polynomials of the bath's severity, the heat and the film's end: all
that a sketch of a process (`sketch`) needs of its cooling, in a few hundred numbers in place of a table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from model.cooling import hats
from model.cooling_table import BREAKDOWNS_K, HEATS_K, SEVERITIES, CoolingTable
from model.kept_coolings import KEPT_TABLES, Asked
from model.kept_forecasts import mark_of
from model.kirkaldy import Kinetics
from model.made_together import MadeTogether
from model.newest import Newest
from model.piecework import Piecework
from model.steels import ms_van_bohemen_2012
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]
Sketch = NDArray[np.float32]
"""(COLUMNS, TERMS) polynomials of a cooling, in the precision in which they are kept."""

PLACES_M: Final = np.array([0.0, 0.1e-3, 0.3e-3, 0.6e-3])
"""Depths that are sketched [m]."""
CARBON_WT: Final = (0.35, 0.77)
"""Carbon in the austenite at which runs are worked out [wt%]: straight in their ln between, level beyond."""
PRODUCTS: Final = 3
COARSEST: Final = 1.0
"""Grain number at which the runs are worked out, where grain alone changes nothing (`kirkaldy`)."""
LEAST_RUN: Final = 1e-6
"""Run that counts as none: nothing is seen of it."""
LN_SEVERITY: Final = (float(np.log(0.2)), float(np.log(3.6)))
"""Where a polynomial is still true; it is held beyond."""
TERMS: Final = 9
"""Numbers of one polynomial."""
COOLINGS_KEPT: Final = 8192
"""Coolings whose sketch is kept: of every process in a large logbook."""
TABLES_AT_ONCE: Final = 256
"""Cooling tables held at once while their sketches are read off."""
COLUMNS: Final = (2 * PRODUCTS + 1) * len(PLACES_M)
"""Polynomials of one sketch, each at every depth: ln of the rate, then of each product ln of its run at the
lower carbon, and the rise of that to the higher."""


class Runs(NamedTuple):
    """What coolings come to at D depths: (P, D, N) each, of P processes with N members.

    ferrite, pearlite, bainite : how far each would run alone with the coarsest grain [-]
    rate_K_per_s : at 704 C where nothing forms
    """

    ferrite: Array
    pearlite: Array
    bainite: Array
    rate_K_per_s: Array


def runs_at(
    sketches: Array, ln_severity: Array, hotter_K: Array, breakdown_K: Array, carbon_wt: Array
) -> Runs:
    """Read sketches, (P, COLUMNS, TERMS), each at members of its own.

    ln_severity : of the bath; hotter_K : than the recorded heat; breakdown_K : of the film over the books;
        all (P, N)
    carbon_wt : in the austenite, (P, D, N) [wt%]
    """
    found = sketches @ _terms(np.clip(ln_severity, *LN_SEVERITY), hotter_K, breakdown_K)
    low_wt, high_wt = CARBON_WT
    along = np.clip((carbon_wt - low_wt) / (high_wt - low_wt), 0.0, 1.0)
    first, *others = np.split(found, 2 * PRODUCTS + 1, axis=1)
    ferrite, pearlite, bainite = (
        np.exp(low + along * rise) for low, rise in zip(others[::2], others[1::2], strict=True)
    )
    return Runs(ferrite, pearlite, bainite, rate_K_per_s=np.exp(first))


_TOLD: Final = Newest[str, Sketch](COOLINGS_KEPT)


def _all_fitted(asked: list[Asked], piecework: Piecework) -> Iterator[tuple[Asked, Sketch]]:
    """Give the sketch of each that is asked for; their tables are made together, not all held at once."""
    told = {one: sketch for one in asked if (sketch := _TOLD.get(mark_of(one))) is not None}
    yield from told.items()
    missing = [one for one in asked if one not in told]
    for first in range(0, len(missing), TABLES_AT_ONCE):
        for one, table in KEPT_TABLES.of(missing[first : first + TABLES_AT_ONCE], piecework).items():
            yield one, _fitted(one, table)


KEPT_SKETCHES: Final = MadeTogether[Asked, Sketch](COOLINGS_KEPT, _all_fitted)
"""Sketches, (COLUMNS, TERMS), by what a cooling table is asked for: all that a fit with its forecasts kept
needs of tables."""


def sketches_to_keep() -> tuple[list[str], Sketch]:
    """Return the marks of coolings whose sketches are kept, newest first, and these, (n, COLUMNS, TERMS)."""
    kept = KEPT_SKETCHES.kept()
    sketches = np.array([own for _, own in kept], dtype=np.float32)
    return [mark_of(one) for one, _ in kept], sketches.reshape(-1, COLUMNS, TERMS)


def take_sketches(marks: Sequence[str], sketches: Sketch) -> None:
    """Take what another run of the program kept, as `sketches_to_keep` has it; ValueError for aught else."""
    if sketches.shape != (len(marks), COLUMNS, TERMS) or not np.isfinite(sketches).all():
        raise ValueError("not the sketches of coolings")
    for mark, own in zip(reversed(marks), sketches[::-1], strict=True):
        _TOLD.put(str(mark), own)


def _fitted(asked: Asked, table: CoolingTable) -> Sketch:
    """Return the sketch of one table."""
    to_places = hats(table.depth_m, PLACES_M[None])[0]
    ln_runs = np.log(np.maximum(_runs(asked, table, to_places), LEAST_RUN))
    of_carbon = np.concatenate([ln_runs[:, :, :1], np.diff(ln_runs, axis=2)], axis=2)
    told = np.concatenate([table.log_rate @ to_places, of_carbon.reshape(len(ln_runs), -1)], axis=1)
    polynomials = (_solver(table.breakdowns_K) @ told).T
    return np.asarray(polynomials, dtype=np.float32)


def _runs(asked: Asked, table: CoolingTable, to_places: Array) -> Array:
    """Return how far each product runs alone in every cooling of a table, (N, products, carbons, depths)."""
    nodes, carbons = len(table.film_s), len(CARBON_WT)
    carbon_wt = np.full((nodes, carbons), CARBON_WT)
    kinetics = Kinetics.of(carbon_wt, asked.composition, COARSEST).filled((nodes, 1, carbons))
    ms_K = celsius_to_kelvin(ms_van_bohemen_2012(carbon_wt[0], asked.composition))
    half_s = 0.5 * np.maximum(np.diff(table.in_air_s + np.exp(table.log_since), axis=1), 0.0)
    runs = np.empty((nodes, PRODUCTS, carbons, len(PLACES_M)))
    for place, kelvin in enumerate(np.moveaxis(table.temperature_K @ to_places, 2, 0)):
        # no pace at an infinite heat, which stands for cells that are past their martensite start
        paces = kinetics.all_paces(np.where(kelvin[:, :, None] > ms_K, kelvin[:, :, None], np.inf))
        runs[..., place] = np.einsum("pnlc,nl->npc", paces[:, :, 1:] + paces[:, :, :-1], half_s)
    return runs


@cache
def _solver(breakdowns_K: tuple[float, ...]) -> Array:
    """Return what takes values at a table's nodes to the polynomial nearest to them, (TERMS, N)."""
    nodes = np.meshgrid(HEATS_K, breakdowns_K, np.log(SEVERITIES), indexing="ij")
    hotter_K, breakdown_K, ln_severity = (axis.reshape(1, -1) for axis in nodes)
    return np.asarray(np.linalg.pinv(_terms(ln_severity, hotter_K, breakdown_K)[0].T))


def _terms(ln_severity: Array, hotter_K: Array, breakdown_K: Array) -> Array:
    """Return the terms of the polynomials, (P, N) each to (P, TERMS, N)."""
    heat, film = hotter_K / HEATS_K[-1], breakdown_K / BREAKDOWNS_K[-1]
    square = ln_severity * ln_severity
    terms = (
        np.ones_like(ln_severity),
        ln_severity,
        square,
        square * ln_severity,
        heat,
        heat * ln_severity,
        film,
        film * film,
        film * ln_severity,
    )
    return np.stack(terms, axis=1)
