"""A plan's figures in the words of the shop."""

from __future__ import annotations

from dataclasses import dataclass

from model.warned import say_heats
from webapp.charts import Chart
from webapp.forms.numbers import amount
from webapp.forms.parts import DEFINITIONS
from webapp.forms.steps import CLOCK_FROM
from webapp.services.plan_advice import AIR_DOES_NOT_HARDEN, cautions_of_plan, what_to_do
from webapp.services.plan_charts import carbon_chart, growth_chart
from webapp.services.plan_edges import EdgesView, view_edges
from webapp.services.plan_figures import Odds, PlanFigures, Spread, Warned
from webapp.services.plan_fire_words import fire_words
from webapp.services.plan_hardening_view import HardeningView, hardness_in_words, view_hardening
from webapp.services.plan_slice import SliceView, view_slice
from webapp.services.plan_tenths import in_ten, tenths_of
from webapp.services.plan_wants_view import WantsView, view_wants
from webapp.services.plan_ways_view import WaysView, view_ways
from webapp.services.sheets import Line
from webapp.services.shop_cautions import Caution
from webapp.services.showing import Showing, plural, say_duration
from webapp.services.soft_areas import SoftView, view_soft
from webapp.services.words import label_of, length_text, range_text

ROUND_WARM_UP_s = 300.0
SAME_SOAK_s = 60.0
LIKELY = 7
EVEN = 5
NOT_TAUGHT = "no coupon of this forge had taught anything yet"
READINGS_TO_COME = "your readings are being worked out just now, and a plan made after that goes by them"


@dataclass(frozen=True)
class FigureView:
    """One number with its band."""

    label: str
    value: str
    unit: str
    band: str


@dataclass(frozen=True)
class OddsView:
    """One way it can end, as so many in ten."""

    key: str
    tenths: int
    words: str


@dataclass(frozen=True)
class WarningView:
    """One warning and what to do about it."""

    text: str
    advice: str


@dataclass(frozen=True)
class BetterView:
    """The soak with the best odds, where another one was chosen; and what other heats would need."""

    words: str
    hours: str


@dataclass(frozen=True)
class PlanView:
    """A plan as it is shown."""

    headline: str
    look: str
    odds: tuple[OddsView, ...]
    figures: tuple[FigureView, ...]
    soak: str
    before: str
    fire: tuple[str, ...]
    reason: str
    nearest: str
    best: BetterView | None
    other_heats: tuple[str, ...]
    warnings: tuple[WarningView, ...]
    wants: WantsView | None
    ways: WaysView | None
    edges: EdgesView | None
    soft: SoftView | None
    hardening: HardeningView
    slice: SliceView
    charts: tuple[Chart, ...]
    cautions: tuple[Caution, ...]
    assumptions: tuple[str, ...]
    learnt: str
    is_sketch: bool
    is_no_case: bool = False


def view_plan(figures: PlanFigures, showing: Showing, awaits_fit: bool = False) -> PlanView:
    """Return a plan in the words of the shop; `awaits_fit` while readings are first worked out."""
    odds = _odds(figures.odds)
    window = _window(figures, showing)
    inside = odds[1].tenths
    look = "done" if inside >= LIKELY else "wait" if inside >= EVEN else "warn"
    return PlanView(
        headline=f"{in_ten(inside)} to land between {window}".capitalize(),
        look=look if figures.feasible else "bad",
        odds=odds,
        figures=_figures(figures, showing),
        soak=_soak(figures, showing),
        before=_before(figures),
        fire=fire_words(figures),
        reason="" if figures.is_sketch else figures.reason,
        nearest=_nearest(figures, showing),
        best=_best(figures),
        other_heats=() if figures.is_sketch else _other_heats(figures, showing),
        warnings=_warnings(figures, showing),
        wants=view_wants(figures, showing),
        ways=view_ways(figures, showing),
        edges=view_edges(figures, showing),
        soft=view_soft(figures, showing),
        hardening=view_hardening(figures, showing),
        slice=view_slice(figures, showing),
        charts=(carbon_chart(figures, showing), growth_chart(figures, showing)),
        cautions=cautions_of_plan(figures.medium),
        assumptions=figures.assumptions,
        learnt=learnt_from(figures.coupons, awaits_fit),
        is_sketch=figures.is_sketch,
    )


def view_choices(figures: PlanFigures, showing: Showing) -> tuple[Line, ...]:
    """Return what was chosen, as lines of a card."""
    lines = [
        Line("Soak", f"{say_duration(figures.soak_s)} at {showing.temperature(figures.temperature_K)}"),
        Line("Clock starts when", label_of(CLOCK_FROM, figures.clock_from).lower()),
        Line("Box", f"{figures.names['box']}, packed with {figures.names['mix']}"),
        Line("Heat is told by", figures.names["heat"]),
        Line("Quench", _quench(figures, showing)),
    ]
    if figures.temper_K is not None:
        hours = f", {say_duration(figures.temper_s)}" if figures.temper_s else ""
        lines.append(Line("Temper", f"{showing.temperature(figures.temper_K)}{hours}"))
    if figures.grind_m > 0:
        lines.append(Line("To grind off", f"{length_text(showing, figures.grind_m)} each face"))
    lines.append(Line("Depth counted", label_of(DEFINITIONS, figures.definition).lower()))
    return tuple(lines)


def _quench(figures: PlanFigures, showing: Showing) -> str:
    if figures.reheat_K is None:
        return f"straight from the box into {figures.names['bath']}"
    minutes = f" for {say_duration(figures.reheat_s)}" if figures.reheat_s else ""
    return f"reheat to {showing.temperature(figures.reheat_K)}{minutes}, then {figures.names['bath']}"


