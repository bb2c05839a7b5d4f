"""The figures of a plan as plain values in SI: what is shown, and what is kept with a saved plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from webapp.services.plan_more_figures import MoreFigures

SPREADS = (
    "depth", "skin_HV", "skin_HRC", "reading_HRC", "core_HV", "core_HRC", "skin_wt", "warm_up_s",
)  # fmt: skip


@dataclass(frozen=True)
class Spread:
    """A value with its band: nine in ten lie between low and high."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Odds:
    """The odds of each way it can end; they sum to 1."""

    too_shallow: float
    inside: float
    too_deep: float


@dataclass(frozen=True)
class Warned:
    """One warning of the forecast: its words, and the heats [K] that they name in braces."""

    code: str
    text: str
    heats_K: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class OtherHeat:
    """The soak [s] another heat [K] would need; None when none would do."""

    temperature_K: float
    soak_s: float | None


@dataclass(frozen=True)
class Profile:
    """Carbon [wt%] against depth from the finished face [m], with its band."""

    depth_m: tuple[float, ...]
    low_wt: tuple[float, ...]
    middle_wt: tuple[float, ...]
    high_wt: tuple[float, ...]


@dataclass(frozen=True)
class Growth:
    """Case depth after grinding [m] against soak [s]: with its band, by the books, and by two rules.

    `books_m` is empty where the plan is the books'; `harris_m` where Harris's table does not reach.
    """

    soak_s: tuple[float, ...]
    low_m: tuple[float, ...]
    middle_m: tuple[float, ...]
    high_m: tuple[float, ...]
    books_m: tuple[float, ...]
    harris_m: tuple[float, ...]
    tenth_m: tuple[float, ...]


@dataclass(frozen=True)
class Shares:
    """What the steel is made of at one place, shares that sum to 1."""

    martensite: float
    retained_austenite: float
    bainite: float
    pearlite: float
    ferrite: float
    carbide: float


@dataclass(frozen=True)
class BathFigures:
    """What one bath makes of the part: hardness in HV, the reading in HRC, the vapour film in seconds."""

    name: str
    medium: str
    is_chosen: bool
    is_in_shop: bool
    skin_HV: Spread
    reading_HRC: Spread
    core_HV: Spread
    skin: Shares
    core: Shares
    film_s: float


@dataclass(frozen=True)
class TemperFigures:
    """The oven's setting [K] for the wanted hardness; `refusal` says why none does.

    low_K, high_K : the settings that are at least half as likely as the best
    oven : its name, "" where the shop has none; runs_K : what it truly is less its dial, and give or take
    """

    wanted_HRC: float
    seconds: float
    best_K: float = 0.0
    low_K: float = 0.0
    high_K: float = 0.0
    odds: float = 0.0
    embrittles: bool = False
    refusal: str = ""
    oven: str = ""
    runs_K: float = 0.0
    runs_give_or_take_K: float = 0.0


@dataclass(frozen=True)
class BlowFigures:
    """Odds of what a bend does, and why the first crack moves where the case is deeper.

    from_flaw : share of the draws in which it starts at a flaw; *_more : what a case a tenth deeper changes
    """

    asked_deg: float
    span_m: float
    span_is_known: bool
    bends: float
    cracks: float
    snaps: float
    from_flaw: float
    reason: str
    angle_more_deg: float
    snaps_more: float


@dataclass(frozen=True)
class HardeningFigures:
    """What the quench makes of the part; what it is made of is None where it is not modelled."""

    baths: tuple[BathFigures, ...] = ()
    temper: TemperFigures | None = None
    blow: BlowFigures | None = None
    skin: Shares | None = None
    core: Shares | None = None

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> HardeningFigures:
        """Return the figures that were stored as plain values."""
        temper, blow, skin, core = (stored[name] for name in ("temper", "blow", "skin", "core"))
        return cls(
            tuple(_bath(one) for one in stored["baths"]),
            None if temper is None else TemperFigures(**temper),
            None if blow is None else BlowFigures(**blow),
            None if skin is None else Shares(**skin),
            None if core is None else Shares(**core),
        )


def _bath(stored: Mapping[str, Any]) -> BathFigures:
    spreads = {name: Spread(**stored[name]) for name in ("skin_HV", "reading_HRC", "core_HV")}
    shares = {name: Shares(**stored[name]) for name in ("skin", "core")}
    return BathFigures(**{**stored, **spreads, **shares})


@dataclass(frozen=True)
class FireFigures:
    """How long the box is in the fire and its work at heat [s], and the share of the pack's carbon by when.

    `cooling` is below 0 where the cooling box takes some back.
    """

    in_fire_s: float
    at_heat_s: float
    way_up: float
    soak: float
    cooling: float


@dataclass(frozen=True)
class PlanFigures:
    """Everything a plan says, in SI and wt%; hardness in HV and HRC, None where it is not modelled.

    Depths are from the finished face, after grinding. `best_*` is the soak with the best odds, which
    need not be the one that was chosen. `is_sketch` marks the quick answer to a stepper.
    """

    model_version: str
    coupons: int
    names: Mapping[str, str]
    temperature_K: float
    soak_s: float
    clock_from: str
    reheat_K: float | None
    reheat_s: float | None
    temper_K: float | None
    temper_s: float | None
    medium: str
    shape: str
    size_m: float
    bore_m: float
    thickness_m: float
    definition: str
    wanted_low_m: float
    wanted_high_m: float
    grind_m: float
    wanted_HRC: float | None
    depth: Spread
    odds: Odds
    total_case_m: float
    skin_HV: Spread | None
    skin_HRC: Spread | None
    reading_HRC: Spread | None
    core_HV: Spread | None
    core_HRC: Spread | None
    skin_wt: Spread
    warm_up_s: Spread
    profile: Profile
    growth: Growth
    best_soak_s: float
    best_inside: float
    best_depth_m: float
    feasible: bool
    reason: str
    other_heats: tuple[OtherHeat, ...]
    warnings: tuple[Warned, ...]
    assumptions: tuple[str, ...]
    is_sketch: bool = False
    hardening: HardeningFigures = HardeningFigures()
    more: MoreFigures = field(default_factory=MoreFigures)
    fire: FireFigures | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain lists and numbers, for storage."""
        return asdict(self)

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> PlanFigures:
        """Return the figures that `to_dict` stored."""
        plain = dict(stored)
        for name in SPREADS:
            plain[name] = None if plain[name] is None else Spread(**plain[name])
        plain["odds"] = Odds(**plain["odds"])
        plain["profile"] = Profile(**_tuples(plain["profile"]))
        plain["growth"] = Growth(**_tuples(plain["growth"]))
        plain["other_heats"] = tuple(OtherHeat(**one) for one in plain["other_heats"])
        plain["warnings"] = tuple(Warned(**one) for one in plain["warnings"])
        plain["assumptions"] = tuple(plain["assumptions"])
        # plans saved before the quench was worked out have none
        if "hardening" in plain:
            plain["hardening"] = HardeningFigures.from_dict(plain["hardening"])
        # plans saved before the warm-up was worked out have none
        plain["fire"] = FireFigures(**plain["fire"]) if plain.get("fire") else None
        plain["more"] = MoreFigures.from_dict(plain.get("more", {}))
        return cls(**plain)


def _tuples(lists: Mapping[str, Any]) -> dict[str, tuple[float, ...]]:
    return {name: tuple(values) for name, values in lists.items()}
