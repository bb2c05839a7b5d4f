"""What is not known of how a case breaks, drawn: the rows of `data/bending_priors.csv`."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.belief import handbook_belief
from model.priors import Prior
from model.tables import read_table

Array = NDArray[np.float64]

MPA: Final = 1e6


@dataclass(frozen=True)
class BendingConstants:
    """One value a draw, every field (draws,).

    case_strain, core_strain : strain at which a hard case and a core of 400 HV crack [-]
    case_toughness, core_toughness : their toughness [Pa m^0.5]
    flaw_m : depth of the worst flaw in the skin [m]
    compression_Pa : in the skin of a thin case, 0 or more [Pa]
    yield_factor, tensile_factor : what this steel differs from the line of hardness by [-]
    hinge_depths : length a bend at one crack spreads over, in depths of what is left [-]
    """

    case_strain: Array
    core_strain: Array
    case_toughness: Array
    core_toughness: Array
    flaw_m: Array
    compression_Pa: Array
    yield_factor: Array
    tensile_factor: Array
    hinge_depths: Array


@dataclass(frozen=True)
class _Bounded:
    """A row of the table: its prior, and the ends it is held within."""

    prior: Prior
    low: float
    high: float

    def value(self, z: Array) -> Array:
        """Return the value at a whitened coordinate."""
        return np.clip(self.prior.value(z), self.low, self.high)


@cache
def bending_prior_table() -> dict[str, _Bounded]:
    """Return the rows of the table by name."""
    rows = {}
    for row in read_table("bending_priors.csv"):
        name, transform, unit = row["name"], row["transform"], row["unit"]
        mean, sd = float(row["mean"]), float(row["sd"])
        prior = Prior(name, transform, mean, sd, unit, row["source"], row["reason"])
        rows[name] = _Bounded(prior, float(row["low"]), float(row["high"]))
    return rows


def bending_constants(draws: int, seed: int = 0) -> BendingConstants:
    """Draw the constants of bending from the books.

    draws : 1 or more; seed : any integer; the same seed gives the same draws
    Returns constants with fields of shape (draws,).
    Source: `data/bending_priors.csv`; no shop has a reading that would narrow them yet.
    """
    names = tuple(bending_prior_table())
    coordinates = handbook_belief().drawn([f"bending/{name}" for name in names], draws, seed)
    return _constants(dict(zip(names, coordinates.T, strict=True)))


def middle_bending_constants() -> BendingConstants:
    """Return the constants at the middle of what the books say, fields of shape (1,)."""
    return _constants({name: np.zeros(1) for name in bending_prior_table()})


def _constants(coordinates: dict[str, Array]) -> BendingConstants:
    """Return the constants at whitened coordinates, in SI."""
    drawn = {name: row.value(coordinates[name]) for name, row in bending_prior_table().items()}
    in_mpa = {name: drawn[name] * MPA for name in ("case_toughness", "core_toughness")}
    drawn |= in_mpa | {"flaw_m": drawn["flaw"], "compression_Pa": drawn["compression"] * MPA}
    return BendingConstants(**{field.name: drawn[field.name] for field in fields(BendingConstants)})
