"""The ways to harden in the words of the shop: what each does to skin and core, and which is advised."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import HeatFigures, WayFigures, ZoneFigures
from webapp.services.plan_taken import take_of
from webapp.services.showing import Showing

NAMES = {
    "direct": "Straight from the box",
    "single_case": "One reheat, for the skin",
    "single_between": "One reheat, between skin and core",
    "single_core": "One reheat, for the core",
    "double": "Two reheats: core first, then skin",
}
WORDS = {
    "fewest_heats_least_warping": "Fewest heats, so it warps least and scales least.",
    "most_heats_most_warping": "Most heats, so it warps most; each heat also burns a little carbon off.",
    "network_stays": "A net of hard carbide from the slow cool stays in the skin and makes it chip: "
    "this heat is too low to dissolve it.",
    "carbide_left_in_case": "Free carbide is left in the skin: good for wear, bad at sharp edges.",
    "much_retained_austenite": "Much soft austenite is kept in the skin: it reads soft and can grow later.",
    "core_part_ferrite": "The core is only partly hardened: softer, and it gives under a load.",
    "core_not_hardened": "The core does not harden at all: soft and weak under the skin.",
    "core_grain_as_soaked": "The core keeps the coarse grain of the long soak.",
    "core_grain_renewed": "The core gets new, finer grain: tougher.",
    "case_grain_renewed": "The skin gets new, finer grain.",
}
ORDER = tuple(WORDS)
REASONS = {
    "tough": "It must bend or take a blow: this heat makes new grain in skin and core.",
    "bearing": "It bears a load: this heat hardens the core under the skin as well.",
    "network": "So rich a skin comes out of the slow cool with a net of carbide, "
    "which only a hotter heat dissolves.",
    "wear": "It only has to stand wear: this heat gives the finest, hardest skin.",
}
WHY_SLOW = (
    "Every reheat wants the box cooled shut first: the steel has to go through its change on the way down "
    "before the reheat can make new grain out of it, and soft work can still be drilled or straightened."
)
RICH = " So rich a skin then grows a net of carbide along its grain, which the next heat has to dissolve."
COARSE_BELOW = 5.0  # ASTM grain numbers, the higher the finer; values from memory
FINE_FROM = 7.0
NOT_HELD = "A plan holds one reheat: this one is advice, so note the first heat on the run sheet by hand."


@dataclass(frozen=True)
class WayView:
    """One way as a folded row."""

    name: str
    heats: str
    is_plan: bool
    is_advised: bool
    skin: str
    core: str
    points: tuple[str, ...]
    source: str
    take: str
    take_words: str
    not_held: str


@dataclass(frozen=True)
class WaysView:
    """The ways to harden."""

    advice: str
    why_slow: str
    other: str
    ways: tuple[WayView, ...]


def view_ways(figures: PlanFigures, showing: Showing) -> WaysView | None:
    """Return the ways to harden in words; None where there are none."""
    found = figures.more.ways
    if found is None:
        return None
    advised = next(way for way in found.ways if way.is_advised)
    is_taken = " This plan takes it." if advised.is_plan else ""
    rich = any("slow_cool_leaves_carbide_network" in way.keys for way in found.ways)
    return WaysView(
        f"Advised: {NAMES[advised.way].lower()}. {REASONS[found.reason]}{is_taken}",
        WHY_SLOW + (RICH if rich else ""),
        _other(figures, showing) if not any(way.is_plan for way in found.ways) else "",
        tuple(_way(way, showing) for way in found.ways),
    )


def _other(figures: PlanFigures, showing: Showing) -> str:
    return f"The reheat of this plan, {showing.temperature(figures.reheat_K)}, is none of these heats."


def _way(way: WayFigures, showing: Showing) -> WayView:
    can_take = len(way.heats) < 2 and not way.is_plan
    heat_K = way.heats[0].temperature_K if way.heats else None
    words = "Take straight from the box" if heat_K is None else f"Take {showing.temperature(heat_K)}"
    return WayView(
        name=NAMES[way.way],
        heats=", then ".join(_range(heat, showing) for heat in way.heats) or "no reheat",
        is_plan=way.is_plan,
        is_advised=way.is_advised,
        skin=_zone(way.case),
        core=_zone(way.core),
        points=tuple(WORDS[key] for key in ORDER if key in way.keys),
        source="; ".join(dict.fromkeys(heat.source for heat in way.heats if heat.source)),
        take=take_of({"reheat_K": heat_K}) if can_take else "",
        take_words=words,
        not_held=NOT_HELD if len(way.heats) > 1 else "",
    )


def _range(heat: HeatFigures, showing: Showing) -> str:
    low, high = showing.temperature(heat.low_K), showing.temperature(heat.high_K)
    return low if low == high else f"{low} to {high}"


def _zone(zone: ZoneFigures) -> str:
    """Return what skin or core is left as, in figures with their words."""
    number = f"{zone.grain_number:.0f}{' or finer' if zone.at_most else ''}"
    size = (
        "coarse"
        if zone.grain_number < COARSE_BELOW
        else "fine"
        if zone.grain_number > FINE_FROM
        else "middling"
    )
    grain = f"{size} grain (number {number})"
    shares = (
        ("kept austenite", zone.retained_austenite),
        ("free carbide", zone.carbide),
        ("not hardened", zone.ferrite),
    )
    said = [f"{100.0 * share:.0f}\N{NO-BREAK SPACE}% {words}" for words, share in shares if share >= 0.01]
    return ", ".join([grain, *said])
