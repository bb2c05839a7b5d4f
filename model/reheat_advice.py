"""Quench straight from the box, or cool and reheat once or twice: temperatures, and what each leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.grain import austenite_grain_lee_2008, grain_number_e112
from model.pack import alloy_factor_gunn_1967
from model.priors import prior_table
from model.steels import Composition, Steel, ac1_andrews_1965, ac3_andrews_1965
from model.structure import hot_phases, retained_share
from model.tables import read_table
from model.units import celsius_to_kelvin

Array = NDArray[np.float64]
Way = Literal["direct", "single_case", "single_between", "single_core", "double"]
Zone = Literal["case", "core"]

ALLOYED_FROM_WT: Final = 0.5
"""Cr, Ni and Mo together from which a steel takes the alloy rows [wt%]; own choice between the two groups."""
GRAIN_FROM_K: Final = 1123.0
"""Low end of the grain formula [K]; a cooler heat leaves a grain no coarser than this one would."""
REHEAT_S: Final = 1200.0
"""Time at heat of a reheat [s], twenty minutes for work of up to about 12 mm; common practice, no source."""
OVER_AC3_K: Final = (30.0, 50.0)
"""How far over its Ac3 a steel is heated to be hardened right through [K]; common practice, no source."""
ROOM_K: Final = 293.15
MUCH_RETAINED: Final = 0.25
"""Retained austenite from which it is worth a word [-]; as in `warnings_of_quench`."""
OLD_FERRITE: Final = 0.1
"""Share of old ferrite up to which a heat still makes new grains throughout [-]; judgement."""
NETWORK_SHARE: Final = 0.02
"""Free carbide from which a slow cool is taken to leave a network in the grain boundaries [-]; judgement."""


@dataclass(frozen=True)
class Heat:
    """One heat before a quench: middle and ends of its published range [K], and where they come from."""

    temperature_K: float
    low_K: float
    high_K: float
    source: str


@dataclass(frozen=True)
class ZoneAfter:
    """What case or core is after the last quench; shares by weight of the heat [-].

    austenite_carbon_wt : dissolved [wt%]; carbide, ferrite : left undissolved and untransformed
    retained_austenite : share of the whole after the quench to 20 C
    grain_m, grain_number : austenite grain; at_most : it is no coarser than that
    renewed : the last heat that made new grains lies after the soak
    """

    austenite_carbon_wt: float
    carbide: float
    ferrite: float
    retained_austenite: float
    grain_m: float
    grain_number: float
    at_most: bool
    renewed: bool


@dataclass(frozen=True)
class ReheatOption:
    """One way to harden after the soak, and what it leaves.

    way : key; slow_cool_first : the box cools shut before; heats : in order, none for the direct quench
    case, core : what each is at the end; keys : short reasons for and against
    """

    way: Way
    slow_cool_first: bool
    heats: tuple[Heat, ...]
    case: ZoneAfter
    core: ZoneAfter
    keys: tuple[str, ...]


def reheat_options(
    steel: Steel,
    case_carbon_wt: float,
    soak_K: float,
    soak_s: float,
    book: Literal["standard", "1921"] = "standard",
) -> tuple[ReheatOption, ...]:
    """Compare the ways to harden a carburized steel.

    steel : its own carbon is the core's; case_carbon_wt : at the skin [wt%], 0.3 to 1.6
    soak_K, soak_s : end of the soak [K] and its length [s]; book : today's standards or the old book
    Returns direct quench, single reheats for the case, between the two (alloy steels) and for the core, and
    the double one, each at the middle of its range.
    Source: `data/reheats.csv`; structure as `hot_phases` in full balance and `retained_share` with the
    middle of its factor; grain of Lee & Lee 2008, which overstates steel killed with aluminium.
    """
    rows = _heats_of(steel, book)
    ways: list[tuple[Way, tuple[Heat, ...]]] = [("direct", ()), ("single_case", (rows["case"],))]
    if "single" in rows:
        ways.append(("single_between", (rows["single"],)))
    ways += [("single_core", (rows["core"],)), ("double", (rows["core"], rows["case"]))]
    soak = Heat(soak_K, soak_K, soak_K, "")
    return tuple(_option(way, heats, steel.composition, case_carbon_wt, soak, soak_s) for way, heats in ways)


def hardening_heat(steel: Steel) -> Heat:
    """Return the heat from which a steel that needs no case is quenched.

    steel : with 0.35 %C or more, where no row of the table names it
    Returns its published range, else `OVER_AC3_K` over its Ac3.
    Source: `data/reheats.csv`, aim through; 30 to 50 K over Ac3 is common practice, no source.
    """
    for row in read_table("reheats.csv"):
        if row["group"] == steel.name and row["aim"] == "through":
            return _heat(row)
    ac3_K = celsius_to_kelvin(float(ac3_andrews_1965(np.asarray(steel.composition.C), steel.composition)))
    low_K, high_K = (ac3_K + over_K for over_K in OVER_AC3_K)
    return Heat(0.5 * (low_K + high_K), low_K, high_K, "30 to 50 K over Ac3: common practice, no source")


def _heats_of(steel: Steel, book: str) -> dict[str, Heat]:
    """Return the heats of a steel by aim: its group's rows, and over them those of its own name."""
    composition = steel.composition
    alloyed = composition.Cr + composition.Ni + composition.Mo > ALLOYED_FROM_WT
    groups = ["alloy" if alloyed else "plain", steel.name]
    groups += ["book"] if book == "1921" else []
    found: dict[str, Heat] = {}
    for group in groups:
        found |= {row["aim"]: _heat(row) for row in read_table("reheats.csv") if row["group"] == group}
    if book == "1921":
        found.pop("single", None)
    return found


