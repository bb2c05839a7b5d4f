"""Plans: the parts to plan, a new plan that answers live, and a saved one as it was worked out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from webapp.dependencies import (
    LARGEST_ID,
    Context,
    CurrentShop,
    RawForm,
    Reading,
    RecordId,
    Saving,
    ShopUnits,
)
from webapp.forms.kit import FormState, form_of, read_form
from webapp.forms.plans import PlanForm
from webapp.pages.answers import page, part, saved
from webapp.pages.sheets import form_id_of, version_of
from webapp.services.plan_figures import PlanFigures
from webapp.services.plan_no_case import NoCaseFigures, form_for
from webapp.services.plan_no_case_view import NoCaseView
from webapp.services.plan_rows import missing_for_plan, plan_choices
from webapp.services.plan_taken import with_taken
from webapp.services.plan_view import PlanView
from webapp.services.planning import (
    REST,
    awaited,
    look_quickly,
    offered_plan,
    part_title,
    put_back_plan,
    remove_plan,
    save_plan,
    view_figures,
    view_plans,
    view_saved_plan,
    work_out,
)
from webapp.services.sheets import NotAccepted, showing_of
from webapp.services.suggested_parts import SUGGESTED_PARTS, add_suggested_part

router = APIRouter(include_in_schema=False)
HERE = "plan"
PartId = Annotated[int, Query(alias="part", ge=1, le=LARGEST_ID)]
OldPlanId = Annotated[int | None, Query(alias="again", ge=1, le=LARGEST_ID)]
Wording = Callable[[PlanFigures | NoCaseFigures], PlanView | NoCaseView]


def get_wording(shop: CurrentShop, context: Context) -> Wording:
    """Return what says a plan's figures in the words of the shop, as its readings stand."""
    awaits_fit = context.fit_keeper.state.is_first
    return partial(view_figures, showing=showing_of(shop), awaits_fit=awaits_fit)


InWords = Annotated[Wording, Depends(get_wording)]


@dataclass(frozen=True)
class NewPlan:
    """The page of a new plan: its part, its form, and what comes of it if nothing is to be put right."""

    part_id: int
    part: str
    state: FormState[PlanForm]
    plan: PlanView | NoCaseView | None
    stop: str = ""

    @property
    def draft(self) -> str:
        """The name under which the browser keeps what was typed."""
        return f"plan-new-{self.part_id}"


