"""Wants that conflict, in the words of the shop: what does not go together, what gives way, what is near."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from webapp.forms.numbers import amount
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_more_figures import MetFigures, NearFigures, WantsFigures
from webapp.services.plan_taken import take_of
from webapp.services.plan_tenths import in_ten
from webapp.services.plan_wants import changed
from webapp.services.showing import Showing, say_duration
from webapp.services.words import range_text

SNAPS_FROM = 0.3  # where fewer snap no word is lost on a thicker bar
GIVES_WAY = {
    "depth": "The depth gives way",
    "hardness": "The hardness gives way",
    "blow": "The blow gives way",
}
IN_SHORT = {"depth": "depth", "hardness": "hardness", "blow": "blow"}


@dataclass(frozen=True)
class NearView:
    """One plan near what is wanted: what gives way, what it changes, what it gives, and what a tap takes."""

    title: str
    change: str
    gives: str
    take: str


@dataclass(frozen=True)
class WantsView:
    """Whether what is wanted goes together; `look` is done, warn or bad."""

    headline: str
    look: str
    now: str
    gives_way: str
    nearest: tuple[NearView, ...]
    doubt: str


def view_wants(figures: PlanFigures, showing: Showing) -> WantsView | None:
    """Return whether what is wanted goes together, in words; None where nothing is to be said."""
    wants = figures.more.wants
    if wants is None:
        return None
    return WantsView(
        headline=_headline(wants, figures, showing),
        look="done" if not wants.missed else "warn" if wants.they_fit else "bad",
        now=f"This plan: {_gives(wants.now, wants, showing)}.",
        gives_way=_gives_way(wants),
        nearest=tuple(_near(one, wants, figures, showing) for one in wants.nearest),
        doubt=_doubt(wants),
    )


def _headline(wants: WantsFigures, figures: PlanFigures, showing: Showing) -> str:
    asked = _asked(wants, figures, showing)
    if not wants.missed:
        return f"{asked} go together, and this plan meets them."
    if wants.they_fit:
        return f"{asked} go together, but not in this plan."
    snaps = f": {_snaps(wants.now)}" if "blow" in wants.missed else ""
    return f"{asked} do not go together here{snaps}."


def _asked(wants: WantsFigures, figures: PlanFigures, showing: Showing) -> str:
    """Return what is wanted, as in 60 HRC and 0.8 to 1 mm on 6 mm that must take a blow."""
    case = range_text(showing, figures.wanted_low_m, figures.wanted_high_m)
    hard = f"{figures.wanted_HRC:.0f} HRC and " if figures.wanted_HRC is not None else ""
    if "blow" not in wants.asked:
        return f"{hard}{case} of case"
    return f"{hard}{case} of case on {showing.size(figures.thickness_m)} that must take a blow"


def _gives(met: MetFigures, wants: WantsFigures, showing: Showing) -> str:
    """Return what a choice gives on all that is wanted."""
    inside = in_ten(round(10.0 * met.depth))
    said = [f"{_depth(met.depth_m, showing)} of case ({inside} as wanted)"]
    if "hardness" in wants.asked:
        said.append(f"about {met.skin_HRC:.0f} HRC ({in_ten(round(10.0 * met.hardness))} hard enough)")
    if "blow" in wants.asked:
        said.append(_snaps(met))
    return ", ".join(said)


def _depth(depth_m: float, showing: Showing) -> str:
    return f"{amount(round(depth_m, 5), showing.length_unit, 'length')} {showing.length_unit}"


def _snaps(met: MetFigures) -> str:
    tenths = round(10.0 * (1.0 - met.blow))
    if tenths >= 10:
        return "almost all snap"
    return f"{tenths} in 10 snap" if tenths else "hardly any snap"


def _gives_way(wants: WantsFigures) -> str:
    """Return which want this plan does not meet."""
    if not wants.missed:
        return ""
    missed = [IN_SHORT[want] for want in wants.missed]
    words = f"{' and '.join(missed)} give way" if len(missed) > 1 else f"{missed[0]} gives way"
    return f"In this plan the {words}."


def _near(near: NearFigures, wants: WantsFigures, figures: PlanFigures, showing: Showing) -> NearView:
    now = {
        "soak_s": figures.soak_s,
        "temper_K": figures.temper_K,
        "reheat_K": figures.reheat_K,
        "bath_id": near.bath_id if near.bath == figures.names["bath"] else None,
    }
    values: dict[str, Any] = {name: getattr(near, name) for name in now}
    names = changed(now, values)
    said = [_change(name, near, figures, showing) for name in names]
    change = ", ".join(said) or "nothing to change"
    return NearView(
        title=GIVES_WAY.get(near.gives_way, "Nothing gives way"),
        change=change[0].upper() + change[1:],
        gives=_gives(near.met, wants, showing),
        take=take_of({name: values[name] for name in names}),
    )


def _change(name: str, near: NearFigures, figures: PlanFigures, showing: Showing) -> str:
    """Return one thing to change."""
    if name == "soak_s":
        way = "less" if near.soak_s < figures.soak_s else "more"
        return f"soak {say_duration(near.soak_s)}, {way} than the {say_duration(figures.soak_s)} of this plan"
    if name == "temper_K":
        return f"temper at {showing.temperature(near.temper_K)}"
    if name == "bath_id":
        return f"quench in {near.bath}"
    if near.reheat_K is None:
        return "quench straight from the box"
    return f"reheat to {showing.temperature(near.reheat_K)} before the quench"


def _doubt(wants: WantsFigures) -> str:
    if "blow" not in wants.asked:
        return ""
    more = ""
    least, at_depth = (round(10.0 * odds) for odds in (wants.fewest_snap, wants.fewest_snap_at_depth))
    if wants.missed and wants.fewest_snap >= SNAPS_FROM:
        more = (
            f"No plan tried lets fewer than {least} in 10 snap: a thicker section, or a soft spot where it "
            "bends, does more than any other heat. "
        )
    elif "blow" in wants.missed and wants.fewest_snap_at_depth >= SNAPS_FROM:
        more = (
            f"With the depth that is wanted a softer temper does not save it: {at_depth} in 10 or more snap. "
        )
    return f"{more}How steel breaks is known only roughly: bend a spare piece before you trust it."
