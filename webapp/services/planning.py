"""Plans: worked out, kept with what was known then, planned again later."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlmodel import Session

from model.errors import ModelError
from webapp.forms.ask import Units
from webapp.forms.kit import FormState, form_of
from webapp.forms.plans import NoCaseForm, PlanForm
from webapp.services.batch_rows import get_row, kept, newest, row_id
from webapp.services.fitting import CurrentBelief, current_belief
from webapp.services.plan_build import settled_figures, sketched_figures
from webapp.services.plan_figures import HardeningFigures, PlanFigures
from webapp.services.plan_hardening import BathAsked, compared_baths, structures_of
from webapp.services.plan_more import more_figures
from webapp.services.plan_no_case import (
    NoCaseFigures,
    first_no_case_values,
    form_for,
    is_no_case,
    no_case_figures,
    soak_in_words,
)
from webapp.services.plan_no_case_view import NO_BATCH, NoCaseView, view_no_case, view_no_case_choices
from webapp.services.plan_rows import (
    USUAL_TEMPER_S,
    Missing,
    PlanRows,
    baths_to_compare,
    first_values,
    goal_of,
    missing_for_plan,
    plan_choices,
    process_of,
    refusal_of,
    rows_for,
    values_of_plan,
)
from webapp.services.plan_strength import blow_figures
from webapp.services.plan_sums import Believed, Settled, settle, sketch
from webapp.services.plan_temper import temper_figures
from webapp.services.plan_view import PlanView, view_choices, view_plan
from webapp.services.sheets import Line, Removal
from webapp.services.showing import Showing
from webapp.services.words import range_text
from webapp.store.tables import Part, Plan
from webapp.store.unit_of_work import UnitOfWork

MOST_RECENT = 12
REST: Final = ("baths", "choices")
"""What a full answer has beside its own plan: the other baths, and other choices where a want is missed."""


@dataclass(frozen=True)
class PartToPlan:
    """A part that can be planned."""

    name: str
    case: str
    href: str


@dataclass(frozen=True)
class PlanLine:
    """A saved plan as a line of the list."""

    part: str
    soak: str
    day: str
    href: str


@dataclass(frozen=True)
class PlansView:
    """The plan page: parts to plan, plans made, and what is missing before the first one."""

    parts: tuple[PartToPlan, ...]
    plans: tuple[PlanLine, ...]
    missing: tuple[Missing, ...]


@dataclass(frozen=True)
class SavedPlanView:
    """A saved plan on its own page."""

    plan_id: int
    version: int
    part: str
    part_href: str
    day: str
    note: str
    lines: tuple[Line, ...]
    plan: PlanView | NoCaseView
    is_from_older_fit: bool
    again_href: str
    start_href: str
    no_batch: str


@dataclass(frozen=True)
class WorkedOut:
    """An answer that can be saved: its figures, and the fit it came from."""

    figures: PlanFigures | NoCaseFigures
    fit_id: int | None


def view_plans(session: Session, showing: Showing) -> PlansView:
    """Return the parts to plan and the plans made so far, newest first."""
    parts = kept(session, Part)
    names = {row_id(part): part.name for part in parts}
    plans = newest(session, Plan, MOST_RECENT)
    return PlansView(
        tuple(_part_to_plan(part, showing) for part in reversed(parts)),
        tuple(
            PlanLine(
                names.get(plan.part_id) or plan.result.get("names", {}).get("part", "part"),
                soak_in_words(plan, showing),
                showing.day(plan.created_at),
                f"/plans/{plan.id}",
            )
            for plan in plans
        ),
        missing_for_plan(session),
    )


def _part_to_plan(part: Part, showing: Showing) -> PartToPlan:
    case = range_text(showing, part.wanted_depth_low_m, part.wanted_depth_high_m)
    return PartToPlan(part.name, f"case {case}", f"/plans/new?part={part.id}")


def part_title(session: Session, part_id: int) -> str:
    """Return a part's name; raises `NotFound` for one that is gone."""
    return get_row(session, Part, part_id).name


def offered_plan(session: Session, part_id: int, units: Units, from_plan: int | None) -> FormState[PlanForm]:
    """Return the form of a new plan: what the shop used last, or an earlier plan made over."""
    asked = form_for(session, part_id)
    first = first_no_case_values if asked is NoCaseForm else first_values
    values = first(session, part_id)
    earlier = get_row(session, Plan, from_plan) if from_plan is not None else None
    # a bar that was screened again since may need a case now, or none
    if earlier is not None and is_no_case(earlier.result) == (asked is NoCaseForm):
        values |= values_of_plan(earlier) | {"part_id": part_id}
    return form_of(asked, values, units).with_choices(plan_choices(session))


def work_out(session: Session, form: PlanForm, rest: Collection[str] = REST) -> WorkedOut:
    """Return the full answer to a plan's form; raises `NotAccepted` for what cannot be.

    rest : which of `REST` to work out with it
    """
    known = current_belief(session)
    if isinstance(form, NoCaseForm):
        return WorkedOut(no_case_figures(session, form, known), known.fit_id)
    rows = rows_for(session, form)
    process, believed = process_of(rows, form), Believed.of(known.belief)
    try:
        found = settle(goal_of(rows.part), process, form.soak_s, believed)
        others = baths_to_compare(session, rows) if "baths" in rest else None
        hardening = _hardening(rows, form, found, believed, others)
        more = more_figures(session, rows, form, found, believed, "choices" in rest)
    except ModelError as problem:
        raise refusal_of(problem) from None
    figures = settled_figures(rows, form, found, known.coupons, hardening)
    return WorkedOut(replace(figures, more=more), known.fit_id)


