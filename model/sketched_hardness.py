"""A sketch of what a quench leaves: hardness at a few depths, in closed form from the carbon there.

It goes the way of a forecast (`transformation`, `as_quenched`), but along sums that are read off a sketch of
the cooling, and with products as hard as usual: mostly a Rockwell point off in the skin, two further down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Final, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from model.as_quenched import CASE_FROM_WT, CORE_TO_WT
from model.belief import MOST_BIAS_K
from model.conversion import rockwell_c_continued
from model.cooling_sketch import COARSEST, COLUMNS, KEPT_SKETCHES, TERMS, Runs, runs_at
from model.finish import ROOM_K, finish_of
from model.hardness import FERRITE_HV, RETAINED_AUSTENITE_HV, martensite_vickers
from model.jominy import core_rockwell, jominy_distance
from model.kept_coolings import Asked
from model.kirkaldy import EUTECTOID_WT, bainite_brake, ferrite_limit
from model.pack import alloy_factor_gunn_1967
from model.piecework import Piecework
from model.process import Process
from model.progress_integral import Brake, brake_place, share_after, share_and_braked
from model.steels import ELEMENTS, Composition
from model.structure import retained_share, saturation_wt
from model.transformation import carbon_left

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

GRAIN_LN_TIME: Final = 0.5 * float(np.log(2.0))
"""What one grain number takes off the ln of the times (`kirkaldy`)."""
PEARLITE_HV: Final = 390.0
BAINITE_HV: Final = 457.0
BAINITE_FALL_HV: Final = 40.0
"""Hardness of pearlite that formed about its nose, of a case's first bainite at about 390 C, and by how much
softer all of it is where nothing else forms, in the mean 50 K warmer [HV]; `data/product_hardness.csv`, heats
read off forecasts."""
LEANER: Final = (0.5, 0.875)
"""Bainite's share of that hardness without carbon, and what a wt% adds up to 1 [-]; as `product_hardness`."""
SHIFTED_WT: Final = ((0.5, 0.6), (0.0, 1.0))
"""Carbon between which a shop's martensite shift sets in [wt%], as `hardness.martensite_vickers`."""
LEAST_WT: Final = 0.02
"""Least carbon that is sketched [wt%]."""
LEVER_WT: Final = 0.3
"""Carbon by which the straight line of ferrite's limit is found [wt%]."""