def _heat(row: dict[str, str]) -> Heat:
    low_K, high_K = (celsius_to_kelvin(float(row[end])) for end in ("low_C", "high_C"))
    return Heat(0.5 * (low_K + high_K), low_K, high_K, row["source"])


def _option(
    way: Way, heats: tuple[Heat, ...], steel: Composition, case_wt: float, soak: Heat, soak_s: float
) -> ReheatOption:
    """Work out one way."""
    course = [(soak.temperature_K, soak_s), *((heat.temperature_K, REHEAT_S) for heat in heats)]
    case, core = (_zone(carbon_wt, steel, course) for carbon_wt in (case_wt, steel.C))
    return ReheatOption(way, bool(heats), heats, case, core, tuple(_keys(way, case, core, case_wt, steel)))


def _zone(carbon_wt: float, steel: Composition, course: list[tuple[float, float]]) -> ZoneAfter:
    """Return what a zone is after its heats, the last of which is quenched."""
    factor = np.array([[alloy_factor_gunn_1967(steel)]])
    carbon = np.array([[carbon_wt]])
    hots = [hot_phases(carbon, np.array([[kelvin]]), steel, factor) for kelvin, _ in course]
    renewing = [place for place, hot in enumerate(hots) if hot.ferrite[0, 0] <= OLD_FERRITE]
    place = renewing[-1] if renewing else 0
    grain_m, at_most = _grain(*course[place], steel, carbon_wt)
    last = hots[-1]
    factor_left = float(prior_table()["retained_austenite_factor/shop"].value(0.0))
    stays = retained_share(last.austenite_carbon_wt, steel, np.array(ROOM_K), factor_left)
    return ZoneAfter(
        austenite_carbon_wt=float(last.austenite_carbon_wt[0, 0]),
        carbide=float(last.carbide[0, 0]),
        ferrite=float(last.ferrite[0, 0]),
        retained_austenite=float((last.austenite * stays)[0, 0]),
        grain_m=grain_m,
        grain_number=grain_number_e112(grain_m),
        at_most=at_most,
        renewed=place > 0,
    )


def _grain(kelvin: float, seconds: float, steel: Composition, carbon_wt: float) -> tuple[float, bool]:
    """Return the grain of a heat [m], and whether it is only an upper end."""
    zone = Composition(**{**vars(steel), "C": carbon_wt})
    return austenite_grain_lee_2008(max(kelvin, GRAIN_FROM_K), seconds, zone), kelvin < GRAIN_FROM_K


def _keys(way: Way, case: ZoneAfter, core: ZoneAfter, case_wt: float, steel: Composition) -> list[str]:
    """Return short reasons for and against a way."""
    keys = [] if way == "direct" else ["slow_cool_makes_new_grains_possible", "slow_cool_lets_it_be_machined"]
    network = _carbide_just_above_ac1(case_wt, steel) > NETWORK_SHARE
    says = {
        "fewest_heats_least_warping": way == "direct",
        "most_heats_most_warping": way == "double",
        "slow_cool_leaves_carbide_network": way != "direct" and network,
        "network_stays": way == "single_case" and network,
        "core_grain_renewed": core.renewed,
        "core_grain_as_soaked": not core.renewed,
        "case_grain_renewed": case.renewed,
        "core_part_ferrite": 0.0 < core.ferrite < 1.0,
        "core_not_hardened": core.ferrite >= 1.0,
        "carbide_left_in_case": case.carbide > NETWORK_SHARE,
        "much_retained_austenite": case.retained_austenite > MUCH_RETAINED,
    }
    return keys + [key for key, true in says.items() if true]


def _carbide_just_above_ac1(case_wt: float, steel: Composition) -> float:
    """Return the most free carbide that a slow cool of the case brings out of its austenite."""
    ac1_K = celsius_to_kelvin(ac1_andrews_1965(steel))
    factor = np.array([[alloy_factor_gunn_1967(steel)]])
    return float(hot_phases(np.array([[case_wt]]), np.array([[ac1_K + 1.0]]), steel, factor).carbide[0, 0])
