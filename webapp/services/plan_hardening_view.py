"""The quench of a plan in the words of the shop: which bath, which temper, does it bend or snap."""

from __future__ import annotations

from dataclasses import dataclass, replace

from model.conversion import ROCKWELL_C_RANGE
from webapp.forms.shop import MEDIA
from webapp.services.oven_words import give_or_take, oven_in_words
from webapp.services.plan_advice import risk_in_bath
from webapp.services.plan_figures import BathFigures, BlowFigures, PlanFigures, Spread, TemperFigures
from webapp.services.plan_no_case import NoCaseFigures
from webapp.services.plan_spreads import in_rockwell
from webapp.services.plan_structure import structure_in_words
from webapp.services.plan_tenths import in_ten, tenths_of
from webapp.services.showing import Showing, say_duration
from webapp.services.words import label_of, length_text

FILM_FROM_s = 0.5
MOSTLY = 0.5
LEAST_CHANGE_deg = 0.1
LEAST_CHANGE = 0.005
REASONS = {
    "less_compression": "there is less core to press the skin together",
    "bend_spreads_further": "a stiffer skin spreads the bend further along the bar",
    "no_change": "what the core presses less, the stiffer skin makes up",
}
WIDE_DOUBT = (
    "Take this as a hint: how hard steel breaks hangs on scratches, corners and grain that nobody knows "
    "here, so the doubt is wide. Bend a spare piece before you trust it."
)
# common practice, no source
HOTTER_TEMPER = (
    "A spring or a struck tool of such steel is tempered far hotter, 400 °C (750 °F) and up: what that does "
    "is not worked out here."
)
NOT_COMPARED = (
    "The baths are not compared: what a temper does is worked out from 100 to 320 °C (212 to 608 °F) only."
)


@dataclass(frozen=True)
class BathView:
    """One bath as a row of the table."""

    name: str
    note: str
    is_chosen: bool
    skin: str
    skin_band: str
    reading: str
    reading_band: str
    core: str
    core_band: str
    made_of: tuple[str, ...]
    film: str
    risk: str


@dataclass(frozen=True)
class BlowView:
    """What a bend does to the part: how it was asked, the odds, and why."""

    asked: str
    odds: tuple[str, ...]
    why: tuple[str, ...]
    doubt: str = WIDE_DOUBT


@dataclass(frozen=True)
class HardeningView:
    """What the quench comes to; empty for a quick answer and for plans from before it was worked out."""

    after: str
    baths: tuple[BathView, ...]
    no_baths: str
    temper: str
    blow: BlowView | None


def view_hardening(
    figures: PlanFigures | NoCaseFigures, showing: Showing, needs_case: bool = True
) -> HardeningView:
    """Return the quench of a plan in words."""
    found = figures.hardening
    return HardeningView(
        "as quenched" if figures.temper_K is None else "after the temper of this plan",
        tuple(_bath(bath, figures.thickness_m, needs_case) for bath in found.baths),
        NOT_COMPARED if found.skin is not None and figures.skin_HV is None else "",
        "" if found.temper is None else temper_in_words(found.temper, showing),
        None if found.blow is None else _blow(found.blow, figures.shape, showing, needs_case),
    )


def _blow(blow: BlowFigures, shape: str, showing: Showing, needs_case: bool) -> BlowView:
    """Return what a bend does; of steel without a case no deeper case can be said to do anything."""
    words = blow_in_words(blow, shape, showing)
    if needs_case:
        return words
    tempered = (HOTTER_TEMPER,) if blow.snaps >= MOSTLY else ()
    return replace(words, why=(*words.why[:1], *tempered))


def _bath(bath: BathFigures, thickness_m: float, needs_case: bool) -> BathView:
    skin, skin_band = hardness_in_words(in_rockwell(bath.skin_HV), bath.skin_HV)
    reading, reading_band = hardness_in_words(bath.reading_HRC, None)
    core, core_band = hardness_in_words(in_rockwell(bath.core_HV), bath.core_HV)
    medium = label_of(MEDIA, bath.medium).lower()
    note = "" if medium in bath.name.lower() else medium
    return BathView(
        name=bath.name,
        note=note if bath.is_in_shop else "not written down in the shop",
        is_chosen=bath.is_chosen,
        skin=skin,
        skin_band=skin_band,
        reading=reading,
        reading_band=reading_band,
        core=core,
        core_band=core_band,
        made_of=(f"skin: {structure_in_words(bath.skin)}", f"core: {structure_in_words(bath.core)}"),
        film=film_in_words(bath.film_s),
        risk=risk_in_bath(bath.medium, thickness_m, needs_case),
    )


