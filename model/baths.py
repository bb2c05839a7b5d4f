"""What work is cooled in, and how fast each bath takes heat from a surface.

How a boiling curve runs is in `boiling_curve`; here a bath, its salt, its motion and the work's scale say
where its film breaks down and how much it takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.air_cooling import FAN_M_PER_S, Around, PLATE_HEIGHT_m
from model.boiling_curve import Curve, FILM_SIZE_m, film_by_size_breen_westwater_1962
from model.errors import NotPossible
from model.process import Section, Shape
from model.tables import read_table
from model.units import ZERO_CELSIUS_K, celsius_to_kelvin

Array = NDArray[np.float64]

MEDIA: Final = {
    "air": "",
    "water": "water",
    "brine": "water",
    "oil": "mineral oil",
    "mineral oil": "mineral oil",
    "vegetable oil": "vegetable oil",
}
"""Words for a medium and the row of `data/quench_media.csv` each stands for."""
DEFAULT_BRINE_PERCENT: Final = 10.0
"""Salt of a brine of which no more is said [% NaCl]; common practice, no source."""
SALT_ACTS_TO_PERCENT: Final = 12.0
"""Salt above which more does nothing more [% NaCl]: 10-12 % all but removes the film; common practice."""
BOIL_END_ABOVE_BATH_K: Final = 10.0
"""Least distance of the end of boiling above the bath [K]; own choice, for baths near their boiling point."""


def bath_group(medium: str) -> str:
    """Return what a medium counts as where the shop's own factor is learnt: air, oil or water.

    Raises NotPossible for a medium that is not known.
    """
    stands_for = MEDIA[known_medium(medium)]
    return "oil" if stands_for.endswith("oil") else stands_for or "air"


def known_medium(medium: str) -> str:
    """Return a medium that is known; raises NotPossible for another."""
    if medium not in MEDIA:
        known = ", ".join(MEDIA)
        raise NotPossible("quench.medium", f"'{medium[:20]}' is not a bath known here", f"Use {known}.")
    return medium


@dataclass(frozen=True)
class BathKind:
    """One bath as a person states it.

    medium : a word of `MEDIA`; bath_K : its temperature before the work goes in [K]
    agitation : still, mild, moderate or strong; salt_percent : NaCl of a brine, None for the usual
    litres : size of the bath, infinite if it does not warm [L]; work_kg : all the steel that goes in at once
    scaled : work with scale or charcoal dust on it, and not a bright probe
    """

    medium: str
    bath_K: float = 293.15
    agitation: str = "moderate"
    salt_percent: float | None = None
    litres: float = np.inf
    work_kg: float = 0.0
    scaled: bool = True

    @property
    def salt(self) -> float:
        """Salt that acts [% NaCl]."""
        if self.medium != "brine":
            return 0.0
        stated = DEFAULT_BRINE_PERCENT if self.salt_percent is None else self.salt_percent
        return min(stated, SALT_ACTS_TO_PERCENT)


@cache
def _liquid(medium: str) -> dict[str, float]:
    """Return the numbers of a liquid's row."""
    row = next(row for row in read_table("quench_media.csv") if row["medium"] == medium)
    return {name: float(value) for name, value in row.items() if name not in ("medium", "status")}


@cache
def _agitation(medium: str, agitation: str) -> tuple[float, float, float]:
    """Return the factors on heat transfer and on the cold film, and the rise of the breakdown [K]."""
    group = "water" if medium == "water" else "oil"
    for row in read_table("quench_agitation.csv"):
        if (row["medium"], row["agitation"]) == (group, agitation):
            return float(row["factor"]), float(row["cold_film"]), float(row["collapse_K"])
    raise NotPossible(
        "quench.agitation", f"'{agitation[:20]}' is not known", f"Use {', '.join(FAN_M_PER_S)}."
    )


