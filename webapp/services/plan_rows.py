"""What a plan is made of: the rows it points to, what is offered first, and the process it describes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi
from typing import Any

from sqlmodel import Session

from model.dated_changes import Loosened
from model.energizers import safety_stop
from model.errors import ModelError, NotPossible
from model.planner import Goal
from model.process import Carburize, History, Process, Quench, Reheat, Temper
from model.process import Step as ProcessStep
from model.units import celsius_to_kelvin
from webapp.forms.ask import Choice
from webapp.forms.plans import PlanForm
from webapp.services.batch_rows import get_row, kept, last_of, row_id
from webapp.services.box_room import why_part_not_in
from webapp.services.box_rows import packed, work_of_part
from webapp.services.choices import named
from webapp.services.dated_changes import changes_up_to_now
from webapp.services.plan_hardening import BathAsked, named_baths
from webapp.services.plan_temper import usual_oven
from webapp.services.processes import (
    LAG_SHARES,
    keys_of,
    quench_in,
    section_of_piece,
    slow_cool,
    smallest_inner_m,
    steel_of_bar,
    supply_of_mix,
)
from webapp.services.sheets import NotAccepted
from webapp.store.errors import NotFound
from webapp.store.tables import Bar, Bath, Box, Instrument, Mix, Part, Plan, Record
from webapp.store.unit_of_work import AnyRecord

# Offered first. SAE typical treatments of carbon steel (a reprint, seen): carburize at 1650-1700 F, 899 to
# 927 C, reheat to 1450 F, 788 C, temper at 250 to 400 F, 120 to 205 C. The hotter end keeps the day short.
USUAL_HEAT_K = celsius_to_kelvin(925.0)
USUAL_REHEAT_K = celsius_to_kelvin(790.0)
USUAL_REHEAT_S = 15 * 60.0
USUAL_TEMPER_K = celsius_to_kelvin(180.0)
USUAL_TEMPER_S = 3600.0
STEEL_KG_PER_m3 = 7850.0  # common practice, no source
GUESSED_SOAK_S = 4 * 3600.0  # only where the planner starts to look
CARRIED_OVER = (
    "temperature_K", "mix_id", "bath_id", "box_id", "heat_instrument_id",
    "reheat_K", "reheat_s", "temper_K", "temper_s",
)  # fmt: skip
FIELDS_OF_MODEL = {
    "temper": "temper_K", "quench": "reheat_K", "mix": "mix_id", "steel": "temperature_K",
}  # fmt: skip
NEEDED = (
    (Mix, (), "a pack mix", "/shop/mixes/new"),
    (Bath, (), "a quench bath", "/shop/baths/new"),
    (Box, (), "a box", "/shop/boxes/new"),
    (Instrument, (Instrument.role == "heat",), "a way to tell heat", "/shop/heats/new"),
)


@dataclass(frozen=True)
class PlanRows:
    """The rows a plan points to, and the oven that the shop would temper it in."""

    part: Part
    bar: Bar
    mix: Mix
    bath: Bath
    box: Box
    heat: Instrument
    oven: Instrument | None
    loosened: tuple[Loosened, ...] = ()


@dataclass(frozen=True)
class Missing:
    """Something the shop must have before it can plan, and where it is written down."""

    what: str
    href: str


def missing_for_plan(session: Session) -> tuple[Missing, ...]:
    """Return what the shop lacks before a plan can be made."""
    return tuple(Missing(what, href) for kind, where, what, href in NEEDED if not kept(session, kind, *where))


def rows_for(session: Session, form: PlanForm) -> PlanRows:
    """Return the rows that a form picked; raises `NotAccepted` for one that was removed meanwhile."""
    part = get_row(session, Part, form.part_id)
    bar = session.get(Bar, part.bar_id)
    if bar is None:
        raise NotFound("bar", part.bar_id)
    return PlanRows(
        part,
        bar,
        _picked(session, Mix, "mix_id", form.mix_id),
        _picked(session, Bath, "bath_id", form.bath_id),
        _picked(session, Box, "box_id", form.box_id),
        _picked(session, Instrument, "heat_instrument_id", form.heat_instrument_id),
        usual_oven(session),
        changes_up_to_now(session),
    )


def _picked(session: Session, kind: type[AnyRecord], field: str, record_id: int) -> AnyRecord:
    try:
        return get_row(session, kind, record_id)
    except NotFound:
        raise NotAccepted({field: "This one is no longer in the shop. Pick another."}) from None


def plan_choices(session: Session) -> dict[str, Sequence[Choice]]:
    """Return what a plan can pick from."""
    return {
        "mix_id": named(session, Mix),
        "bath_id": named(session, Bath),
        "box_id": named(session, Box),
        "heat_instrument_id": named(session, Instrument, Instrument.role == "heat"),
    }


def first_values(session: Session, part_id: int) -> dict[str, Any]:
    """Return what a new plan offers: what the shop planned last, else what is usual."""
    values: dict[str, Any] = {
        "part_id": part_id,
        "temperature_K": USUAL_HEAT_K,
        "reheat_K": USUAL_REHEAT_K,
        "reheat_s": USUAL_REHEAT_S,
        "temper_K": USUAL_TEMPER_K,
        "temper_s": USUAL_TEMPER_S,
        "mix_id": _lively_mix(session),
        "bath_id": _first(session, Bath),
        "box_id": _first(session, Box),
        "heat_instrument_id": _first(session, Instrument, Instrument.role == "heat"),
    }
    last = last_of(session, Plan, Plan.soak_s > 0.0)
    if last is not None:
        values |= {name: getattr(last, name) for name in CARRIED_OVER if _still_there(session, last, name)}
    return values


def _still_there(session: Session, plan: Plan, name: str) -> bool:
    kinds: dict[str, type[Record]] = {
        "mix_id": Mix, "bath_id": Bath, "box_id": Box, "heat_instrument_id": Instrument,
    }  # fmt: skip
    if name not in kinds:
        return True
    row = session.get(kinds[name], getattr(plan, name) or 0)
    return row is not None and row.deleted_at is None


def _first(session: Session, kind: type[Record], *conditions: object) -> int | None:
    rows = kept(session, kind, *conditions)
    return row_id(rows[0]) if rows else None


def _lively_mix(session: Session) -> int | None:
    """Return the first mix with carbonate in it, since plain charcoal is slow; else the first."""
    mixes = kept(session, Mix)
    lively = [mix for mix in mixes if mix.substance_percent > 0.0]
    return row_id((lively or mixes)[0]) if mixes else None


def values_of_plan(plan: Plan) -> dict[str, Any]:
    """Return a saved plan as its form takes it, the hours left to be worked out afresh."""
    values = {name: getattr(plan, name) for name in CARRIED_OVER}
    return {**values, "part_id": plan.part_id, "clock_from": plan.result.get("clock_from", "at_heat")}


def goal_of(part: Part) -> Goal:
    """Return the case a part wants, as the planner takes it."""
    definition: Any = part.depth_definition
    return Goal(definition, part.wanted_depth_low_m, part.wanted_depth_high_m, part.grind_m)


def process_of(rows: PlanRows, form: PlanForm) -> Process:
    """Return what a plan would do to its part; raises `NotAccepted` beside the field that is wrong."""
    refuse_poison(rows.mix)
    too_large = why_part_not_in(rows.box, rows.part)
    if too_large is not None:
        raise NotAccepted({"box_id": too_large})
    try:
        return _process(rows, form)
    except ModelError as problem:
        raise refusal_of(problem) from None


def _process(rows: PlanRows, form: PlanForm) -> Process:
    seconds = form.soak_s if form.soak_s is not None else GUESSED_SOAK_S
    supply = supply_of_mix(rows.mix)
    box = packed(rows.box, rows.mix, [work_of_part(rows.part)])
    soak = Carburize(History.hold(form.temperature_K, seconds), supply, LAG_SHARES.get(form.clock_from, 0.0))
    steps: list[ProcessStep] = [soak]
    if form.reheat_K is not None:
        reheat = Reheat(History.hold(form.reheat_K, form.reheat_s or USUAL_REHEAT_S))
        steps += [slow_cool(form.temperature_K, supply, box), reheat]
    steps.append(quench_of(rows.bath, rows.part))
    if form.temper_K is not None:
        steps.append(Temper(form.temper_K, form.temper_s or USUAL_TEMPER_S))
    part = rows.part
    return Process(
        steel=steel_of_bar(rows.bar),
        section=section_of_piece(part),
        steps=tuple(steps),
        keys=keys_of(
            rows.bar,
            rows.box,
            rows.mix,
            rows.heat,
            "planned",
            rows.bath.id,
            rows.oven.id if rows.oven else None,
            rows.loosened,
        ),
        box_inner_m=smallest_inner_m(rows.box),
        box=box,
    )


def quench_of(bath: Bath, part: Part) -> Quench:
    """Return the quench of one part in a bath of the shop."""
    return replace(quench_in(bath), work_kg=_weight_kg(part))


def _weight_kg(part: Part) -> float | None:
    """Return what a part weighs; None where its length or its width is not known."""
    if part.length_m is None or part.shape == "plate":
        return None
    area_m2 = 0.25 * pi * (part.size_m**2 - (part.bore_m or 0.0) ** 2)
    return area_m2 * part.length_m * STEEL_KG_PER_m3


def baths_to_compare(session: Session, rows: PlanRows) -> tuple[BathAsked, ...]:
    """Return the shop's baths and still air, the plan's own marked."""
    return named_baths(
        BathAsked(bath.name, quench_of(bath, rows.part), str(bath.id), bath.id == rows.bath.id, True)
        for bath in kept(session, Bath)
    )


def refuse_poison(mix: Mix) -> None:
    """Stop if a mix names a poison, however it came into the logbook: no forecast is made with it."""
    stop = poison_in(mix)
    if stop:
        raise NotAccepted({"mix_id": "No plan is made with this mix."}, stop=stop)


def poison_in(mix: Mix) -> str:
    """Return why a mix must not be used at all, empty if nothing in its names says so."""
    return next((stop for text in (mix.substance, mix.name, mix.note) if (stop := safety_stop(text))), "")


def refusal_of(problem: ModelError) -> NotAccepted:
    """Return a refusal of the model beside the field it is about."""
    path = getattr(problem, "path", "").split(".")[0].split("[")[0]
    words = f"{problem.what}. {problem.advice}" if isinstance(problem, NotPossible) else str(problem)
    return NotAccepted({FIELDS_OF_MODEL.get(path, ""): words[0].upper() + words[1:]})


def names_of(rows: PlanRows) -> Mapping[str, str]:
    """Return what a plan runs on by name, kept with the plan so that it reads the same later."""
    return {
        "part": rows.part.name,
        "bar": rows.bar.name,
        "mix": rows.mix.name,
        "bath": rows.bath.name,
        "box": rows.box.name,
        "heat": rows.heat.name,
    }
