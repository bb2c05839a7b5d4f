"""What may be said of an argument's effect, in a metalworker's words, by the stated rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from model.argument_columns import Outcome, argument_priors
from model.argument_trial import Scatter, trials_needed
from model.arguments import LEAST_DIFFERENCE, Effect, verdict
from model.units import from_si
from webapp.services.argument_list import Argument
from webapp.services.showing import Showing, plural

MOST_TRIALS = 30
MORE = {"depth": ("shallower", "deeper"), "hardness": ("softer", "harder")}
WHAT = {"depth": "case", "hardness": "skin"}
LABELS = {"depth": "Case depth", "hardness": "Skin hardness"}
WIDTH, HEIGHT, EDGE = 320.0, 40.0, 12.0
TAGS = {
    "likely": ("likely a difference", "hot"),
    "may_be": ("may be a difference", "wait"),
    "none": ("no difference seen", "done"),
    "open": ("not told yet", "wait"),
}
LEAST_SHOWN = {"depth": 0.2, "hardness": 3.0}


@dataclass(frozen=True)
class Drawing:
    """A band on a line with nothing in its middle, in the drawing's own units."""

    low: str
    middle: str
    high: str
    nothing: str
    lower_words: str
    higher_words: str
    says: str


@dataclass(frozen=True)
class EffectView:
    """One outcome of an argument: what may be said, from how much, and its drawing."""

    label: str
    words: str
    counted: str
    taught_by: str
    drawing: Drawing
    tag: str
    look: str


def effect_of(stored: Mapping[str, Any]) -> Effect:
    """Return an effect as a fit stored it."""
    told = dict(stored)
    for name in ("fires", "coupons", "mixed_with"):
        told[name] = tuple(told[name])
    return Effect(**told)


def view_effect(
    effect: Effect, argument: Argument, looks: int, instead: Sequence[str], showing: Showing
) -> EffectView:
    """Word an effect; `instead` is what it cannot be told from."""
    said = verdict(effect, looks)
    tag, look = _tag(said, bool(instead))
    return EffectView(
        label=LABELS[effect.outcome],
        words=_sentence(effect, argument, said, instead, showing),
        counted=_counted(effect, showing),
        taught_by=_taught_by(effect),
        drawing=_draw(effect, argument, showing),
        tag=tag,
        look=look,
    )


def _tag(said: str, is_mixed: bool) -> tuple[str, str]:
    if is_mixed and said != "none":
        return "mixed up with something else", "warn"
    return TAGS[said]


def _sentence(effect: Effect, argument: Argument, said: str, instead: Sequence[str], showing: Showing) -> str:
    low, high = effect.band()
    unit = _unit(effect, showing)
    if said == "none":
        bound = _number(max(-low, high), effect, showing, up=True)
        hidden = f", unless {' or '.join(instead)} hides one" if instead else ""
        return f"No difference seen, and none bigger than {bound} {unit}{hidden}."
    if said == "open":
        return (
            f"Not told yet. Against {argument.ways[0]}, {argument.ways[1]} may make the "
            f"{WHAT[effect.outcome]} anything from {_signed(low, effect, showing)} to "
            f"{_signed(high, effect, showing)}."
            + (f" Nor could this log tell it from {' or '.join(instead)}." if instead else "")
        )
    ends = sorted((abs(low), abs(high)))
    between = " to ".join(_number(end, effect, showing) for end in ends)
    opening = "There is likely a difference" if said == "likely" else "There may be a difference"
    words = (
        f"{opening}: with {argument.ways[1]} the {WHAT[effect.outcome]} is "
        f"{_signed(effect.middle, effect, showing)} ({between}) than with {argument.ways[0]}."
    )
    if instead:
        words += f" But this log cannot tell it from {' or '.join(instead)}."
    return words


def _counted(effect: Effect, showing: Showing) -> str:
    """Say how much of it a plan has already."""
    if round(abs(effect.counted), 2) == 0.0:
        return ""
    return (
        f"The books have {_signed(effect.counted, effect, showing)} for it, and a plan counts that already."
    )


def _taught_by(effect: Effect) -> str:
    one, other = (
        f"{plural(coupons, 'coupon')} of {plural(fires, 'fire')}"
        for coupons, fires in zip(effect.coupons, effect.fires, strict=True)
    )
    shared = f"; {plural(effect.shared_fires, 'fire')} had both" if effect.shared_fires else ""
    return f"{one} against {other}{shared}"


def _unit(effect: Effect, showing: Showing) -> str:
    return showing.length_unit if effect.outcome == "depth" else "HRC"


def _number(value: float, effect: Effect, showing: Showing, up: bool = False) -> str:
    """Return a size without its sign in the shop's unit, rounded up where it is a bound."""
    digits = 1 if effect.outcome == "hardness" else 3 if showing.length_unit == "in" else 2
    shown = abs(value) if effect.outcome == "hardness" else _length(abs(value), showing)
    if up:
        shown = ceil(shown * 10**digits - 1e-9) / 10**digits
    return f"{shown:.{digits}f}"


def _length(value_mm: float, showing: Showing) -> float:
    return float(from_si(value_mm / 1000.0, showing.length_unit, "length"))


def _signed(value: float, effect: Effect, showing: Showing) -> str:
    """Return a difference as 0.12 mm deeper, one that rounds to nothing as no difference."""
    if float(_number(value, effect, showing)) == 0.0:
        return "no difference"
    return f"{_number(value, effect, showing)} {_unit(effect, showing)} {MORE[effect.outcome][value > 0]}"


def _draw(effect: Effect, argument: Argument, showing: Showing) -> Drawing:
    low, high = effect.band()
    reach = 1.1 * max(-low, high, LEAST_SHOWN[effect.outcome])

    def at(value: float) -> str:
        return f"{0.5 * WIDTH + (0.5 * WIDTH - EDGE) * value / reach:.1f}"

    less, more = MORE[effect.outcome]
    ends = f"{_signed(low, effect, showing)} to {_signed(high, effect, showing)}"
    return Drawing(
        low=at(low),
        middle=at(effect.middle),
        high=at(high),
        nothing=at(0.0),
        lower_words=f"{less} with {argument.ways[1]}",
        higher_words=more,
        says=f"{LABELS[effect.outcome]}, {argument.ways[1]} against {argument.ways[0]}: {ends}.",
    )


def trial_words(
    argument: Argument,
    outcome: Outcome,
    effect: Effect | None,
    scatter: Scatter | None,
    is_mixed: bool,
    showing: Showing,
) -> str:
    """Say how often the fair trial must be run; what is mixed up with something else counts for nothing."""
    if scatter is None:
        return "How often it takes is told once a few coupons are in the book."
    wanted = LEAST_DIFFERENCE[outcome]
    sd = effect.sd if effect is not None and not is_mixed else argument_priors()["effect", outcome]
    count = trials_needed(scatter, argument.trial, wanted, sd)
    size = f"{wanted:g} HRC"
    if outcome == "depth":
        size = f"{_length(wanted, showing):.1g} {showing.length_unit}"
    if count == 0:
        return f"The log knows it to better than give or take {size} already."
    often = "once" if count == 1 else f"{count} times"
    if count > MOST_TRIALS:
        often = f"more than {MOST_TRIALS} times"
    both = "two coupons each way" if argument.trial == "one_box" else "two coupons in each box"
    return (
        f"Done {often}, with {both}, it is known to give or take {size}: reckoned from how your own readings "
        "scatter."
    )
