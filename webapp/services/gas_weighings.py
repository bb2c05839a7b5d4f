"""Bottles weighed before and after a fire: kept, corrected, removed, and what they teach of the burner."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session, col, select

from model.errors import ModelError
from model.gas_bottle import rate_from_weights
from model.gas_jet import BURN_BACK_Pa
from model.gas_learnt import GasBelief, GasRate, Setting, Weighed, learn_gas
from model.units import HOUR_s
from webapp.forms.numbers import amount
from webapp.forms.supplies import GasForm
from webapp.services.batch_rows import get_row, kept, last_of, newest, row_id, take_back
from webapp.services.sheets import Line, NotAccepted
from webapp.services.showing import Showing, plural, say_duration
from webapp.services.step_rules import StepRefused
from webapp.services.words import POUND_kg, heavy
from webapp.store.errors import NotFound
from webapp.store.tables import Batch, Fire, Forge, GasWeighing, PlanSupplies
from webapp.store.unit_of_work import UnitOfWork

PROPANE: Final = "propane"
LAST_FIRES: Final = 30
"""So many fires back count: a burner is cleaned, a jet replaced. Own choice."""
LOW_PRESSURE: Final = (
    "So low a pressure may burn back into the burner. If it roars or whistles inside: valve shut, "
    "air out, wait, and relight at a higher pressure."
)
NOT_WEIGHED: Final = (
    "Two weights and the hours between them tell what this forge burns at each setting of its burner. "
    "No fire was weighed yet."
)


@dataclass(frozen=True)
class GasPage:
    """What the page of a batch's weighing is about: the batch, what was weighed, what was learnt so far."""

    number: int
    row: GasWeighing | None
    lead: str
    cautions: tuple[str, ...]


def jet_of(session: Session, forge: Forge | None) -> float | None:
    """Return the hole of a forge's jet: as its sheet says, else as a plan told last; None for other gas."""
    if forge is None or forge.fuel != PROPANE:
        return None
    told = last_of(session, PlanSupplies, col(PlanSupplies.jet_m).is_not(None))
    return forge.jet_m or (told.jet_m if told else None)


def gas_belief(session: Session, forge: Forge | None, jet_m: float | None = None) -> GasBelief:
    """Return what is believed of a forge's burner; `jet_m` stands before the jet that the shop kept."""
    fires = select(Fire.id).where(Fire.forge_id == (forge.id if forge else None))
    rows = newest(session, GasWeighing, LAST_FIRES, col(GasWeighing.fire_id).in_(fires))
    found = [one for row in reversed(rows) if (one := weighed_of(row)) is not None]
    return learn_gas(found, jet_m or jet_of(session, forge))


def weighed_of(row: GasWeighing) -> Weighed | None:
    """Return a weighing as the model takes it; None while the fire is not over."""
    if row.after_kg is None or row.lit_s is None:
        return None
    first = (Setting(row.gauge_Pa, row.valve), row.lit_s)
    second = (Setting(row.second_gauge_Pa, row.second_valve), row.second_lit_s or 0.0)
    burnt = tuple(one for one in (first, second) if one[1] > 0.0)
    return Weighed(row.before_kg, row.after_kg, burnt)


def gas_page(session: Session, batch_id: int, showing: Showing) -> GasPage:
    """Return a batch, what was weighed in its fire so far, and what was learnt of its forge."""
    batch, row = _weighing(session, batch_id)
    fire = get_row(session, Fire, batch.fire_id)
    belief = gas_belief(session, session.get(Forge, fire.forge_id))
    lines = learnt_lines(belief, showing)
    said = " ".join(f"{line.label}: {line.text}." for line in lines)
    pressures = () if row is None else (row.gauge_Pa, row.second_gauge_Pa)
    return GasPage(batch.number, row, said or NOT_WEIGHED, low_pressure(pressures))


def gas_used(session: Session, fire_id: int, showing: Showing) -> tuple[tuple[str, str], ...]:
    """Return what a fire was weighed to burn, as a label and words; nothing where it was not."""
    rows = kept(session, GasWeighing, GasWeighing.fire_id == fire_id)
    found = weighed_of(rows[-1]) if rows else None
    if found is None:
        return ()
    lit = say_duration(sum(seconds for _, seconds in found.burnt))
    burnt = heavy(found.before_kg - found.after_kg, showing)
    return (("Gas", f"{burnt} in {lit}, by the bottle's weight"),)


