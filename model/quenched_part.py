"""A part from the fire to cold: cooling, what formed at every depth, and how hard it is.

This joins `quench`, which knows no structure, with `transformation` and `as_quenched`, which know no bath.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.as_quenched import AsQuenched, as_quenched
from model.baths import Baths
from model.cooling import RATE_SPAN_K, Cooling, hats
from model.jominy import RATE_AT_K
from model.kirkaldy import TimeFactors
from model.process import Section
from model.quench import END_K, quench, quench_grid
from model.steels import Composition
from model.structure import Hot, hot_phases, retained_share
from model.transformation import Forming, Products, transform
from model.units import ZERO_CELSIUS_K, celsius_to_kelvin

Array = NDArray[np.float64]

RATE_CELLS: Final = 20
RATE_TOLERANCE_K: Final = 14.0
"""Cells, and error allowed in one step [K], of the cooling in which nothing forms; 4 % in the rate."""
BARE_SHARE: Final = 0.01
"""Share formed above 704 C up to which a cooling counts as one in which nothing forms [-]: its heat holds
the cell back by 1.5 K of the 50 over which the rate is taken."""
_RATE_TO_C: Final = RATE_AT_K - 0.5 * RATE_SPAN_K - ZERO_CELSIUS_K
_BOILS_AWAY_K: Final = np.full(1, np.inf)
"""Stands for the warmest a bath can be, where the film holds to the lowest temperature."""


@dataclass(frozen=True)
class HotPart:
    """M members of a part as it leaves the fire.

    sections : one for all, or one a member
    depth_m : (1 or M, k) where carbon is known and structure wanted [m]
    carbon_wt : (M, k) total carbon [wt%]; temperature_K : (M,) of the fire [K]
    composition : floats or (M, 1) columns [wt%]; alloy_factor : (M,) of `alloy_factor_gunn_1967` [-]
    grain_number : ASTM, (M,) [-]; time_factors : on the times of ferrite, pearlite and bainite, (M,) or one
    retained_factor : (M,) [-]; martensite_shift_HV : (M,) [HV]
    """

    sections: Sequence[Section]
    depth_m: Array
    carbon_wt: Array
    temperature_K: Array
    composition: Composition
    alloy_factor: Array
    grain_number: Array
    retained_factor: Array
    martensite_shift_HV: Array
    time_factors: TimeFactors = (1.0, 1.0, 1.0)

    def phases(self, carbon_wt: Array) -> Hot:
        """Return what the steel is made of in the fire, at (M, n) carbon [wt%]."""
        kelvin, factor = self.temperature_K[:, None], self.alloy_factor[:, None]
        return hot_phases(carbon_wt, kelvin, self.composition, factor)


@dataclass(frozen=True)
class QuenchedPart:
    """What the quench made of it, all at the part's depths.

    cooling : temperatures; hot : what it was made of in the fire; products : what formed from austenite
    rate_K_per_s : (M, k) cooling rate at 704 C as if nothing formed, which the end-quench bar is read by
    structure : shares and hardness as quenched
    """

    cooling: Cooling
    hot: Hot
    products: Products
    rate_K_per_s: Array
    structure: AsQuenched


def quench_part(part: HotPart, baths: Baths, seconds_to_bath: Array, lowest_K: Array) -> QuenchedPart:
    """Quench a part.

    part : M members; baths : of M members; seconds_to_bath : (M,) [s]
    lowest_K : (M,) coldest it gets afterwards, a cold step among it [K]
    Returns `QuenchedPart`.
    Raises NotPossible as `quench.quench`.
    Source: the modules it joins. The rate at 704 C is taken from a cooling in which nothing forms, since
    the rates of the end-quench bar hold for any steel.
    """
    cooling, formed_above = _cooled(part, baths, seconds_to_bath, _told_K)
    is_bare = bool(formed_above.max() <= BARE_SHARE)
    rate = cooling.rate_at(RATE_AT_K) if is_bare else bare_rate(part, baths, seconds_to_bath)
    hot, products, structure = structure_after(part, cooling.seconds, cooling.temperature_K, rate, lowest_K)
    return QuenchedPart(cooling, hot, products, rate, structure)


def structure_after(
    part: HotPart, seconds: Array, temperature_K: Array, rate_K_per_s: Array, lowest_K: Array
) -> tuple[Hot, Products, AsQuenched]:
    """Return what a part was made of in the fire, what formed along a cooling, and structure and hardness.

    part : M members; seconds : (M, t) [s]; temperature_K : (M, t, k) at the part's depths [K]
    rate_K_per_s : (M, k) cooling rate at 704 C as if nothing formed; lowest_K : as `quench_part`
    Source: `transformation`, `structure`, `as_quenched`.
    """
    hot = part.phases(part.carbon_wt)
    products = transform(
        hot.austenite_carbon_wt,
        part.composition,
        part.grain_number,
        seconds,
        temperature_K,
        part.time_factors,
    )
    retained = retained_share(
        products.carbon_left_wt, part.composition, lowest_K[:, None], part.retained_factor[:, None]
    )
    grain, shift_HV = part.grain_number[:, None], part.martensite_shift_HV[:, None]
    structure = as_quenched(hot, products, retained, rate_K_per_s, part.composition, grain, shift_HV)
    return hot, products, structure


class _Watched:
    """What forms along a cooling, and the most of it that formed above the span of the cooling rate."""

    def __init__(self, forming: Forming) -> None:
        """Watch from the start."""
        self.forming, self.formed_above = forming, np.zeros(len(forming.left))

    def advance(self, step_s: Array, temperature_C: Array) -> tuple[Array, Array, Array]:
        """Take one step, as `quench.Progress` says."""
        told = self.forming.advance(step_s, temperature_C)
        above = temperature_C > _RATE_TO_C
        if np.count_nonzero(above):
            formed = (1.0 - self.forming.left) * above
            self.formed_above = np.maximum(self.formed_above, formed.max(axis=1))
        return told


def cooled(part: HotPart, baths: Baths, seconds_to_bath: Array, company: NDArray[np.intp]) -> Cooling:
    """Return the cooling at the part's depths, with the heat of what forms.

    company : (M,) whose of several parts each member is; members of others change nothing of a member
    It ends where it has nothing more to tell of steel with other carbon at any depth, as rich as the richest
    of its company: martensite alone can form, and no film is left in any bath.
    """

    def told_K(ms_K: Array, film_gone_K: Array) -> Array:
        lowest_K = np.full(company.max() + 1, np.inf)
        np.minimum.at(lowest_K, company, np.minimum(ms_K.min(axis=1), film_gone_K))
        return np.asarray(lowest_K[company][:, None])

    return _cooled(part, baths, seconds_to_bath, told_K)[0]


def _told_K(ms_K: Array, film_gone_K: Array) -> Array:
    """Return where a cooling has told all of this very steel, (M, n) [K]: in the face also of the film."""
    told_K = ms_K.copy()
    told_K[:, 0] = np.minimum(told_K[:, 0], film_gone_K.min())
    return told_K


def _cooled(
    part: HotPart, baths: Baths, seconds_to_bath: Array, told_K: Callable[[Array, Array], Array]
) -> tuple[Cooling, Array]:
    """Return the cooling, and the greatest share that formed in any depth before it was past 704 C, (M,).

    told_K : of the martensite start of the cells (M, n) and where the film is gone (M,), where a cooling ends
    """
    grid = quench_grid(part.sections)
    hot = part.phases(_carbon_at(part, grid.centres_m))
    forming = Forming(
        hot.austenite_carbon_wt, hot.austenite, part.composition, part.grain_number, part.time_factors
    )
    film_gone_K = baths.film_gone_K(_BOILS_AWAY_K)
    end_K = np.maximum(told_K(celsius_to_kelvin(forming.ms_C), film_gone_K), END_K)
    watched = _Watched(forming)
    found = quench(part.sections, part.temperature_K, baths, seconds_to_bath, watched, grid, end_K=end_K)
    return found.at_depths(part.depth_m), watched.formed_above


def bare_rate(part: HotPart, baths: Baths, seconds_to_bath: Array) -> Array:
    """Return the cooling rate at 704 C where nothing forms, (M, k) [K/s]."""
    return bare_cooling(part, baths, seconds_to_bath).at_depths(part.depth_m).rate_at(RATE_AT_K)


def bare_cooling(part: HotPart, baths: Baths, seconds_to_bath: Array) -> Cooling:
    """Return the cooling where nothing forms, in cells of its own and no further than to tell its rate."""
    grid = quench_grid(part.sections, RATE_CELLS)
    end_K = RATE_AT_K - RATE_SPAN_K
    return quench(
        part.sections,
        part.temperature_K,
        baths,
        seconds_to_bath,
        grid=grid,
        tolerance_K=RATE_TOLERANCE_K,
        end_K=end_K,
    )


def _carbon_at(part: HotPart, depth_m: Array) -> Array:
    """Return the carbon at other depths, (M, n) [wt%]."""
    if np.array_equal(part.depth_m, depth_m):
        return part.carbon_wt
    members = len(part.carbon_wt)
    known = np.broadcast_to(part.depth_m, part.carbon_wt.shape)
    wanted = np.broadcast_to(depth_m, (members, depth_m.shape[1]))
    if len(part.depth_m) == 1 and len(depth_m) == 1:
        return np.asarray(part.carbon_wt @ hats(part.depth_m, depth_m)[0])
    return np.asarray((part.carbon_wt[:, None, :] @ hats(known, wanted))[:, 0])
