"""Areas of a part that must stay soft: how much stock must come off, and what would be left hard."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Final

import numpy as np

from model.process import Reheat
from webapp.forms.numbers import amount
from webapp.forms.parts import SOFT_AREAS
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import CarbonFigures, SoftFigures
from webapp.services.plan_sums import Settled
from webapp.services.plan_tenths import in_ten
from webapp.services.showing import Showing
from webapp.services.words import label_of
from webapp.store.tables import Part

HIGH_END: Final = 0.95
MACHINED: Final = "machined"
STEPS: Final = {"mm": (10.0, 1), "in": (200.0, 3)}  # rounded up to 0.1 mm or 0.005 in
IN_UNIT: Final = {"mm": 1e3, "in": 1.0 / 0.0254}
LIKELY_HARD: Final = 0.05
# What each mask is worth. Common practice, no source.
WORTH = {
    "clay": "Clay, 3 to 6 mm (1/8 to 1/4 in) thick and dried slowly, keeps most of the carbon off. It cracks "
    "and lifts: expect hard spots under it, and try a file on every piece before you cut a thread or set a "
    "rivet.",
    "plating": "Copper plating, 0.02 to 0.04 mm (0.001 to 0.0015 in) and without pores, keeps carbon out "
    "well. A scratch or a bare corner lets it in: look it over before packing, and strip it after the "
    "hardening.",
}
STRAIGHT: Final = (
    "This plan goes from the box straight into the bath: by the time it is cold it is hard, and nothing of "
    "it can be machined between. Plan a slow cool and a reheat, or mask it."
)
SOURCE: Final = (
    "How deep carbon goes: this forecast, nineteen in twenty. What masks are worth: common practice."
)
ALL_THROUGH: Final = (
    "Carbon goes right through this section: no stock keeps it soft. Mask it, or make that end of it thicker."
)


@dataclass(frozen=True)
class SoftView:
    """What a plan says of a soft area: what to do, and a warning where it would come out hard."""

    title: str
    words: str
    more: str
    warning: str
    source: str


def carbon_figures(found: Settled) -> CarbonFigures:
    """Return how deep carbon goes from the face as packed, and how much of it a fed face takes up."""
    total = found.drawn.case_depth["total"]
    depth_m = np.zeros(1) if total is None else total.depth_m
    gain = found.drawn.carbon_gain_kg_per_m2
    return CarbonFigures(
        reach_m=float(np.median(depth_m)),
        reach_high_m=float(np.quantile(depth_m, HIGH_END)),
        goes_through=total is not None and bool(total.whole_section.mean() > 1.0 - HIGH_END),
        gain_kg_per_m2=float(np.median(gain)),
        gain_high_kg_per_m2=float(np.quantile(gain, HIGH_END)),
    )


def soft_figures(found: Settled, part: Part) -> SoftFigures | None:
    """Return what of a part must stay soft and how that stands; None where nothing must."""
    if not part.soft_area:
        return None
    total, stock_m, odds = found.drawn.case_depth["total"], part.soft_stock_m, None
    if total is not None and stock_m is not None and part.soft_kept == MACHINED:
        odds = float(np.mean(total.depth_m > stock_m))
    return SoftFigures(
        area=part.soft_area,
        kept=part.soft_kept,
        stock_m=stock_m,
        odds_hard=odds,
        is_straight=not any(isinstance(step, Reheat) for step in found.process.steps),
    )


def view_soft(figures: PlanFigures, showing: Showing) -> SoftView | None:
    """Return what a plan says of a part's soft area; None where it has none."""
    soft, carbon = figures.more.soft, figures.more.carbon
    if soft is None or carbon is None:
        return None
    what = label_of(SOFT_AREAS, soft.area).lower()
    if soft.kept != MACHINED:
        words = f"Mask the {what} before packing. {WORTH[soft.kept]}"
        return SoftView("What must stay soft", words, _if_it_leaks(carbon, showing), "", SOURCE)
    words = "" if soft.is_straight else machining_words(figures, showing)
    return SoftView("What must stay soft", words, _at_the_mouth(soft, carbon, showing),
                    _warning(soft, carbon, what, showing), SOURCE)  # fmt: skip


def machining_words(figures: PlanFigures, showing: Showing) -> str:
    """Return the step in which a soft area is machined; empty for a plan that has no such step."""
    soft, carbon = figures.more.soft, figures.more.carbon
    if soft is None or carbon is None or soft.kept != MACHINED or soft.is_straight or carbon.goes_through:
        return ""
    one, both = (rounded_up(share * carbon.reach_high_m, showing) for share in (1.0, 2.0))
    stock = {
        "thread": f"Leave {both} on the thread's diameter ({one} a side)",
        "hole": "Leave the hole undrilled",
        "end": f"Leave {both} on the end's diameter and {one} on its length",
    }[soft.area]
    return f"{stock}; machine it after the slow cool, before the reheat, while the steel is soft."


def rounded_up(length_m: float, showing: Showing) -> str:
    """Return a stock to leave, rounded up to what a lathe is set by."""
    steps, digits = STEPS[showing.length_unit]
    value = ceil(round(length_m * IN_UNIT[showing.length_unit] * steps, 6)) / steps
    return f"{value:.{digits}f} {showing.length_unit}"


def _at_the_mouth(soft: SoftFigures, carbon: CarbonFigures, showing: Showing) -> str:
    if soft.area != "hole" or carbon.goes_through:
        return ""
    reach = rounded_up(carbon.reach_high_m, showing)
    return (
        f"The hole's mouth lies in a carburized face: its first {reach} comes out hard all the same. Face or "
        f"counterbore that much off with it, or let the thread begin below it."
    )


def _if_it_leaks(carbon: CarbonFigures, showing: Showing) -> str:
    reach = amount(round(carbon.reach_m, 4), showing.length_unit, "length")
    return f"Where the mask leaks, carbon goes in about {reach} {showing.length_unit}, as on the bare steel."


def _warning(soft: SoftFigures, carbon: CarbonFigures, what: str, showing: Showing) -> str:
    if soft.is_straight:
        return f"The {what} would be left hard. {STRAIGHT}"
    if carbon.goes_through:
        return f"The {what} would be left hard. {ALL_THROUGH}"
    if soft.odds_hard is None or soft.stock_m is None or soft.odds_hard <= LIKELY_HARD or soft.area == "hole":
        return ""
    left = f"{amount(soft.stock_m, showing.length_unit, 'length')} {showing.length_unit}"
    need = rounded_up(carbon.reach_high_m, showing)
    odds = in_ten(max(round(10.0 * soft.odds_hard), 1)).capitalize()
    return f"{odds} that the {what} is left hard: {left} a side comes off, and carbon goes in up to {need}."
