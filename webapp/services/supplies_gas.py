"""Gas of a run: what the burner takes at its setting, and how long the bottle lasts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from model.errors import ModelError
from model.gas_bottle import RATE_KG_PER_H, BottleLeft, bottle_left
from model.gas_jet import LOWER_HEAT_J_PER_KG, ROOM_K
from model.gas_learnt import GasBelief, GasRate, Setting
from model.units import HOUR_s
from webapp.forms.supplies import SuppliesForm
from webapp.services.batch_rows import kept, last_of
from webapp.services.gas_weighings import (
    gas_belief,
    hourly,
    hourly_either_way,
    learnt_lines,
    low_pressure,
    rate_words,
    say_setting,
)
from webapp.services.sheets import Line, NotAccepted
from webapp.services.showing import Showing, say_duration
from webapp.services.words import heavy
from webapp.store.tables import Fire, Forge

KILOWATT_W: Final = 1e3
NOTHING_KNOWN: Final = (
    "Weigh the bottle before and after a fire, or give jet and pressure: the hours left stand here then."
)


@dataclass(frozen=True)
class Burning:
    """What a run burns: at which setting, its rate (None: nothing is known), how long [s], and the bottle.

    bottle : at the middle rate; at_worst : at the upper end of the rate
    """

    setting: Setting
    rate: GasRate | None
    needed_s: float
    bottle: BottleLeft | None
    at_worst: BottleLeft | None
    belief: GasBelief

    @property
    def gas_kg(self) -> float | None:
        """Return the gas of the whole run, the middle [kg]."""
        return None if self.rate is None else self.rate.kg_per_s * self.needed_s


@dataclass(frozen=True)
class GasView:
    """What is said of the gas."""

    lines: tuple[Line, ...]
    warnings: tuple[str, ...]
    note: str


def usual_forge(session: Session) -> Forge | None:
    """Return the forge that burned last, else the first one of the shop."""
    last, forges = last_of(session, Fire), kept(session, Forge)
    used = [forge for forge in forges if last is not None and forge.id == last.forge_id]
    return next(iter([*used, *forges]), None)


def burn(session: Session, form: SuppliesForm, usual_s: float) -> Burning:
    """Return what a run burns: by weighed bottles and the jet together, nothing where neither was told."""
    needed_s = form.fire_s or usual_s
    belief = gas_belief(session, usual_forge(session), form.jet_m)
    told = Setting(form.gauge_Pa, form.valve)
    setting = usual_setting(belief) if told == Setting() else told
    is_known = bool(belief.settings) or (belief.jet_m is not None and form.gauge_Pa is not None)
    if not is_known:
        return Burning(setting, None, needed_s, None, None, belief)
    rate = belief.rate(setting)
    worst_kg_per_s = min(rate.high_kg_per_s, max(rate.kg_per_s, RATE_KG_PER_H.high / HOUR_s))
    bottle, at_worst = (_bottle(form, each, needed_s) for each in (rate.kg_per_s, worst_kg_per_s))
    return Burning(setting, rate, needed_s, bottle, at_worst, belief)


def usual_setting(belief: GasBelief) -> Setting:
    """Return the setting that was weighed most often; nothing told where none was."""
    return belief.settings[belief.fires.index(max(belief.fires))] if belief.settings else Setting()


def usual_rate(session: Session) -> GasRate | None:
    """Return what the shop's forge burns as it is usually set; None while no fire was weighed."""
    belief = gas_belief(session, usual_forge(session))
    return belief.rate(usual_setting(belief)) if belief.settings else None


def _bottle(form: SuppliesForm, rate: float, needed_s: float) -> BottleLeft | None:
    if form.left_kg is None or form.full_kg is None:
        return None
    try:
        return bottle_left(form.left_kg, form.full_kg, rate, form.day_K or ROOM_K, needed_s)
    except ModelError as problem:
        blamed = "gauge_Pa" if getattr(problem, "path", "") == "rate_kg_per_s" else "left_kg"
        raise NotAccepted(
            {blamed: f"{hourly_either_way(rate)} cannot be. {getattr(problem, 'advice', '')}"}
        ) from None


def view_gas(burning: Burning, showing: Showing) -> GasView:
    """Return what is said of the gas."""
    rate = burning.rate
    if rate is None:
        return GasView((Line("Burner lit", say_duration(burning.needed_s)),), (), NOTHING_KNOWN)
    middle, low, high = (
        heavy(each * burning.needed_s, showing)
        for each in (rate.kg_per_s, rate.low_kg_per_s, rate.high_kg_per_s)
    )
    power_kW = rate.kg_per_s * LOWER_HEAT_J_PER_KG / KILOWATT_W
    lines = [
        Line("Burner", f"{say_setting(burning.setting, showing)}, about {power_kW:.0f} kW"),
        Line("Gas", f"{rate_words(rate, showing)}{_by_the_jet(burning)}"),
        Line("This run", f"{middle} in {say_duration(burning.needed_s)}; {low} to {high}"),
        *_bottle_lines(burning, showing),
    ]
    others = [line for line in learnt_lines(burning.belief, showing) if _is_other(line, burning, showing)]
    note = "" if burning.bottle else "Give what is in the bottle, and the hours left in it are said here."
    return GasView((*lines, *others), _gas_warnings(burning), note)


def _by_the_jet(burning: Burning) -> str:
    if burning.belief.jet_m is None or burning.setting.gauge_Pa is None:
        return ""
    return " and its jet" if burning.rate is not None and burning.rate.fires else ": by its jet"


def _is_other(line: Line, burning: Burning, showing: Showing) -> bool:
    return line.label != say_setting(burning.setting, showing).capitalize()


def _bottle_lines(burning: Burning, showing: Showing) -> tuple[Line, ...]:
    bottle, worst = burning.bottle, burning.at_worst
    if bottle is None or worst is None:
        return ()
    low, high = (hourly(each, showing) for each in (bottle.low_kg_per_s, bottle.high_kg_per_s))
    wanted = say_duration(burning.needed_s)
    return (
        Line(
            "The bottle lasts",
            f"{say_duration(bottle.seconds)}, {say_duration(worst.seconds)} at worst; wanted {wanted}",
        ),
        Line("It can boil off", f"{low} to {high} on such a day, half way through"),
    )


def _gas_warnings(burning: Burning) -> tuple[str, ...]:
    found, bottle, worst = [], burning.bottle, burning.at_worst
    if bottle is not None and bottle.seconds < burning.needed_s:
        found.append(
            "The bottle runs empty in mid-soak. Fill it, or connect a second one before you light up."
        )
    elif bottle is not None and worst is not None and worst.need_second and not bottle.freezes:
        found.append(
            "Have a second bottle connected: this one barely lasts, or may not keep up with the burner."
        )
    if bottle is not None and bottle.freezes:
        found.append(
            "The bottle freezes up: the burner takes more than it can boil off. Connect two side by side, "
            "take a larger one, or stand it where it is warmer. Never heat a bottle with a flame."
        )
    return (*found, *low_pressure((burning.setting.gauge_Pa,)))