@router.get("/plans")
def show_plans(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show the parts to plan and the plans made so far."""
    view = view_plans(session, showing_of(shop))
    return page(request, "pages/plans.html", view, here=HERE, suggested=SUGGESTED_PARTS)


@router.post("/plans/suggested")
def answer_suggested(request: Request, raw: RawForm, save: Saving) -> Response:
    """Save a suggested part and plan it."""
    with save(form_id_of(raw)) as work:
        location = add_suggested_part(work, str(raw.get("key", "")))
    return saved(request, location)


@router.get("/plans/new")
def show_new(
    request: Request,
    session: Reading,
    in_words: InWords,
    units: ShopUnits,
    part_id: PartId,
    again: OldPlanId = None,
) -> Response:
    """Show a new plan for a part, its hours already worked out."""
    title = part_title(session, part_id)
    if missing_for_plan(session):
        return RedirectResponse("/plans", status_code=303)
    offered = offered_plan(session, part_id, units, again)
    view = _worked_page(session, in_words, part_id, title, offered)
    return page(request, "pages/plan_new.html", view, here=HERE)


@router.post("/plans/new")
def answer_new(
    request: Request, raw: RawForm, session: Reading, in_words: InWords, units: ShopUnits
) -> Response:
    """Work out what the form says and show it; `hours=best` takes the best hours, `take` what it lists."""
    asked = {**raw, "soak_s": ""} if raw.get("hours") == "best" else with_taken(raw, units)
    part_id = _part_id(raw)
    state = read_form(form_for(session, part_id), asked, units).with_choices(plan_choices(session))
    view = _worked_page(session, in_words, part_id, part_title(session, part_id), state)
    return page(request, "pages/plan_new.html", view, 422 if view.state.errors else 200, here=HERE)


@router.post("/plans/preview")
def answer_preview(
    request: Request, raw: RawForm, session: Reading, in_words: InWords, units: ShopUnits
) -> Response:
    """Answer a stepper with the picture alone: quickly, or in full once the hand rests (`settled`).

    What a full answer leaves out for speed it asks for by itself, as `settled` that is one of `REST`.
    """
    state = read_form(form_for(session, _part_id(raw)), raw, units)
    if state.value is None:
        return part(request, "parts/_plan_preview.html", None, state=state, stop="")
    rest = [one for one in REST if raw.get("settled") == one]
    try:
        if raw.get("settled"):
            figures = work_out(session, state.value, rest).figures
        else:
            figures = look_quickly(session, state.value)
    except NotAccepted as problem:
        refused = state.with_errors(problem.errors)
        return part(request, "parts/_plan_preview.html", None, state=refused, stop=problem.stop)
    lacks = awaited(figures, rest)
    return part(request, "parts/_plan_preview.html", in_words(figures), state=state, stop="", awaited=lacks)


@router.post("/plans")
def answer_save(
    request: Request,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Save a plan with what is known now."""
    part_id = _part_id(raw)
    state = read_form(form_for(session, part_id), raw, units).with_choices(plan_choices(session))
    title = part_title(session, part_id)
    if state.value is None:
        return page(request, "pages/plan_new.html", NewPlan(part_id, title, state, None), 422, here=HERE)
    try:
        worked = work_out(session, state.value)
    except NotAccepted as problem:
        view = NewPlan(part_id, title, state.with_errors(problem.errors), None, problem.stop)
        return page(request, "pages/plan_new.html", view, 422, here=HERE)
    with save(state.form_id) as work:
        location = save_plan(work, state.value, worked, state.typed)
    return saved(request, location, draft=NewPlan(part_id, title, state, None).draft)


@router.get("/plans/{record_id}")
def show_plan(
    request: Request, record_id: RecordId, session: Reading, shop: CurrentShop, context: Context
) -> Response:
    """Show a saved plan as it was worked out."""
    awaits_fit = context.fit_keeper.state.is_first
    view = view_saved_plan(session, record_id, showing_of(shop), awaits_fit)
    return page(request, "pages/plan.html", view, here=HERE)


@router.post("/plans/{record_id}/remove")
def answer_remove(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a plan in the bin."""
    with save(form_id_of(raw)) as work:
        removal = remove_plan(work, record_id, version_of(raw))
    return saved(request, removal.location, undo_words=removal.words, undo_action=removal.undo_action)


@router.post("/plans/{record_id}/put-back")
def answer_put_back(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a plan out of the bin again."""
    with save(form_id_of(raw)) as work:
        location = put_back_plan(work, record_id)
    return saved(request, location)


def _worked_page(
    session: Session, in_words: Wording, part_id: int, title: str, state: FormState[PlanForm]
) -> NewPlan:
    """Return the page of a form, worked out if it can be; blank hours are filled in with the best."""
    read = state if state.value is not None else _read_again(state)
    if read.value is None:
        return NewPlan(part_id, title, read, None)
    try:
        figures = work_out(session, read.value).figures
    except NotAccepted as problem:
        return NewPlan(part_id, title, read.with_errors(problem.errors), None, problem.stop)
    if read.value.soak_s is None and figures.soak_s:
        filled = {**dict(read.value), "soak_s": figures.soak_s}
        with_hours = form_of(read.model, filled, read.units, typed=read.typed).with_choices(read.choices)
        read = replace(with_hours, form_id=read.form_id)
    return NewPlan(part_id, title, read, in_words(figures))


def _read_again(state: FormState[PlanForm]) -> FormState[PlanForm]:
    """Return an offered form as if it had been sent; its blanks are no mistakes yet."""
    if state.errors:
        return state
    read = read_form(state.model, state.raw, state.units).with_choices(state.choices)
    return replace(read, errors={}) if read.value is None else read


def _part_id(raw: dict[str, Any]) -> int:
    """Return the part a form is about; 0, which no part has, if that is unreadable."""
    found = raw.get("part_id")
    is_number = isinstance(found, str) and found.isascii() and found.isdigit() and len(found) < 16
    return int(found) if is_number and isinstance(found, str) else 0