def awaited(figures: PlanFigures | NoCaseFigures, rest: Collection[str]) -> tuple[str, ...]:
    """Return what of `REST` an answer still lacks that was worked out with some of it."""
    if isinstance(figures, NoCaseFigures) or figures.is_sketch:
        return ()
    wants = figures.more.wants
    lacks = {"baths": figures.skin_HV is not None, "choices": wants is not None and bool(wants.missed)}
    return tuple(one for one in REST if lacks[one] and one not in rest)


def _hardening(
    rows: PlanRows, form: PlanForm, found: Settled, believed: Believed, baths: tuple[BathAsked, ...] | None
) -> HardeningFigures:
    """Return what the quench comes to: baths side by side where asked for, the temper, and any bending."""
    part = rows.part
    return replace(
        structures_of(found),
        baths=() if baths is None else compared_baths(found, believed, baths),
        temper=temper_figures(
            found, believed, rows.oven, part.wanted_hardness_HRC, form.temper_s or USUAL_TEMPER_S
        ),
        blow=blow_figures(found, part.duties, part.length_m),
    )


def look_quickly(session: Session, form: PlanForm) -> PlanFigures | NoCaseFigures:
    """Return the quick answer to a stepper; the full one, without the rest, where there are no hours."""
    if form.soak_s is None or isinstance(form, NoCaseForm):
        return work_out(session, form, ()).figures
    rows, known = rows_for(session, form), current_belief(session)
    return _sketched(rows, form, known, form.soak_s)


def _sketched(rows: PlanRows, form: PlanForm, known: CurrentBelief, soak_s: float) -> PlanFigures:
    process = process_of(rows, form)
    try:
        found = sketch(goal_of(rows.part), process, soak_s, Believed.of(known.belief))
    except ModelError as problem:
        raise refusal_of(problem) from None
    return sketched_figures(rows, form, found, known.coupons)


def save_plan(work: UnitOfWork, form: PlanForm, worked: WorkedOut, typed: Mapping[str, str]) -> str:
    """Keep a plan with its figures; return its page."""
    work.get(Part, form.part_id)
    figures = worked.figures
    fields = form.model_dump(exclude={"clock_from", "soak_s"})
    plan = work.add(
        Plan(
            **fields,
            soak_s=figures.soak_s,
            fit_id=worked.fit_id,
            result=figures.to_dict(),
            typed=dict(typed),
            created_at=work.now,
            updated_at=work.now,
        )
    )
    location = f"/plans/{plan.id}"
    work.answered_at(location)
    return location


def view_saved_plan(
    session: Session, plan_id: int, showing: Showing, awaits_fit: bool = False
) -> SavedPlanView:
    """Return a saved plan with the figures it was saved with."""
    plan = get_row(session, Plan, plan_id)
    figures = stored_figures(plan.result)
    part, known = session.get(Part, plan.part_id), current_belief(session)
    is_gone = part is None or part.deleted_at is not None
    return SavedPlanView(
        plan_id,
        plan.version,
        figures.names["part"],
        "" if is_gone else f"/parts/{plan.part_id}",
        showing.day(plan.created_at),
        plan.note,
        _choices(figures, showing),
        view_figures(figures, showing, awaits_fit),
        known.fit_id != plan.fit_id and known.coupons > 0,
        "" if is_gone else f"/plans/new?part={plan.part_id}&again={plan_id}",
        f"/batches?plan={plan_id}",
        NO_BATCH if isinstance(figures, NoCaseFigures) else "",
    )


def stored_figures(result: Mapping[str, Any]) -> PlanFigures | NoCaseFigures:
    """Return the figures that a plan was saved with."""
    return NoCaseFigures.from_dict(result) if is_no_case(result) else PlanFigures.from_dict(result)


def _choices(figures: PlanFigures | NoCaseFigures, showing: Showing) -> tuple[Line, ...]:
    if isinstance(figures, NoCaseFigures):
        return view_no_case_choices(figures, showing)
    return view_choices(figures, showing)


def view_figures(
    figures: PlanFigures | NoCaseFigures, showing: Showing, awaits_fit: bool = False
) -> PlanView | NoCaseView:
    """Return figures in the words of the shop; `awaits_fit` while readings are first worked out."""
    if isinstance(figures, NoCaseFigures):
        return view_no_case(figures, showing, awaits_fit)
    return view_plan(figures, showing, awaits_fit)


def remove_plan(work: UnitOfWork, plan_id: int, version: int | None) -> Removal:
    """Put a plan in the bin; the batches that were started from it stay."""
    work.remove(get_row(work.session, Plan, plan_id), version=version)
    work.answered_at("/plans")
    return Removal("The plan was removed.", "/plans", f"/plans/{plan_id}/put-back")


def put_back_plan(work: UnitOfWork, plan_id: int) -> str:
    """Take a plan out of the bin again; return its page."""
    plan = work.session.get(Plan, plan_id)
    if plan is not None and plan.deleted_at is not None:
        work.put_back(plan)
    location = f"/plans/{row_id(get_row(work.session, Plan, plan_id))}"
    work.answered_at(location)
    return location