def _odds(odds: Odds) -> tuple[OddsView, ...]:
    """Return the odds as tenths that sum to ten."""
    tenths = tenths_of(odds.too_shallow, odds.inside, odds.too_deep)
    ways = (("shallow", "too shallow"), ("inside", "as wanted"), ("deep", "too deep"))
    return tuple(
        OddsView(key, count, f"{count} in 10 {words}" if count else f"hardly ever {words}")
        for (key, words), count in zip(ways, tenths, strict=True)
    )


def _window(figures: PlanFigures, showing: Showing) -> str:
    unit = showing.length_unit
    low, high = (amount(end, unit, "length") for end in (figures.wanted_low_m, figures.wanted_high_m))
    return f"{low} and {high} {unit}"


def _figures(figures: PlanFigures, showing: Showing) -> tuple[FigureView, ...]:
    unit = showing.length_unit
    label = "Case after grinding" if figures.grind_m > 0 else "Case depth"
    depth = FigureView(
        label,
        amount(figures.depth.middle, unit, "length"),
        unit,
        f"nine in ten: {range_text(showing, figures.depth.low, figures.depth.high)}",
    )
    wanted = f"; wanted {figures.wanted_HRC:.0f}" if figures.wanted_HRC is not None else ""
    before = "; as last worked out" if figures.is_sketch else ""
    hardness = (
        figure_of("Hardness of the skin", figures.skin_HRC, figures.skin_HV, before),
        figure_of("A Rockwell test would show", figures.reading_HRC, None, wanted + before),
        figure_of("Core", figures.core_HRC, figures.core_HV, before),
    )
    skin = FigureView(
        "Carbon at the skin",
        f"{figures.skin_wt.middle:.2f}",
        "%",
        f"{figures.skin_wt.low:.2f} to {figures.skin_wt.high:.2f}",
    )
    return (depth, *(one for one in hardness if one is not None), skin)


def figure_of(label: str, in_HRC: Spread | None, in_HV: Spread | None, more: str = "") -> FigureView | None:
    """Return a hardness in HRC, in HV where it lies off that scale; None where it is not known."""
    if in_HRC is None:
        return None
    said, band = hardness_in_words(in_HRC, in_HV)
    value, _, unit = said.partition(" ") if said[0].isdigit() else (said, "", "")
    return FigureView(label, value, unit, band + more)


def _soak(figures: PlanFigures, showing: Showing) -> str:
    return f"{say_duration(figures.soak_s)} at {showing.temperature(figures.temperature_K)}"


def _before(figures: PlanFigures) -> str:
    low, middle, high = (
        say_duration(max(ROUND_WARM_UP_s * round(end / ROUND_WARM_UP_s), ROUND_WARM_UP_s))
        for end in (figures.warm_up_s.low, figures.warm_up_s.middle, figures.warm_up_s.high)
    )
    if figures.clock_from == "box_in":
        return (
            f"The clock starts as the box goes in, so it holds the warm-up: about {middle}, {low} to {high}."
        )
    if figures.clock_from == "evenly_red":
        return (
            f"The clock starts when the box is evenly red, about half way through the warm-up of {middle} "
            f"({low} to {high})."
        )
    return f"The soak clock starts at the working heat. Before it, allow about {middle}: {low} to {high}."


def _nearest(figures: PlanFigures, showing: Showing) -> str:
    if figures.feasible or figures.is_sketch:
        return ""
    depth = length_text(showing, round(figures.best_depth_m, 5))
    return f"The nearest that can be had this way: {depth}, with {say_duration(figures.best_soak_s)}."


def _best(figures: PlanFigures) -> BetterView | None:
    if figures.is_sketch or abs(figures.best_soak_s - figures.soak_s) < SAME_SOAK_s:
        return None
    inside = in_ten(round(10.0 * figures.best_inside))
    hours = say_duration(figures.best_soak_s)
    return BetterView(f"Best odds at this heat: {hours} ({inside}).", hours)


def _other_heats(figures: PlanFigures, showing: Showing) -> tuple[str, ...]:
    return tuple(
        f"{showing.temperature(other.temperature_K)}: about {say_duration(_rounded(other.soak_s))}"
        if other.soak_s is not None
        else f"{showing.temperature(other.temperature_K)}: no soak would do"
        for other in figures.other_heats
    )


def _rounded(soak_s: float) -> float:
    return ROUND_WARM_UP_s * round(soak_s / ROUND_WARM_UP_s)


def _warnings(figures: PlanFigures, showing: Showing) -> tuple[WarningView, ...]:
    air = (WarningView(AIR_DOES_NOT_HARDEN, "Pick a bath: water, brine or oil."),)
    found = tuple(view_warning(one, showing) for one in figures.warnings)
    return (*(air if figures.medium == "air" else ()), *found)


def view_warning(warned: Warned, showing: Showing) -> WarningView:
    """Return a warning of the forecast in the shop's degrees, and what to do about it."""
    return WarningView(say_heats(warned.text, warned.heats_K, showing.temperature), what_to_do(warned.code))


def learnt_from(coupons: int, awaits_fit: bool) -> str:
    """Return what a forecast rests on."""
    if coupons:
        return f"Learnt from {plural(coupons, 'coupon')} of this forge."
    why = READINGS_TO_COME if awaits_fit else NOT_TAUGHT
    return f"Worked out from the books only, so the band is wide: {why}."
