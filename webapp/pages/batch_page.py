"""The page of one batch, with the two forms that stand on it: the next step, and a temperature to note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fastapi import Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.clock import Clock
from webapp.forms.events import HeatNoteForm
from webapp.forms.kit import FormState, Units, blank_form
from webapp.forms.steps import STEP_FORMS, MeasuredForm
from webapp.pages.answers import page
from webapp.pages.saving import HERE
from webapp.pages.sheets import Conflict
from webapp.services.batch_view import BatchView, view_batch
from webapp.services.choices import step_choices
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.services.step_defaults import batch_step_defaults


def show_batch_page(
    request: Request,
    session: Session,
    shop: ShopView,
    units: Units,
    clock: Clock,
    batch_id: int,
    status: int = 200,
    conflict: Conflict | None = None,
    forms: Mapping[str, FormState[Any]] | None = None,
) -> Response:
    """Answer with the page of a batch; `forms` holds one that came back and must be put right."""
    view = view_batch(session, batch_id, clock.now(), showing_of(shop))
    given = forms or {}
    next_form = given.get("step") or next_step_form(session, view, units)
    heat_form = given.get("heat") or blank_form(HeatNoteForm, units)
    return page(
        request,
        "pages/batch.html",
        view,
        status,
        here=HERE,
        next_form=next_form,
        heat_form=heat_form,
        conflict=conflict,
    )


def next_step_form(session: Session, view: BatchView, units: Units) -> FormState[Any] | None:
    """Return the form of the likeliest next step; none when nothing is left to do."""
    if view.is_over or not view.actions:
        return None
    return step_form(session, view.batch_id, view.actions[0].action, view.version, units)


def step_form(
    session: Session, batch_id: int, action: str, version: int | None, units: Units
) -> FormState[Any]:
    """Return the form of a step, offering the plan's numbers or the last ones."""
    model = STEP_FORMS.get(action, MeasuredForm)
    state = blank_form(model, units, batch_step_defaults(session, batch_id, action))
    return with_version(state, version).with_choices(step_choices(session, action))


def with_version(state: FormState[Any], version: int | None) -> FormState[Any]:
    """Return a form that carries the version of what it changes."""
    return replace(state, version=version)
