"""Further figures of a plan as plain values in SI: wants that conflict, ways, corners, what stays soft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class MetFigures:
    """How well a choice meets what is wanted: odds of each, the middle case [m] and skin [HRC]."""

    depth: float
    hardness: float
    blow: float
    depth_m: float
    skin_HRC: float


@dataclass(frozen=True)
class NearFigures:
    """A choice near what is wanted; `gives_way` is the want given up for it, empty where all are met."""

    gives_way: str
    soak_s: float
    reheat_K: float | None
    bath_id: int
    bath: str
    temper_K: float
    met: MetFigures


@dataclass(frozen=True)
class WantsFigures:
    """Whether what is wanted goes together.

    asked, missed : wants by name, all and those this plan misses; they_fit : this or another choice meets all
    fewest_snap, fewest_snap_at_depth : least odds of snapping of any choice, and of those near the depth
    """

    asked: tuple[str, ...]
    missed: tuple[str, ...]
    they_fit: bool
    fewest_snap: float
    fewest_snap_at_depth: float
    now: MetFigures
    nearest: tuple[NearFigures, ...]

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> WantsFigures:
        """Return the figures that were stored as plain values."""
        nearest = tuple(NearFigures(**{**one, "met": MetFigures(**one["met"])}) for one in stored["nearest"])
        given = {"asked": tuple(stored["asked"]), "missed": tuple(stored["missed"]), "nearest": nearest}
        return cls(**{**stored, **given, "now": MetFigures(**stored["now"])})


@dataclass(frozen=True)
class HeatFigures:
    """One heat before a quench: the middle and the ends of what the books give [K], and which book."""

    temperature_K: float
    low_K: float
    high_K: float
    source: str = ""


@dataclass(frozen=True)
class ZoneFigures:
    """What skin or core is after the last quench; `at_most` says the grain is no coarser than its number."""

    carbide: float
    ferrite: float
    retained_austenite: float
    grain_number: float
    at_most: bool


@dataclass(frozen=True)
class WayFigures:
    """One way from the soak to the quench."""

    way: str
    heats: tuple[HeatFigures, ...]
    keys: tuple[str, ...]
    case: ZoneFigures
    core: ZoneFigures
    is_plan: bool
    is_advised: bool

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> WayFigures:
        """Return the figures that were stored as plain values."""
        zones = {name: ZoneFigures(**stored[name]) for name in ("case", "core")}
        heats = tuple(HeatFigures(**heat) for heat in stored["heats"])
        return cls(**{**stored, **zones, "heats": heats, "keys": tuple(stored["keys"])})


@dataclass(frozen=True)
class WaysFigures:
    """The ways to harden, and why the one that is advised is."""

    ways: tuple[WayFigures, ...]
    reason: str

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> WaysFigures:
        """Return the figures that were stored as plain values."""
        return cls(tuple(WayFigures.from_dict(one) for one in stored["ways"]), stored["reason"])


@dataclass(frozen=True)
class EdgeFigures:
    """Case where carbon comes from two sides, before grinding [m].

    face_m : on a flat face; corner_m : from the tip of a square corner
    through_m : thickness of a thin part that goes hard right through
    is_open_bore : a tube whose bore holds no pack, so that its wall is not counted as fed from both sides
    """

    face_m: float
    corner_m: float
    through_m: float
    is_open_bore: bool


@dataclass(frozen=True)
class CarbonFigures:
    """How deep any carbon goes from the face as packed [m], and what a fed face takes up [kg/m2].

    reach_high_m, gain_high_kg_per_m2 : not passed in nineteen of twenty draws
    """

    reach_m: float
    reach_high_m: float
    goes_through: bool
    gain_kg_per_m2: float
    gain_high_kg_per_m2: float


@dataclass(frozen=True)
class SoftFigures:
    """What must stay soft, how it is kept so, and how the stock left on it stands to the carbon's reach.

    odds_hard : share of the draws in which carbon goes deeper than the stock; None where none was told
    is_straight : the plan goes from the box into the bath, so that nothing can be machined between
    """

    area: str
    kept: str
    stock_m: float | None
    odds_hard: float | None
    is_straight: bool


@dataclass(frozen=True)
class MoreFigures:
    """What a settled plan says beside its depth and its quench; None for what it has nothing to say on."""

    wants: WantsFigures | None = None
    ways: WaysFigures | None = None
    edges: EdgeFigures | None = None
    carbon: CarbonFigures | None = None
    soft: SoftFigures | None = None

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> MoreFigures:
        """Return the figures that were stored as plain values; those that are missing are not said."""
        wants, ways, edges = (stored.get(name) for name in ("wants", "ways", "edges"))
        carbon, soft = stored.get("carbon"), stored.get("soft")
        return cls(
            None if wants is None else WantsFigures.from_dict(wants),
            None if ways is None else WaysFigures.from_dict(ways),
            None if edges is None else EdgeFigures(**edges),
            None if carbon is None else CarbonFigures(**carbon),
            None if soft is None else SoftFigures(**soft),
        )