@dataclass(frozen=True)
class Baths:
    """The baths of M members; liquid and air at once, fields (M,).

    liquid : 1 for a liquid, 0 for air; severity : the shop's own factor on all heat transfer [-]
    numbers : columns of `data/quench_media.csv`, salt and agitation applied
    bath_K : at the start [K]; capacity_J_per_K : of the whole bath, infinite if it does not warm
    work_kg : steel that goes in at once [kg]; wind_m_per_s : for air [m/s]
    """

    liquid: Array
    severity: Array
    numbers: dict[str, Array]
    bath_K: Array
    capacity_J_per_K: Array
    work_kg: Array
    wind_m_per_s: Array

    @classmethod
    def of(
        cls,
        kinds: Sequence[BathKind],
        severity: Array,
        row: NDArray[np.intp] | None = None,
        breakdown_K: Array | float = 0.0,
    ) -> Baths:
        """Return the baths of M members.

        kinds : one for each process; severity : (M,) above 0 [-]; row : (M,) which kind each member has,
            None for one each
        breakdown_K : how much hotter the film of water breaks down than the books say, (M,) or one [K]
        Raises NotPossible for a medium or an agitation that is not known.
        """
        row = np.arange(len(kinds)) if row is None else row
        rows = [_numbers(kind) for kind in kinds]
        numbers = {name: np.array([numbers[name] for numbers in rows])[row] for name in rows[0]}
        numbers["collapse_C"] = numbers["collapse_C"] + numbers.pop("film_doubted") * breakdown_K
        kept = numbers.pop("kg_per_L") * numbers.pop("J_per_kgK")
        return cls(
            liquid=np.array([1.0 if MEDIA[kind.medium] else 0.0 for kind in kinds])[row],
            severity=np.broadcast_to(severity, row.shape),
            numbers=numbers,
            bath_K=np.array([kind.bath_K for kind in kinds])[row],
            capacity_J_per_K=np.array([kind.litres for kind in kinds])[row] * kept,
            work_kg=np.array([kind.work_kg for kind in kinds])[row],
            wind_m_per_s=np.array([FAN_M_PER_S[kind.agitation] for kind in kinds])[row],
        )

    def air_leg(self, air_K: float) -> Baths:
        """Return still air for all members, on the way from fire to bath."""
        still = np.zeros_like(self.liquid)
        endless = np.full_like(self.liquid, np.inf)
        return replace(
            self,
            liquid=still,
            severity=np.ones_like(still),
            bath_K=np.full_like(still, air_K),
            capacity_J_per_K=endless,
            wind_m_per_s=still,
        )

    def collapse_K(self, bath_K: Array) -> Array:
        """Surface temperature at which the vapour film breaks down, (M,) [K].

        Source: for water Dhir & Purohit, Nucl. Eng. Des. 47 (1978) 49 (memory), raised by salt and motion.
        """
        numbers = self.numbers
        return celsius_to_kelvin(numbers["collapse_C"]) + numbers["collapse_per_K"] * self._cold_K(bath_K)

    def film_gone_K(self, bath_K: Array) -> Array:
        """Surface temperature at which half the face is wet, (M,) [K]; half way through the breakdown."""
        return self.collapse_K(bath_K) - 0.5 * self.numbers["width_K"]

    def film(self, bath_K: Array, size_m: Array | float = FILM_SIZE_m) -> Array:
        """Return the transfer of the vapour film at the baths' temperatures, (M,) [W/m2 K]; as `curve`."""
        numbers = self.numbers
        film = numbers["film"] + numbers["film_per_K"] * self._cold_K(bath_K)
        return film * film_by_size_breen_westwater_1962(size_m, numbers["wave_mm"] * 1e-3)

    def _cold_K(self, bath_K: Array) -> Array:
        """Return how far the baths are below boiling, (M,) [K]."""
        return np.maximum(celsius_to_kelvin(self.numbers["boiling_C"]) - bath_K, 0.0)

    def curve(self, bath_K: Array, size_m: Array | float = FILM_SIZE_m) -> Curve:
        """Return the boiling curve of the liquids at the baths' temperatures, (M,) [K].

        size_m : diameter of the part, or the height of a plate; (M,) or one [m]
        """
        numbers, bath_C = self.numbers, bath_K - ZERO_CELSIUS_K
        end = np.maximum(numbers["boil_end_C"], bath_C + BOIL_END_ABOVE_BATH_K)
        breaks = np.maximum(self.collapse_K(bath_K) - ZERO_CELSIUS_K, end + BOIL_END_ABOVE_BATH_K)
        wet = breaks - np.minimum(numbers["width_K"], 0.5 * (breaks - end))
        full = np.clip(numbers["peak_C"], end, wet)
        peak = numbers["peak_MW"] * 1e6 * (1.0 + numbers["peak_per_K"] * self._cold_K(bath_K))
        start, full_log = np.log(numbers["convection"] * (end - bath_C)), np.log(peak)
        slope = (full_log - start) / np.maximum(full - end, 1e-9)
        none, whole = np.zeros_like(end), np.ones_like(end)
        stretches = np.array(
            [
                [end, wet, bath_C],
                [slope, 1.0 / (breaks - wet), 1.0 / (end - bath_C)],
                [none, none, np.full_like(end, -np.inf)],
                [slope * (full - end), whole, whole],
            ]
        )
        film = self.film(bath_K, size_m) * (end - bath_C)
        starts, per_K, least, most = stretches[:, :, None]
        return Curve(starts, per_K, least, most, start[None], film[None])