def learnt_lines(belief: GasBelief, showing: Showing) -> tuple[Line, ...]:
    """Return what each setting was found to burn."""
    return tuple(
        Line(say_setting(setting, showing).capitalize(), rate_words(belief.rate(setting), showing))
        for setting in belief.settings
    )


def rate_words(rate: GasRate, showing: Showing) -> str:
    """Return a rate with its give or take and what it rests on."""
    half = 0.5 * (rate.high_kg_per_s - rate.low_kg_per_s)
    by = f"by {plural(rate.fires, 'weighed fire')}" if rate.fires else "not weighed at this setting yet"
    return f"{hourly(rate.kg_per_s, showing)}, give or take {hourly(half, showing)}, {by}"


def say_setting(setting: Setting, showing: Showing) -> str:
    """Return a setting of the burner in words."""
    said = []
    if setting.gauge_Pa is not None:
        unit = "psi" if showing.length_unit == "in" else "bar"
        said.append(f"{amount(setting.gauge_Pa, unit, 'pressure')} {unit}")
    if setting.valve:
        said.append(f"valve at {setting.valve}")
    return f"at {', '.join(said)}" if said else "as usually set"


def hourly(rate_kg_per_s: float, showing: Showing) -> str:
    """Return a rate as kilograms or pounds an hour."""
    return f"{heavy(rate_kg_per_s * HOUR_s, showing, 2)} an hour"


def hourly_either_way(rate_kg_per_s: float) -> str:
    """Return a rate as kilograms and as pounds an hour, for a refusal."""
    rate_kg_per_h = rate_kg_per_s * HOUR_s
    return f"{rate_kg_per_h:.2f} kg ({rate_kg_per_h / POUND_kg:.2f} lb) an hour"


def low_pressure(pressures_Pa: Iterable[float | None]) -> tuple[str, ...]:
    """Return the caution of a pressure so low that the flame may burn back."""
    is_low = any(one is not None and one < BURN_BACK_Pa for one in pressures_Pa)
    return (LOW_PRESSURE,) if is_low else ()


def keep_weighing(
    work: UnitOfWork, batch_id: int, form: GasForm, typed: dict[str, str], version: int | None
) -> str:
    """Keep the bottle's weights of a batch's fire, new or corrected; return the page they are shown on."""
    batch, row = _weighing(work.session, batch_id)
    if form.after_kg is not None and form.lit_s is not None:
        _check_rate(form.before_kg, form.after_kg, form.lit_s + (form.second_lit_s or 0.0))
    fields = {**form.model_dump(), "typed": typed}
    if row is None:
        work.add(GasWeighing(fire_id=batch.fire_id, **fields))
    else:
        work.change(row, version=version, **fields)
    is_low = low_pressure((form.gauge_Pa, form.second_gauge_Pa))
    # a caution is read where it was earned
    location = f"/batches/{row_id(batch)}" + ("/gas" if is_low else "")
    work.answered_at(location)
    return location


def remove_weighing(work: UnitOfWork, batch_id: int, version: int | None) -> GasWeighing:
    """Put a fire's weights in the bin; what they taught goes with them."""
    _, row = _weighing(work.session, batch_id)
    if row is None:
        raise StepRefused("", "No bottle was weighed at this fire, or it was removed already.")
    return work.remove(row, version=version)


def put_back_weighing(work: UnitOfWork, batch_id: int, weighing_id: int) -> None:
    """Take a fire's weights out of the bin, unless it was weighed anew meanwhile."""
    batch, row = _weighing(work.session, batch_id)
    found = work.session.get(GasWeighing, weighing_id)
    if found is None or found.fire_id != batch.fire_id:
        raise NotFound("gasweighing", weighing_id)
    if row is not None and row.id != weighing_id:
        raise StepRefused("", "This fire was weighed anew meanwhile. Remove that first.")
    take_back(work, GasWeighing, weighing_id)


def _weighing(session: Session, batch_id: int) -> tuple[Batch, GasWeighing | None]:
    """Return a batch and what was weighed at its fire; two boxes in one fire share it."""
    batch = get_row(session, Batch, batch_id)
    rows = kept(session, GasWeighing, GasWeighing.fire_id == batch.fire_id)
    return batch, rows[-1] if rows else None


def _check_rate(before_kg: float, after_kg: float, lit_s: float) -> None:
    try:
        rate_from_weights(before_kg, after_kg, lit_s)
    except ModelError as problem:
        rate = hourly_either_way((before_kg - after_kg) / lit_s)
        raise NotAccepted({"after_kg": f"That would be {rate}. {getattr(problem, 'advice', '')}"}) from None
