"""Batches: starting, planning, writing up, and the page of one batch."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from webapp.dependencies import (
    LARGEST_ID,
    AppClock,
    CurrentShop,
    RawForm,
    Reading,
    RecordId,
    Saving,
    ShopUnits,
)
from webapp.forms.batches import BatchChangeForm, BatchForm, WriteUpForm
from webapp.forms.kit import blank_form, form_of, read_form
from webapp.pages.batch_page import show_batch_page
from webapp.pages.saving import FormPage, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import version_of
from webapp.services import batches
from webapp.services.again import do_again
from webapp.services.batch_rows import row_id
from webapp.services.batch_values import batch_values, offered_values
from webapp.services.choices import batch_choices
from webapp.services.own_lines import asking_own
from webapp.services.step_entries import batch_entry, write_up_entry
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
PlanId = Annotated[int | None, Query(alias="plan", ge=1, le=LARGEST_ID)]
NEW = FormPage(
    title="Plan a batch",
    lead="One box in one fire. Everything can still be changed before it goes in.",
    action="/batches/new",
    draft="batch-new",
    back_href="/",
    go="Open the batch",
)
WRITE_UP = FormPage(
    title="Write up an old batch",
    lead="Last year's notebook is the cheapest teacher. Rough numbers are welcome: say how sure you are, "
    "and the doubt is carried along.",
    action="/batches/write-up",
    draft="batch-write-up",
    back_href="/",
    go="Put it in the logbook",
)


def change_page(batch_id: int) -> FormPage:
    """Return the words of the page that puts a batch right."""
    href = f"/batches/{batch_id}"
    return FormPage("Put the batch right", f"{href}/edit", f"batch-{batch_id}-edit", href)


@router.post("/batches")
def start_at_once(request: Request, raw: RawForm, save: Saving, plan: PlanId = None) -> Response:
    """Start a batch with one tap: from a plan, or with what the last one used."""

    def act(work: UnitOfWork) -> str:
        return f"/batches/{batches.start_at_once(work, plan).id}"

    return answer_button(request, save, raw, act)


@router.get("/batches/new")
def show_new(request: Request, session: Reading, units: ShopUnits, plan: PlanId = None) -> Response:
    """Show the form of a new batch, filled with what the shop would take."""
    state = blank_form(asking_own(session, BatchForm, "batch"), units, offered_values(session, plan))
    return show_form(request, NEW, state.with_choices(batch_choices(session)))


@router.post("/batches/new")
def answer_new(request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving) -> Response:
    """Open a new batch."""
    state = read_form(asking_own(session, BatchForm, "batch"), raw, units).with_choices(
        batch_choices(session)
    )

    def act(work: UnitOfWork, form: BatchForm) -> str:
        return f"/batches/{batches.start_batch(work, batch_entry(form, state.typed)).id}"

    return answer_form(on_page(request, save, NEW), state, act)


@router.get("/batches/write-up")
def show_write_up(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show the form of an old batch."""
    offered = {**offered_values(session), "day": None}
    state = blank_form(asking_own(session, WriteUpForm, "batch"), units, offered)
    return show_form(request, WRITE_UP, state.with_choices(batch_choices(session)))


@router.post("/batches/write-up")
def answer_write_up(
    request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Put an old batch into the logbook."""
    state = read_form(asking_own(session, WriteUpForm, "batch"), raw, units).with_choices(
        batch_choices(session)
    )

    def act(work: UnitOfWork, form: WriteUpForm) -> str:
        return f"/batches/{row_id(batches.write_up(work, write_up_entry(form, state.typed)))}"

    return answer_form(on_page(request, save, WRITE_UP), state, act)


@router.get("/batches/{batch_id}")
def show_batch(
    request: Request,
    batch_id: RecordId,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    clock: AppClock,
) -> Response:
    """Show one batch."""
    return show_batch_page(request, session, shop, units, clock, batch_id)


@router.get("/batches/{batch_id}/edit")
def show_edit(request: Request, batch_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form that puts a batch right."""
    values, typed, version = batch_values(session, batch_id)
    form = asking_own(session, BatchChangeForm, "batch")
    state = form_of(form, values, units, typed, version).with_choices(batch_choices(session))
    return show_form(request, change_page(batch_id), state)


@router.post("/batches/{batch_id}/edit")
def answer_edit(
    request: Request, batch_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Put a batch right."""
    state = read_form(asking_own(session, BatchChangeForm, "batch"), raw, units).with_choices(
        batch_choices(session)
    )

    def act(work: UnitOfWork, form: BatchChangeForm) -> str:
        batches.change_batch(work, batch_id, batch_entry(form, state.typed), state.version)
        return f"/batches/{batch_id}"

    return answer_form(on_page(request, save, change_page(batch_id)), state, act)


@router.post("/batches/{batch_id}/again")
def answer_again(request: Request, batch_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Start a batch with everything of an earlier one but its results."""

    def act(work: UnitOfWork) -> str:
        return f"/batches/{do_again(work, batch_id).id}"

    return answer_button(request, save, raw, act)


@router.post("/batches/{batch_id}/remove")
def answer_remove(request: Request, batch_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a batch in the bin."""

    def act(work: UnitOfWork) -> str:
        batches.remove_batch(work, batch_id, version_of(raw))
        return "/"

    undo = f"/batches/{batch_id}/put-back"
    return answer_button(request, save, raw, act, "The batch was removed.", undo)


@router.post("/batches/{batch_id}/put-back")
def answer_put_back(request: Request, batch_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a batch out of the bin."""

    def act(work: UnitOfWork) -> str:
        batches.put_back_batch(work, batch_id)
        return f"/batches/{batch_id}"

    return answer_button(request, save, raw, act)
