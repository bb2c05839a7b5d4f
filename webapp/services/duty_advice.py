"""What case a part wants, by what it must do and by its section: advice with its reasons, never a rule."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True)
class Duty:
    """One thing a part must stand, and the case usually given for it on small work."""

    key: str
    label: str
    depth_low_m: float
    depth_high_m: float
    hardness_HRC: float
    tough: bool
    reason: str


@dataclass(frozen=True)
class CaseAdvice:
    """A window of case depth [m] and a hardness [HRC], with why, and where the section set the limit."""

    depth_low_m: float
    depth_high_m: float
    hardness_HRC: float
    reasons: tuple[str, ...]
    source: str


# Depths as seen on a break. Common practice, no source: books of the trade give 0.2-0.5 mm for a thin
# case and 0.5-1.0 mm for wear under load, without measurements behind them.
DUTIES = (
    Duty(
        "wear",
        "Wear",
        0.4e-3,
        0.8e-3,
        60.0,
        False,
        "Rubbing wear uses the case up slowly: a middling case lasts.",
    ),
    Duty(
        "bearing",
        "Bearing a load",
        0.6e-3,
        1.0e-3,
        60.0,
        False,
        "A load pressed into the skin needs a deeper case, or the core gives way under it.",
    ),
    Duty(
        "bending",
        "Bending",
        0.3e-3,
        0.6e-3,
        58.0,
        True,
        "In bending the case carries the pull: a deep one leaves little tough core.",
    ),
    Duty(
        "impact",
        "Knocks",
        0.25e-3,
        0.5e-3,
        56.0,
        True,
        "Knocks chip a deep or very hard case: keep it shallow and temper it more.",
    ),
)
DUTY_LABELS = {duty.key: duty.label for duty in DUTIES}

# physics notes 16, from memory: total case of both sides not above 1/3 of the thickness; 10-15 % a side
# where toughness matters. Grinding: at most 10-20 % of the case a side.
MOST_OF_SECTION = 1.0 / 6.0
MOST_OF_TOUGH_SECTION = 0.12
MOST_GROUND_SHARE = 0.2
LOW_SHARE_WHEN_CAPPED = 0.6
THINNEST_CASE_m = 0.05e-3
SOURCE = (
    "Depth by duty: common practice, no source. Share of the section: handbook rule from memory (one sixth "
    "of the thickness a side at most; 10 to 15 % where it must be tough)."
)


def deepest_case(thickness_m: float, duties: Collection[str]) -> float:
    """Return the deepest case a side [m] that leaves this section its core."""
    tough = any(duty.tough for duty in DUTIES if duty.key in duties)
    return thickness_m * (MOST_OF_TOUGH_SECTION if tough else MOST_OF_SECTION)


def advise_case(thickness_m: float, duties: Collection[str]) -> CaseAdvice:
    """Return the case that is usual for these duties, cut down to what the section can carry."""
    asked = [duty for duty in DUTIES if duty.key in duties] or [DUTIES[0]]
    # the most delicate duty sets the window: a deep case for wear is no good to a part that chips
    low = min(duty.depth_low_m for duty in asked)
    high = min(duty.depth_high_m for duty in asked)
    reasons = [duty.reason for duty in asked]
    limit = deepest_case(thickness_m, duties)
    if high > limit:
        high, low = limit, min(low, LOW_SHARE_WHEN_CAPPED * limit)
        reasons.append("The section is thin, so the case stops where the core would get too small.")
    high = max(high, THINNEST_CASE_m)
    return CaseAdvice(
        round(max(min(low, high), THINNEST_CASE_m * LOW_SHARE_WHEN_CAPPED), 5),
        round(high, 5),
        min(duty.hardness_HRC for duty in asked),
        tuple(reasons),
        SOURCE,
    )
