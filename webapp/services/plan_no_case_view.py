"""A plan without a case, in the words of the shop."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.services.plan_advice import AIR_DOES_NOT_HARDEN, cautions_of_quench
from webapp.services.plan_hardening_view import HardeningView, view_hardening
from webapp.services.plan_no_case import NoCaseFigures
from webapp.services.plan_tenths import in_ten
from webapp.services.plan_view import (
    EVEN,
    LIKELY,
    FigureView,
    WarningView,
    figure_of,
    learnt_from,
    view_warning,
)
from webapp.services.sheets import Line
from webapp.services.shop_cautions import Caution
from webapp.services.showing import Showing, say_duration

SAME_HEAT_K = 5.0
PERCENT = "\N{NO-BREAK SPACE}%"
BRITTLE = (
    "Do not pack it: carbon from a pack would make a glass-hard, brittle skin on a core that is hard as "
    "well, and the part would crack or chip. It hardens by itself, from one heat."
)
CRACKS = {
    "water": "Water cracks such steel easily. Oil is the usual bath for it; in water keep corners round and "
    "temper at once.",
    "brine": "Brine cracks such steel more often than not. Oil is the usual bath for it.",
}
NO_BATCH = (
    "Nothing is packed, so there is no batch to start: a batch of the logbook begins with a box and a soak. "
    "Print this sheet and take it to the forge."
)


@dataclass(frozen=True)
class NoCaseView:
    """A plan without a case as it is shown."""

    headline: str
    look: str
    brittle: str
    odds: str
    todo: str
    heat: str
    figures: tuple[FigureView, ...]
    warnings: tuple[WarningView, ...]
    hardening: HardeningView
    cautions: tuple[Caution, ...]
    assumptions: tuple[str, ...]
    learnt: str
    is_sketch: bool = False
    is_no_case: bool = True


def view_no_case(figures: NoCaseFigures, showing: Showing, awaits_fit: bool = False) -> NoCaseView:
    """Return a plan without a case in the words of the shop."""
    odds, look = _odds(figures)
    return NoCaseView(
        headline=f"This steel needs no case: {_carbon(figures)} carbon hardens it right through",
        look=look,
        brittle=BRITTLE,
        odds=odds,
        todo=_todo(figures, showing),
        heat=_range(figures, showing),
        figures=_figures(figures),
        warnings=_warnings(figures, showing),
        hardening=view_hardening(figures, showing, needs_case=False),
        cautions=cautions_of_quench(figures.medium),
        assumptions=figures.assumptions,
        learnt=learnt_from(figures.coupons, awaits_fit),
    )


def view_no_case_choices(figures: NoCaseFigures, showing: Showing) -> tuple[Line, ...]:
    """Return what was chosen, as lines of a card."""
    temper = f"{showing.temperature(figures.temper_K)}, {say_duration(figures.temper_s)}"
    return (
        Line("Pack", "none: this steel needs no case"),
        Line("Heat", _heat(figures, showing)),
        Line("Heat is told by", figures.names["heat"]),
        Line("Quench", figures.names["bath"]),
        *([Line("Temper", temper)] if figures.temper_K is not None else []),
    )


def _todo(figures: NoCaseFigures, showing: Showing) -> str:
    heat, bath = _heat(figures, showing), figures.names["bath"]
    return f"Heat to {heat}, quench in {bath}{_temper(figures, showing)}."


def _carbon(figures: NoCaseFigures) -> str:
    low, high = figures.carbon_low_wt, figures.carbon_high_wt
    return f"{low:.2f}{PERCENT}" if low == high else f"{low:.2f} to {high:.2f}{PERCENT}"


def _heat(figures: NoCaseFigures, showing: Showing) -> str:
    return f"{showing.temperature(figures.temperature_K)} and hold {say_duration(figures.hold_s)}"


def _temper(figures: NoCaseFigures, showing: Showing) -> str:
    if figures.temper_K is None:
        return ", not tempered"
    hours = f" for {say_duration(figures.temper_s)}" if figures.temper_s else ""
    return f", temper at {showing.temperature(figures.temper_K)}{hours}"


def _range(figures: NoCaseFigures, showing: Showing) -> str:
    low, high = (showing.temperature(end) for end in (figures.heat_low_K, figures.heat_high_K))
    source = f" ({figures.heat_source})" if figures.heat_source else ""
    words = f"The books heat it to {low} to {high} for the quench{source}."
    if figures.temperature_K < figures.heat_low_K - SAME_HEAT_K:
        return f"{words} This plan is cooler: some of it may stay soft."
    if figures.temperature_K > figures.heat_high_K + SAME_HEAT_K:
        return f"{words} This plan is hotter: the grain grows coarse and it cracks sooner."
    return words


def _odds(figures: NoCaseFigures) -> tuple[str, str]:
    """Return the odds of the wanted hardness in words, and the look they have."""
    if figures.hard_enough is None:
        return "", "done"
    tenths = round(10.0 * figures.hard_enough)
    words = f"{in_ten(tenths)} to be {figures.wanted_HRC:.0f} HRC or harder at the skin.".capitalize()
    return words.replace("hrc", "HRC"), "done" if tenths >= LIKELY else "wait" if tenths >= EVEN else "warn"


def _figures(figures: NoCaseFigures) -> tuple[FigureView, ...]:
    wanted = f"; wanted {figures.wanted_HRC:.0f}" if figures.wanted_HRC is not None else ""
    rows = (
        figure_of("Hardness of the skin", figures.skin_HRC, figures.skin_HV, wanted),
        figure_of("A Rockwell test would show", figures.reading_HRC, None),
        figure_of("Core", figures.core_HRC, figures.core_HV),
    )
    return tuple(one for one in rows if one is not None)


def _warnings(figures: NoCaseFigures, showing: Showing) -> tuple[WarningView, ...]:
    found = [view_warning(one, showing) for one in figures.warnings]
    if figures.medium in CRACKS:
        found.insert(0, WarningView(CRACKS[figures.medium], ""))
    if figures.medium == "air":
        found.insert(0, WarningView(AIR_DOES_NOT_HARDEN, "Pick oil."))
    return tuple(found)
