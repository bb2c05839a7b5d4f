"""Gas: what this forge was weighed to burn, what a jet passes, and how long the bottle lasts."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import mean, stdev
from typing import Final

from sqlmodel import Session, col, select

from model.errors import ModelError
from model.gas_bottle import BottleLeft, bottle_left, rate_from_weights
from model.gas_jet import ROOM_K, jet_flow
from model.units import HOUR_s
from webapp.forms.supplies import GasForm, SuppliesForm
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.sheets import Line, NotAccepted
from webapp.services.showing import Showing, plural, say_duration
from webapp.store.tables import Batch, Fire, Forge, GasWeighing
from webapp.store.unit_of_work import UnitOfWork

LAST_FIRES: Final = 5
KILOWATT_W: Final = 1e3
NOTHING_KNOWN: Final = (
    "Weigh the bottle before and after a fire, or give jet and pressure: the hours left stand here then."
)


@dataclass(frozen=True)
class LearntRate:
    """Gas that a forge burns [kg/s]: mean and spread of its last weighed fires; one fire has no spread."""

    rate_kg_per_s: float
    spread_kg_per_s: float | None
    fires: int


@dataclass(frozen=True)
class Burning:
    """What a run burns: the rate [kg/s] and its source, how long [s], and how the bottle stands to it."""

    rate_kg_per_s: float | None
    source: str
    needed_s: float
    bottle: BottleLeft | None
    may_burn_back: bool

    @property
    def gas_kg(self) -> float | None:
        """Return the gas of the whole run [kg]."""
        return None if self.rate_kg_per_s is None else self.rate_kg_per_s * self.needed_s


@dataclass(frozen=True)
class GasView:
    """What is said of the gas."""

    lines: tuple[Line, ...]
    warnings: tuple[str, ...]
    note: str


def usual_forge(session: Session) -> Forge | None:
    """Return the forge that burned last, else the first one of the shop."""
    fires, forges = kept(session, Fire), kept(session, Forge)
    used = [forge for forge in forges if fires and forge.id == fires[-1].forge_id]
    return next(iter([*used, *forges]), None)


def learnt_rate(session: Session, forge_id: int | None) -> LearntRate | None:
    """Return what a forge was weighed to burn over its last fires; None while none was weighed."""
    fires = select(Fire.id).where(Fire.forge_id == forge_id)
    weighed = kept(session, GasWeighing, col(GasWeighing.fire_id).in_(fires))
    rates = [
        rate_from_weights(one.before_kg, one.after_kg, one.lit_s)
        for one in weighed
        if one.after_kg is not None and one.lit_s is not None
    ][-LAST_FIRES:]
    if not rates:
        return None
    return LearntRate(mean(rates), stdev(rates) if len(rates) > 1 else None, len(rates))


def burn(form: SuppliesForm, learnt: LearntRate | None, usual_s: float) -> Burning:
    """Return what a run burns, by weighed bottles if there are any, else by the jet."""
    needed_s = form.fire_s or usual_s
    day_K = form.day_K or ROOM_K
    rate, source, low = None, "", False
    if form.jet_m is not None and form.gauge_Pa is not None:
        flow = jet_flow(form.jet_m, form.gauge_Pa, day_K)
        rate, low = flow.kg_per_s, flow.may_burn_back
        source = f"by the jet: {flow.power_W / KILOWATT_W:.0f} kW; a drilled hole may be off by a tenth"
    if learnt is not None:
        rate, source = learnt.rate_kg_per_s, _learnt_words(learnt)
    return Burning(rate, source, needed_s, _bottle(form, rate, day_K, needed_s), low)


def _bottle(form: SuppliesForm, rate: float | None, day_K: float, needed_s: float) -> BottleLeft | None:
    if rate is None or form.left_kg is None or form.full_kg is None:
        return None
    try:
        return bottle_left(form.left_kg, form.full_kg, rate, day_K, needed_s)
    except ModelError as problem:
        blamed = "gauge_Pa" if getattr(problem, "path", "") == "rate_kg_per_s" else "left_kg"
        raise NotAccepted({blamed: f"{hourly(rate)} cannot be. {getattr(problem, 'advice', '')}"}) from None


def view_gas(burning: Burning) -> GasView:
    """Return what is said of the gas."""
    if burning.rate_kg_per_s is None:
        return GasView((Line("Burner lit", say_duration(burning.needed_s)),), (), NOTHING_KNOWN)
    gas_kg = burning.rate_kg_per_s * burning.needed_s
    lines = [
        Line("Gas", f"{hourly(burning.rate_kg_per_s)}, {burning.source}"),
        Line("This run", f"{gas_kg:.1f} kg in {say_duration(burning.needed_s)}"),
    ]
    bottle = burning.bottle
    if bottle is not None:
        low, high = hourly(bottle.low_kg_per_s), hourly(bottle.high_kg_per_s)
        lines.append(
            Line(
                "The bottle lasts", f"{say_duration(bottle.seconds)}; wanted {say_duration(burning.needed_s)}"
            )
        )
        lines.append(Line("It can boil off", f"{low} to {high} on such a day, half way through"))
    note = "" if bottle else "Give what is in the bottle, and the hours left in it are said here."
    return GasView(tuple(lines), _gas_warnings(burning), note)


def _gas_warnings(burning: Burning) -> tuple[str, ...]:
    found, bottle = [], burning.bottle
    if bottle is not None and bottle.seconds < burning.needed_s:
        found.append(
            "The bottle runs empty in mid-soak. Fill it, or connect a second one before you light up."
        )
    elif bottle is not None and bottle.need_second and not bottle.freezes:
        found.append(
            "Have a second bottle connected: this one barely lasts, or may not keep up with the burner."
        )
    if bottle is not None and bottle.freezes:
        found.append(
            "The bottle freezes up: the burner takes more than it can boil off. Connect two side by side, "
            "take a larger one, or stand it where it is warmer. Never heat a bottle with a flame."
        )
    if burning.may_burn_back:
        found.append(
            "So low a pressure may burn back into the burner. If it roars or whistles inside: valve shut, "
            "air out, wait, and relight at a higher pressure."
        )
    return tuple(found)


def hourly(rate_kg_per_s: float) -> str:
    """Return a rate as kilograms an hour."""
    return f"{rate_kg_per_s * HOUR_s:.2f} kg an hour"


def _learnt_words(learnt: LearntRate) -> str:
    fires = plural(learnt.fires, "fire")
    if learnt.spread_kg_per_s is None:
        return f"by the bottle's weight over {fires}"
    return (
        f"by the bottle's weight over the last {fires}, give or take {hourly(1.64 * learnt.spread_kg_per_s)}"
    )


def gas_of_fire(session: Session, batch_id: int) -> tuple[Batch, GasWeighing | None]:
    """Return a batch and what was weighed in its fire so far."""
    batch = get_row(session, Batch, batch_id)
    rows = kept(session, GasWeighing, GasWeighing.fire_id == batch.fire_id)
    return batch, rows[-1] if rows else None


def gas_lead(session: Session, batch: Batch, _showing: Showing) -> str:
    """Return what the page of weighing says first: what was learnt so far."""
    fire = get_row(session, Fire, batch.fire_id)
    learnt = learnt_rate(session, fire.forge_id)
    if learnt is None:
        return "Two weights and the hours between them tell what this forge burns. No fire was weighed yet."
    return f"This forge burns {hourly(learnt.rate_kg_per_s)}, {_learnt_words(learnt)}."


def keep_weighing(
    work: UnitOfWork, batch_id: int, form: GasForm, typed: dict[str, str], version: int | None
) -> str:
    """Keep the bottle's weights of a batch's fire; return the batch's page."""
    batch, row = gas_of_fire(work.session, batch_id)
    if form.after_kg is not None and form.lit_s is not None:
        _check_rate(form.before_kg, form.after_kg, form.lit_s)
    fields = {**form.model_dump(), "typed": typed}
    if row is None:
        work.add(GasWeighing(fire_id=batch.fire_id, **fields))
    else:
        work.change(row, version=version, **fields)
    location = f"/batches/{row_id(batch)}"
    work.answered_at(location)
    return location


def _check_rate(before_kg: float, after_kg: float, lit_s: float) -> None:
    try:
        rate_from_weights(before_kg, after_kg, lit_s)
    except ModelError as problem:
        rate = hourly((before_kg - after_kg) / lit_s)
        raise NotAccepted({"after_kg": f"That would be {rate}. {getattr(problem, 'advice', '')}"}) from None
