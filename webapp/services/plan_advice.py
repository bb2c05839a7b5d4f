"""What to do about each warning, and the cautions of a plan's bath. Common practice, no source."""

from __future__ import annotations

from webapp.services.shop_cautions import Caution, cautions_named

WHAT_TO_DO = {
    "below_ac1": "Go well above it: 870 to 930 °C (1600 to 1700 °F) is usual.",
    "almost_no_case": "Raise the heat, or stir in about 5 % soda ash by weight.",
    "shorter_than_warm_up": "Soak longer, or start the clock only when the work is at heat.",
    "carbon_above_saturation": "Take a less lively mix, or let it even out hot with a sealed surface.",
    "rich_surface": "Less carbonate or less heat brings it down; grinding takes the richest of it off.",
    "case_too_deep": "Soak for less, want a thinner case, or start from thicker stock.",
    "grain_growth": "Reheat before the quench, or soak cooler.",
    "bare_reheat": "Wrap it in foil or pack it again, or keep the flame rich; then note which.",
    "lost_carbon": "Wrap it in foil or pack it again next time; grind off the soft skin.",
    "long_soak": "A hotter soak is shorter; or ask whether this part needs so deep a case.",
    "steel_needs_no_case": "Heat and quench a test piece of it first.",
    "free_cutting_steel": "Take another bar for this part if there is one.",
    "quench_below_ac1": "Reheat to about 780 to 820 °C (1440 to 1510 °F) before the quench.",
    "free_carbide": "Reheat a little hotter, or leave the edges rounded.",
    "retained_austenite": "Quench from a reheat at about 780 to 800 °C (1440 to 1470 °F).",
    "temper_not_worked_out": "Take 120 to 205 °C (250 to 400 °F) for a case.",
    "temper_without_quench": "Add the quench, or leave the temper out.",
}
AIR_DOES_NOT_HARDEN = "Still air does not harden low-carbon steel: the skin stays soft."
_ALWAYS = ("carbon_monoxide", "never_sealed_tight")
_BY_MEDIUM = {
    "oil": ("oil_flash", "water_in_oil"),
    "brine": ("brine", "steam_and_shards"),
    "water": ("steam_and_shards",),
}


def what_to_do(code: str) -> str:
    """Return what to do about a warning; empty for one that says it itself."""
    return WHAT_TO_DO.get(code, "")


def cautions_of_plan(medium: str) -> tuple[Caution, ...]:
    """Return what can hurt in a plan: the gas, the box, and the bath that was chosen."""
    return cautions_named(*_BY_MEDIUM.get(medium, ()), *_ALWAYS)


def cautions_of_quench(medium: str) -> tuple[Caution, ...]:
    """Return what can hurt where nothing is packed: the bath alone, and work that is hard right through."""
    return cautions_named(*dict.fromkeys((*_BY_MEDIUM.get(medium, ()), "steam_and_shards")))


THIN_m = 3e-3
THICK_m = 25e-3
_RISK_BY_MEDIUM = {
    "air": "Cracks and warps least of all.",
    "oil": "Seldom cracks; warps a little.",
    "water": "Can crack at sharp corners, holes and steps; warps.",
    "brine": "Cracks most easily, at corners, holes and steps above all; warps.",
}
_THIN = "So thin a section bows easily: in upright, edge or end first, straight down."
_THICK = "In so thick a section the skin is hard long before the middle is cold: more cracks."


_RISK_WITHOUT_CASE = _RISK_BY_MEDIUM | {
    "water": "Cracks steel of so much carbon easily, at corners, holes and steps above all; warps.",
    "brine": "Cracks steel of so much carbon more often than not: not for this part; warps.",
}


def risk_in_bath(medium: str, thickness_m: float, needs_case: bool = True) -> str:
    """Return the risk of cracking and warping in a bath by the section. Common practice, no source."""
    by_medium = _RISK_BY_MEDIUM if needs_case else _RISK_WITHOUT_CASE
    words = by_medium.get(medium, by_medium["oil"])
    if medium == "air":
        return words
    if thickness_m <= THIN_m:
        return f"{words} {_THIN}"
    return f"{words} {_THICK}" if thickness_m >= THICK_m else words
