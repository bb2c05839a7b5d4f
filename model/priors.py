"""What is believed of each parameter before any coupon: the rows of `data/priors.csv`.

Every parameter has a coordinate z that is N(0, 1) before any coupon; its row says how z becomes a value.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, ndtr

from model.tables import read_table

Array = NDArray[np.float64]

ACTIVITY_CEILING: Final = 1.05  # a pack cannot hold its gas far above graphite; 5 % for what the books miss

# A packed box as a cylinder of its smallest inner size: t98 = 0.758 R^2/alpha (exact, physics notes 12).
# Charcoal bed: 300 kg/m3 and 1600 J/kg.K (from memory), 0.4 W/m.K: between fine (0.2-0.4) and 3-6 mm
# char (0.8-1.6), on the slow side because the old soak rule (1 h per 25-50 mm of half size) is slower.
CYLINDER_98_PERCENT: Final = 0.758
BED_DIFFUSIVITY_M2_PER_S: Final = 0.4 / (300.0 * 1600.0)
BOX_WALL_LAG_S: Final = 900.0  # forge and box wall to heat; assumed, covered by the wide prior on the lag
USUAL_BOX_M: Final = 0.10
PLAIN_CHARCOAL_BELOW_PERCENT: Final = 5.0
BY_EYE: Final = ("colour", "magnet")


@dataclass(frozen=True)
class Prior:
    """One row of the table: how the whitened coordinate of a parameter becomes its value."""

    name: str
    transform: str
    mean: float
    sd: float
    unit: str
    source: str
    reason: str

    def value(self, z: Array | float) -> Array:
        """Return the physical value at a whitened coordinate.

        z : any shape [-], any real number
        Returns the same shape [the row's unit].
        """
        return self.transformed(self.mean + self.sd * np.asarray(z, dtype=float))

    def transformed(self, linear: Array) -> Array:
        """Return the physical value at `mean + sd z`, the scale on which parameters add.

        linear : any shape [-]
        Returns the same shape [the row's unit].
        """
        return np.asarray(_TRANSFORMS[self.transform](linear), dtype=float)


def _activity(logit: Array) -> Array:
    return np.asarray(ACTIVITY_CEILING * expit(logit))


def _uniform(z: Array) -> Array:
    return np.asarray(2.0 * ndtr(z) - 1.0)


_TRANSFORMS: Final[dict[str, Callable[[Array], Array]]] = {
    "normal": np.positive,
    "lognormal": np.exp,
    "activity": _activity,
    "unit": expit,
    "uniform": _uniform,
}


@cache
def prior_table() -> dict[str, Prior]:
    """Return the rows of the table by name."""
    rows = (
        Prior(
            name=row["name"],
            transform=row["transform"],
            mean=float(row["mean"]),
            sd=float(row["sd"]),
            unit=row["unit"],
            source=row["source"],
            reason=row["reason"],
        )
        for row in read_table("priors.csv")
    )
    return {row.name: row for row in rows}


def prior_for(key: str) -> Prior:
    """Return the prior of a keyed parameter.

    key : keyed name such as `temperature_bias/thermocouple:3`, `ln_transfer/mix:2` or `bar_carbon/4`
    Returns the row of the kind (`temperature_bias/thermocouple`), or else of the family (`bar_carbon`).
    Raises KeyError when no row covers the key.
    """
    table = prior_table()
    kind = key.partition(":")[0]
    return table[kind] if kind in table else table[kind.partition("/")[0]]


def heat_kind(heat_method: str) -> str:
    """Return the kind of a heat method's key, `colour` when nothing is said: the widest common one."""
    kind = heat_method.partition(":")[0]
    return kind if f"fire_scatter/{kind}" in prior_table() else "colour"


def scatter_scale(kind: str) -> str:
    """Return the coordinate of the scale that fires of a kind of heat follow: by eye or by instrument."""
    return f"scatter_scale/{'eye' if kind in BY_EYE else 'instrument'}"


def scatter_factor(scale: str, z: Array | float, share: float) -> Array:
    """Return by how much a fire's own coordinate is wider than the books have it.

    scale : of `scatter_scale`; z : its whitened coordinate, any shape; share : of the variance, that scales
    """
    return np.asarray(np.sqrt(share * prior_for(scale).value(z) ** 2 + 1.0 - share))


def mix_deviation_prior(carbonate_percent: float) -> Prior:
    """Return the prior of a mix's own deviation: plain charcoal is less certain than an energized mix.

    carbonate_percent : carbonate by weight [%], 0 to 60
    """
    plain = carbonate_percent < PLAIN_CHARCOAL_BELOW_PERCENT
    return prior_table()["ln_transfer/plain_mix" if plain else "ln_transfer/mix"]


def bar_hardenability_prior(steel_kind: str) -> Prior:
    """Return the prior of a bar's own hardenability: how much of a steel's composition is not known.

    steel_kind : `grade`, `composition` (stated), or `mystery`, as `steels.Steel.kind` gives it
    """
    table = prior_table()
    return table.get(f"bar_hardenability/{steel_kind}", table["bar_hardenability"])


def nominal_lag_s(smallest_inner_m: float) -> float:
    """Return the nominal time from box in the fire to work at heat [s].

    Conduction to 98 % through a charcoal cylinder as wide as the box's smallest inner size, plus a
    fixed time for forge and wall. 60, 100 and 150 mm give about 0.5, 0.9 and 1.7 h.

    smallest_inner_m : smallest inner size of the box [m], 0.02 to 0.6; 0 when unknown (a usual box)
    Source: conduction law exact (physics notes 12); bed properties from memory; no published soak rule found.
    """
    radius_m = 0.5 * (smallest_inner_m or USUAL_BOX_M)
    return BOX_WALL_LAG_S + CYLINDER_98_PERCENT * radius_m**2 / BED_DIFFUSIVITY_M2_PER_S
