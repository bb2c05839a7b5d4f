"""Steel that needs no case: hardened from one heat and tempered, worked out with the same chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from sqlmodel import Session

from model import MODEL_VERSION
from model.conversion import rockwell_c_continued
from model.errors import ModelError
from model.forecast import forecast
from model.planner import Goal
from model.process import History, Process, Reheat, Temper
from model.process import Step as ProcessStep
from model.reheat_advice import hardening_heat
from model.steels import Steel
from model.wants import TOLERANCE_HRC
from model.warnings_of_forecast import HARDENS_BY_ITSELF_WT
from webapp.forms.parts import section_thickness
from webapp.forms.plans import NoCaseForm, PlanForm
from webapp.services.batch_rows import get_row, kept, row_id
from webapp.services.fitting import CurrentBelief
from webapp.services.plan_face import face_of
from webapp.services.plan_figures import HardeningFigures, Spread, Warned
from webapp.services.plan_hardening import compared_baths, structures_of
from webapp.services.plan_rows import (
    USUAL_REHEAT_S,
    USUAL_TEMPER_S,
    PlanRows,
    baths_to_compare,
    first_values,
    goal_of,
    names_of,
    quench_of,
    refusal_of,
    rows_for,
)
from webapp.services.plan_spreads import in_rockwell
from webapp.services.plan_strength import blow_figures
from webapp.services.plan_sums import DRAWS, KEPT_ANSWERS, Believed, Foretold
from webapp.services.plan_temper import temper_figures
from webapp.services.processes import keys_of, section_of_piece, smallest_inner_m, steel_of_bar
from webapp.services.showing import Showing, say_duration
from webapp.store.errors import NotFound
from webapp.store.tables import Bar, Bath, Part, Plan

NO_CASE: Final = "no_case"  # how a stored plan says that it is one of these
SPREADS: Final = ("skin_HV", "skin_HRC", "reading_HRC", "core_HV", "core_HRC")


@dataclass(frozen=True)
class NoCaseFigures:
    """Everything that a plan without a case says, in SI; hardness is None where it is not modelled.

    heat_low_K, heat_high_K : the range of the books; hard_enough : odds of the wanted hardness, if any
    """

    model_version: str
    coupons: int
    names: Mapping[str, str]
    carbon_low_wt: float
    carbon_high_wt: float
    temperature_K: float
    hold_s: float
    heat_low_K: float
    heat_high_K: float
    temper_K: float | None
    temper_s: float | None
    medium: str
    shape: str
    thickness_m: float
    grind_m: float
    wanted_HRC: float | None
    hard_enough: float | None
    skin_HV: Spread | None
    skin_HRC: Spread | None
    reading_HRC: Spread | None
    core_HV: Spread | None
    core_HRC: Spread | None
    warnings: tuple[Warned, ...]
    assumptions: tuple[str, ...]
    hardening: HardeningFigures
    heat_source: str = ""
    kind: str = NO_CASE
    soak_s: float = 0.0

    def to_dict(self) -> dict[str, Any]:
        """Return plain lists and numbers, for storage."""
        return asdict(self)

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> NoCaseFigures:
        """Return the figures that `to_dict` stored."""
        plain = dict(stored)
        for name in SPREADS:
            plain[name] = None if plain[name] is None else Spread(**plain[name])
        plain["warnings"] = tuple(Warned(**one) for one in plain["warnings"])
        plain["assumptions"] = tuple(plain["assumptions"])
        plain["hardening"] = HardeningFigures.from_dict(plain["hardening"])
        return cls(**plain)


def is_no_case(stored: Mapping[str, Any]) -> bool:
    """Return whether a stored plan is one without a case."""
    return stored.get("kind") == NO_CASE


def needs_no_case(steel: Steel) -> bool:
    """Return whether a steel hardens right through without a case."""
    return steel.composition.C > HARDENS_BY_ITSELF_WT


def soak_in_words(plan: Plan, showing: Showing) -> str:
    """Return what a plan does with heat, for a list: its soak, or its one heat."""
    if is_no_case(plan.result):
        return f"no case: quench from {showing.temperature(plan.temperature_K)}"
    return f"{say_duration(plan.soak_s)} at {showing.temperature(plan.temperature_K)}"


def form_for(session: Session, part_id: int) -> type[PlanForm]:
    """Return what a plan for a part asks: without a soak where its steel needs no case."""
    part = session.get(Part, part_id)
    bar = session.get(Bar, part.bar_id) if part is not None else None
    return NoCaseForm if bar is not None and needs_no_case(steel_of_bar(bar)) else PlanForm


def first_no_case_values(session: Session, part_id: int) -> dict[str, Any]:
    """Return what a new plan without a case offers: the middle of the books' heat, oil if there is any."""
    bar = session.get(Bar, get_row(session, Part, part_id).bar_id)
    if bar is None:
        raise NotFound("bar", part_id)
    oils = kept(session, Bath, Bath.medium == "oil")
    values = first_values(session, part_id)
    return {
        **values,
        "temperature_K": hardening_heat(steel_of_bar(bar)).temperature_K,
        "bath_id": row_id(oils[0]) if oils else values["bath_id"],
        "reheat_K": None,
        "reheat_s": USUAL_REHEAT_S,
        "soak_s": None,
        "clock_from": "at_heat",
    }


