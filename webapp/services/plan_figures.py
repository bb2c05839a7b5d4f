"""The figures of a plan as plain values in SI: what is shown, and what is kept with a saved plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any


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
    """One warning of the forecast."""

    code: str
    text: str


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

    def to_dict(self) -> dict[str, Any]:
        """Return plain lists and numbers, for storage."""
        return asdict(self)

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> PlanFigures:
        """Return the figures that `to_dict` stored."""
        plain = dict(stored)
        for name in (
            "depth",
            "skin_HV",
            "skin_HRC",
            "reading_HRC",
            "core_HV",
            "core_HRC",
            "skin_wt",
            "warm_up_s",
        ):
            plain[name] = None if plain[name] is None else Spread(**plain[name])
        plain["odds"] = Odds(**plain["odds"])
        plain["profile"] = Profile(**_tuples(plain["profile"]))
        plain["growth"] = Growth(**_tuples(plain["growth"]))
        plain["other_heats"] = tuple(OtherHeat(**one) for one in plain["other_heats"])
        plain["warnings"] = tuple(Warned(**one) for one in plain["warnings"])
        plain["assumptions"] = tuple(plain["assumptions"])
        return cls(**plain)


def _tuples(lists: Mapping[str, Any]) -> dict[str, tuple[float, ...]]:
    return {name: tuple(values) for name, values in lists.items()}