def hardness_in_words(in_HRC: Spread | None, in_HV: Spread | None) -> tuple[str, str]:
    """Return a hardness and its band in HRC, in HV where it lies off that scale and HV is known."""
    low, high = ROCKWELL_C_RANGE
    if in_HRC is not None and low <= in_HRC.middle <= high:
        top = f"{min(in_HRC.high, high):.0f}"
        return (
            f"{in_HRC.middle:.0f} HRC",
            f"{top} or less" if in_HRC.low < low else f"{in_HRC.low:.0f} to {top}",
        )
    if in_HV is None:
        return "off the scale", "too soft for Rockwell C"
    return f"{in_HV.middle:.0f} HV", f"{in_HV.low:.0f} to {in_HV.high:.0f}"


def film_in_words(film_s: float) -> str:
    """Return how long steam keeps the bath off the part; empty where it is gone at once."""
    if film_s <= FILM_FROM_s:
        return ""
    seconds = f"{film_s:.1f}" if film_s < 3.0 else f"{film_s:.0f}"
    return f"The vapour film lasts about {seconds} s on this part."


def temper_in_words(temper: TemperFigures, showing: Showing) -> str:
    """Return the oven's setting for the wanted hardness, or why there is none."""
    if temper.refusal:
        return f"{temper.wanted_HRC:.0f} HRC is not to be had from this quench. {temper.refusal}"
    best, low, high = (showing.temperature(one) for one in (temper.best_K, temper.low_K, temper.high_K))
    around = "" if low == high else f" (somewhere from {low} to {high})"
    at = f"set {temper.oven} to" if temper.oven else "temper at"
    words = (
        f"To reach {temper.wanted_HRC:.0f} HRC at the skin {at} {best}{around} for "
        f"{say_duration(temper.seconds)}: {in_ten(round(10.0 * temper.odds))} to land within 1 HRC."
    )
    tough = "So hot a temper costs toughness." if temper.embrittles else ""
    return " ".join(filter(None, (words, _oven_in_words(temper, showing), tough)))


def _oven_in_words(temper: TemperFigures, showing: Showing) -> str:
    """Return what the oven is taken to run at, as far as it is known; empty where there is none."""
    if not temper.oven:
        return ""
    runs = oven_in_words(temper.runs_K, showing)
    return f"As far as is known it {runs}, {give_or_take(temper.runs_give_or_take_K, showing)}."


def blow_in_words(blow: BlowFigures, shape: str, showing: Showing) -> BlowView:
    """Return what a bend does to a part, with the reason."""
    span = length_text(showing, round(blow.span_m, 4))
    across = "thickness" if shape == "plate" else "diameter"
    known = "its length" if blow.span_is_known else f"ten times its {across}, as no usable length is noted"
    tenths = tenths_of(blow.bends, blow.cracks, blow.snaps)
    words = ("bends and holds", "cracks in the skin, but the core holds on", "snaps")
    odds = tuple(
        f"{count} in 10 {what}" if count else f"hardly ever {what}"
        for count, what in zip(tenths, words, strict=True)
    )
    asked = f"Bent by {blow.asked_deg:.0f}° over {span} ({known}):"
    return BlowView(asked, odds, (_first_crack(blow), _deeper(blow)))


def _first_crack(blow: BlowFigures) -> str:
    if blow.from_flaw >= MOSTLY:
        return "The first crack most likely starts at a scratch or a flaw: a smooth, clean skin helps."
    return "The first crack most likely comes from the skin being stretched further than it can give."


def _deeper(blow: BlowFigures) -> str:
    """Return what a deeper case changes, with its reason."""
    more, why = blow.angle_more_deg, REASONS[blow.reason]
    little = "a little" if abs(more) >= LEAST_CHANGE_deg else "a hair"
    when = f"{little} {'later' if more > 0.0 else 'sooner'}"
    if blow.reason == "no_change":
        when = "at the same bend"
    snaps = "about as often as now"
    if abs(blow.snaps_more) >= LEAST_CHANGE:
        snaps = "more often" if blow.snaps_more > 0.0 else "less often"
    return f"A case a tenth deeper cracks {when}, as {why}; once cracked it snaps {snaps}."
