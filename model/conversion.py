"""Hardness scales of steel against one another, by the published tables in `data/`."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.curves import Curve, monotone_curve

Array = NDArray[np.float64]
Table = Literal["E140", "ISO18265"]
Scale = Literal["HRC", "HRA", "HR15N", "HV"]

_FILES: Final = {"E140": "hardness_conversion_e140.csv", "ISO18265": "hardness_iso18265.csv"}

ROCKWELL_C_RANGE: Final = (20.0, 68.0)
"""Rockwell C outside this range is not converted [HRC]; E140 table 1 covers 20 to 68."""

ROUND_OFF: Final = 1e-6
"""Distance beyond a table's end that is only arithmetic, on either scale."""


@cache
def _column(table: Table, scale: str) -> Array:
    """Return one column of a conversion table, softest first."""
    with (Path(__file__).parent / "data" / _FILES[table]).open(encoding="utf-8", newline="") as file:
        return np.array([float(row[scale]) for row in csv.DictReader(file)])


@cache
def _curve(table: Table, known: str, wanted: str) -> Curve:
    """Return the monotone curve through a table's points."""
    return monotone_curve(_column(table, known), _column(table, wanted), extrapolate=False)


def _convert(values: Array | float, table: Table, known: str, wanted: str) -> Array:
    """Return the wanted scale; what round-off puts just beyond an end of the table counts as the end."""
    column = _column(table, known)
    given = np.asarray(values, dtype=float)
    held = np.minimum(np.maximum(given, column[0]), column[-1])
    inside = np.where(np.abs(given - held) <= ROUND_OFF, held, np.nan)
    return np.asarray(_curve(table, known, wanted)(inside), dtype=float)


def rockwell_c_of_vickers(hardness_HV: Array | float, table: Table = "E140") -> Array:
    """Rockwell C equal to a Vickers hardness.

    hardness_HV : any shape [HV]; E140 covers 238 to 940, ISO 18265 240 to 940
    table : which published table
    Returns the same shape [HRC], nan outside the table.
    Source: ASTM E140-12b table 1; ISO 18265:2013 table A.1; rows marked seen or from memory.
    """
    return _convert(hardness_HV, table, "HV", "HRC")


def vickers_of_rockwell_c(hardness_HRC: Array | float, table: Table = "E140") -> Array:
    """Vickers hardness equal to a Rockwell C hardness.

    hardness_HRC : any shape [HRC], 20 to 68
    table : which published table
    Returns the same shape [HV], nan outside the table.
    Source: as `rockwell_c_of_vickers`.
    """
    return _convert(hardness_HRC, table, "HRC", "HV")


def rockwell_a_of_vickers(hardness_HV: Array | float) -> Array:
    """Rockwell A equal to a Vickers hardness.

    hardness_HV : any shape [HV], 238 to 940
    Returns the same shape [HRA], nan outside the table.
    Source: ASTM E140-12b table 1, HRA column from memory.
    """
    return _convert(hardness_HV, "E140", "HV", "HRA")


def vickers_of_rockwell_a(hardness_HRA: Array | float) -> Array:
    """Vickers hardness equal to a Rockwell A hardness.

    hardness_HRA : any shape [HRA], 60.5 to 85.6
    Returns the same shape [HV], nan outside the table.
    Source: ASTM E140-12b table 1, HRA column from memory.
    """
    return _convert(hardness_HRA, "E140", "HRA", "HV")


def continued(values: Array | float, known: Scale, wanted: Scale) -> Array:
    """One scale from another of the same steel by E140, carried on in straight lines beyond the table.

    values : any shape, in points of the known scale
    Returns the same shape in points of the wanted one; beyond 20 to 68 HRC a working number, never one
    to show.
    Source: ASTM E140-12b table 1, HRA and HR15N columns from memory; the lines beyond it are our own, at
    the end slopes.
    """
    given, column = np.asarray(values, dtype=float), _column("E140", known)
    held = np.minimum(np.maximum(given, column[0]), column[-1])
    slope = np.where(given < held, *_end_slopes(known, wanted))
    return np.asarray(_curve("E140", known, wanted)(held) + slope * (given - held), dtype=float)


@cache
def _end_slopes(known: Scale, wanted: Scale) -> tuple[float, float]:
    """Return the slopes of the wanted scale by the known one at both ends of E140."""
    low, high = np.gradient(_column("E140", wanted), _column("E140", known))[[0, -1]]
    return float(low), float(high)


def rockwell_c_continued(hardness_HV: Array | float) -> Array:
    """Rockwell C by E140, carried on in straight lines beyond both ends of the table.

    hardness_HV : any shape [HV]
    Returns the same shape [HRC]; beyond 238 to 940 HV a working number for root finding and
    likelihoods, never one to show.
    Source: E140 within the table; the lines beyond it are our own, at the end slopes.
    """
    return continued(hardness_HV, "HV", "HRC")


def vickers_continued(hardness_HRC: Array | float) -> Array:
    """Vickers by E140, carried on in straight lines beyond both ends: undoes `rockwell_c_continued`.

    hardness_HRC : any shape [HRC]
    Returns the same shape [HV].
    Source: as `rockwell_c_continued`; the two agree to 0.5 HV.
    """
    return continued(hardness_HRC, "HRC", "HV")


def points_per_rockwell_c(value: float, scale: Scale) -> float:
    """Return how many points of a scale one point of Rockwell C is worth, where the scale reads `value`.

    Source: as `continued`, over half a point of Rockwell C either way.
    """
    hardness_HRC = float(continued(value, scale, "HRC"))
    below, above = continued(hardness_HRC + np.array([-0.5, 0.5]), "HRC", scale)
    return float(above - below)