def _numbers(kind: BathKind) -> dict[str, float]:
    """Return the numbers of one bath with salt and agitation applied; those of water stand in for air."""
    liquid = MEDIA[known_medium(kind.medium)] or "water"
    numbers = dict(_liquid(liquid))
    factor, cold_film, rise_K = _agitation(liquid, kind.agitation)
    scale_K = numbers.pop("scale_K") * float(kind.scaled)
    numbers["collapse_C"] += rise_K + scale_K + numbers.pop("salt_collapse_K") * kind.salt
    numbers["film_per_K"] *= cold_film
    numbers["peak_MW"] *= factor * (1.0 + numbers.pop("salt_peak") * kind.salt)
    for name in ("film", "convection"):
        numbers[name] *= factor
    return numbers


@dataclass(frozen=True)
class Air:
    """What air needs to know of the sections: fields (M,) or (1,).

    size_m : diameter of a round bar, height taken for a plate [m]; round_bar : 1 for a rod or tube
    """

    size_m: Array
    round_bar: Array

    @classmethod
    def around(cls, sections: Sequence[Section]) -> Air:
        """Return the air around sections, 1 or M of them."""
        plates = [section.shape is Shape.PLATE for section in sections]
        size = [
            PLATE_HEIGHT_m if plate else section.size_m
            for plate, section in zip(plates, sections, strict=True)
        ]
        return cls(np.array(size), np.array([0.0 if plate else 1.0 for plate in plates]))


class Surface:
    """Heat flux of all members, whatever they are in, against their surface temperature."""

    def __init__(self, baths: Baths, air: Air, at_once: int = 1) -> None:
        """Keep which members are in a liquid and which in air, and how many heats are asked at once."""
        self.baths, self.air, self.at_once = baths, air, at_once
        self.severity = np.repeat(baths.severity[None], at_once, axis=0)
        self.any_liquid = bool((baths.liquid > 0.0).any())
        self.any_air = bool((baths.liquid <= 0.0).any())
        self._curve: Curve | None = None

    def warm_to(self, bath_K: Array) -> None:
        """Take the baths to be at a temperature from now on, (M,) [K]."""
        around = np.broadcast_arrays(bath_K, self.air.size_m, self.air.round_bar, self.baths.wind_m_per_s)
        self._around = Around.of(*(np.repeat(one[None], self.at_once, axis=0) for one in around))
        if self.any_liquid:
            curve = self.baths.curve(bath_K, self.air.size_m).times(self.baths.severity)
            self._curve = curve.for_temperatures(self.at_once)

    def flux(self, surface_C: Array) -> Array:
        """Heat flux out of the surface, (k, M) [C] to the same [W/m2]; k is `at_once`, or 1 spreads to it."""
        if self._curve is not None:
            wet = self._curve.flux(surface_C)
            if not self.any_air:
                return wet
        lost = self.severity * self._around.flux(surface_C + ZERO_CELSIUS_K)
        return lost if self._curve is None else np.where(self.baths.liquid > 0.0, wet, lost)