class SketchedHardness:
    """Sketches of P processes that end in a quench, or none; arrays are (R, D, N): rows, depths, members."""

    def __init__(
        self, processes: Sequence[Process], asked: Sequence[Asked | None], piecework: Piecework
    ) -> None:
        """Gather what the sketches need.

        asked : cooling table of each process, None where it is not quenched; piecework : how they are made
        """
        found = KEPT_SKETCHES.of((one for one in asked if one is not None), piecework)
        place = {one: index for index, one in enumerate(found, start=1)}
        self.sketches = np.array([np.zeros((COLUMNS, TERMS)), *found.values()])
        self.sketch_of = np.array([0 if one is None else place[one] for one in asked], dtype=np.intp)
        self.is_quenched = np.array([one is not None for one in asked])
        self.start_K = _column([ROOM_K if one is None else one.start_K for one in asked])
        self.lowest_K = _column([finish_of(process).cold_K for process in processes])
        steels = [process.steel.composition for process in processes]
        self.alloy_factor = _column([alloy_factor_gunn_1967(steel) for steel in steels])
        self.elements = {name: _column([getattr(steel, name) for steel in steels]) for name in ELEMENTS}
        steel = _steel(self.elements)
        self.brake = brake_place(bainite_brake(np.array(EUTECTOID_WT), steel))
        self.limit = ferrite_limit(np.zeros(1), steel)
        self.limit_falls_by_wt = (self.limit - ferrite_limit(np.array([LEVER_WT]), steel)) / LEVER_WT

    def of(self, rows: Rows, at: Mapping[str, Array], carbon_wt: Array) -> Array:
        """Return the hardness of some processes as Rockwell C, carried on beyond its scale, (R, D, N) [HRC].

        at : local inputs by name, (R, N) each; carbon_wt : at `cooling_sketch.PLACES_M`, (R, D, N) [wt%]
        """
        hotter_K = np.clip(at["temperature_K"], -MOST_BIAS_K, MOST_BIAS_K)
        most_wt = saturation_wt(self.start_K[rows] + hotter_K[:, None], self.alloy_factor[rows])
        carbon_wt = np.clip(carbon_wt, LEAST_WT, most_wt)
        severity, breakdown_K = at["ln_bath_severity"], at["film_breakdown_K"]
        sketches = self.sketches[self.sketch_of[rows]]
        runs = runs_at(sketches, severity, hotter_K, breakdown_K, carbon_wt)
        steel = _steel({name: column[rows] for name, column in self.elements.items()})
        case_HRC = self._case(rows, at, steel, self._formed(rows, at, runs, carbon_wt))
        distance, grain = jominy_distance(runs.rate_K_per_s), at["grain_number"][:, None]
        core_HRC = core_rockwell(carbon_wt, steel, grain, distance)
        is_case = np.clip((carbon_wt - CORE_TO_WT) / (CASE_FROM_WT - CORE_TO_WT), 0.0, 1.0)
        mixed_HRC = core_HRC + is_case * (case_HRC - core_HRC)
        return np.asarray(mixed_HRC * self.is_quenched[rows, None, None])

    def _formed(self, rows: Rows, at: Mapping[str, Array], runs: Runs, carbon_wt: Array) -> _Formed:
        """Return what forms along runs, shared out as by `transformation`."""
        finer = GRAIN_LN_TIME * (at["grain_number"] - COARSEST)
        ferrite_run, pearlite_run, bainite_run = (
            run * np.exp(ln_pace)[:, None]
            for run, ln_pace in (
                (runs.ferrite, finer),
                (runs.pearlite, finer - at["ln_pearlite_time"]),
                (runs.bainite, finer - at["ln_bainite_time"]),
            )
        )
        brake = Brake(self.brake.row[rows], self.brake.scale[rows])
        (ferrite, pearlite), braked = share_and_braked(np.stack([ferrite_run, pearlite_run]), brake)
        eutectoid = np.maximum(share_after(braked + bainite_run, brake), pearlite)
        ferrite *= np.clip(self.limit[rows] - self.limit_falls_by_wt[rows] * carbon_wt, 0.0, 1.0)
        rest = 1.0 - ferrite
        return _Formed(
            ferrite=ferrite,
            pearlite=rest * pearlite,
            bainite=rest * (eutectoid - pearlite),
            left=rest * (1.0 - eutectoid),
            carbon_left_wt=carbon_left(carbon_wt, ferrite),
        )

    def _case(self, rows: Rows, at: Mapping[str, Array], steel: Composition, formed: _Formed) -> Array:
        """Return the mixed hardness of what formed, (R, D, N) [HRC]."""
        carbon_wt, factor = formed.carbon_left_wt, np.exp(at["ln_retained_austenite"])[:, None]
        retained = retained_share(carbon_wt, steel, self.lowest_K[rows], factor)
        shift_HV = at["martensite_HV"][:, None] * np.interp(carbon_wt, *SHIFTED_WT)
        martensite_HV = np.interp(carbon_wt, *_martensite()) + shift_HV
        leaner = np.minimum(LEANER[0] + LEANER[1] * carbon_wt, 1.0)
        mixed_HV = (
            formed.left * (martensite_HV + retained * (RETAINED_AUSTENITE_HV - martensite_HV))
            + formed.bainite * (BAINITE_HV - BAINITE_FALL_HV * formed.bainite) * leaner
            + formed.pearlite * PEARLITE_HV
            + formed.ferrite * FERRITE_HV
        )
        return np.interp(mixed_HV, *_rockwell_c())


class _Formed(NamedTuple):
    """Shares of what was austenite, (R, D, N) [-], and the carbon of what is left of it [wt%]."""

    ferrite: Array
    pearlite: Array
    bainite: Array
    left: Array
    carbon_left_wt: Array


@cache
def _martensite() -> tuple[Array, Array]:
    """Return carbon [wt%] and hardness of martensite [HV], near enough for straight lines between."""
    carbon_wt = np.linspace(0.0, 1.0, 41)
    return carbon_wt, martensite_vickers(carbon_wt)


@cache
def _rockwell_c() -> tuple[Array, Array]:
    """Return Vickers and Rockwell C, near enough for straight lines between."""
    hardness_HV = np.linspace(0.0, 1200.0, 49)
    return hardness_HV, rockwell_c_continued(hardness_HV)


def _steel(elements: dict[str, Array]) -> Composition:
    """Return compositions as columns, which is what all formulas take."""
    return Composition(**cast("dict[str, float]", elements))


def _column(values: Sequence[float]) -> Array:
    """Return one value a process as (P, 1, 1)."""
    return np.array(values, dtype=float)[:, None, None]