def no_case_figures(session: Session, form: NoCaseForm, known: CurrentBelief) -> NoCaseFigures:
    """Return the full answer of a plan without a case; raises `NotAccepted` for what cannot be."""
    rows, believed = rows_for(session, form), Believed.of(known.belief)
    part, seconds = rows.part, form.temper_s or USUAL_TEMPER_S
    try:
        found = _foretold(goal_of(part), _process(rows, form), believed)
        hardening = HardeningFigures(
            baths=compared_baths(found, believed, baths_to_compare(session, rows)),
            temper=temper_figures(found, believed, rows.oven, part.wanted_hardness_HRC, seconds),
            blow=blow_figures(found, part.duties, part.length_m),
            skin=structures_of(found).skin,
            core=structures_of(found).core,
        )
    except ModelError as problem:
        raise refusal_of(problem) from None
    return _figures(rows, form, found, known.coupons, hardening)


def _process(rows: PlanRows, form: NoCaseForm) -> Process:
    heat = Reheat(History.hold(form.temperature_K, form.reheat_s or USUAL_REHEAT_S))
    steps: list[ProcessStep] = [heat, quench_of(rows.bath, rows.part)]
    if form.temper_K is not None:
        steps.append(Temper(form.temper_K, form.temper_s or USUAL_TEMPER_S))
    part, oven_id = rows.part, rows.oven.id if rows.oven else None
    return Process(
        steel=steel_of_bar(rows.bar),
        section=section_of_piece(part),
        steps=tuple(steps),
        keys=keys_of(
            rows.bar, rows.box, rows.mix, rows.heat, "planned", rows.bath.id, oven_id, rows.loosened
        ),
        box_inner_m=smallest_inner_m(rows.box),
    )


@lru_cache(maxsize=KEPT_ANSWERS)
def _foretold(goal: Goal, process: Process, believed: Believed) -> Foretold:
    middle = forecast(process, believed.belief.point(process))
    drawn = forecast(process, believed.belief.constants(process, DRAWS))
    return Foretold(goal, process, middle, drawn, face_of(goal, middle), face_of(goal, drawn))


def _figures(
    rows: PlanRows, form: NoCaseForm, found: Foretold, coupons: int, hardening: HardeningFigures
) -> NoCaseFigures:
    part, steel = rows.part, found.process.steel
    skin, reading, core = found.hardness
    heat = hardening_heat(steel)
    return NoCaseFigures(
        model_version=MODEL_VERSION,
        coupons=coupons,
        names=dict(names_of(rows)),
        carbon_low_wt=steel.carbon_low_wt,
        carbon_high_wt=steel.carbon_high_wt,
        temperature_K=form.temperature_K,
        hold_s=form.reheat_s or USUAL_REHEAT_S,
        heat_low_K=heat.low_K,
        heat_high_K=heat.high_K,
        temper_K=form.temper_K,
        temper_s=form.temper_s if form.temper_K is not None else None,
        medium=rows.bath.medium,
        shape=part.shape,
        thickness_m=section_thickness(part.size_m, part.bore_m),
        grind_m=part.grind_m,
        wanted_HRC=part.wanted_hardness_HRC,
        hard_enough=_hard_enough(found, part.wanted_hardness_HRC),
        skin_HV=skin,
        skin_HRC=in_rockwell(skin),
        reading_HRC=reading,
        core_HV=core,
        core_HRC=in_rockwell(core),
        warnings=tuple(Warned(one.code, one.words, one.heats_K) for one in found.drawn.warnings),
        assumptions=found.middle.assumptions,
        hardening=hardening,
        heat_source=heat.source,
    )


def _hard_enough(found: Foretold, wanted_HRC: float | None) -> float | None:
    """Return the odds that the finished skin is as hard as wanted; None where that is not asked or known."""
    face_HV = found.drawn_face.hardness_HV
    if wanted_HRC is None or face_HV is None:
        return None
    skin_HRC = np.asarray(rockwell_c_continued(face_HV[:, 0]))
    return float((skin_HRC >= wanted_HRC - TOLERANCE_HRC).mean())
