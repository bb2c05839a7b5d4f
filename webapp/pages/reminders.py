"""Reminders: asked for, done, taken away and put back."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import AppClock, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.forms.reminders import ReminderForm
from webapp.pages.answers import page
from webapp.pages.saving import Save, answer_button, answer_form
from webapp.pages.sheets import Conflict, version_of
from webapp.services import reminders
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.store.unit_of_work import UnitOfWork
from webapp.zone import day_of

router = APIRouter(include_in_schema=False)


def get_today(shop: CurrentShop, clock: AppClock) -> date:
    """Return the day on the shop's calendar."""
    return day_of(clock.now(), shop.zone)


Today = Annotated[date, Depends(get_today)]


def _show(
    request: Request,
    session: Session,
    shop: ShopView,
    today: date,
    state: FormState[ReminderForm],
    status: int = 200,
) -> Response:
    view = reminders.view_reminders(session, today, showing_of(shop))
    state = state.with_choices({"thing": reminders.thing_choices(session)})
    return page(request, "pages/reminders.html", view, status, here="shop", state=state)


@router.get(reminders.HREF)
def show_reminders(
    request: Request, session: Reading, shop: CurrentShop, units: ShopUnits, today: Today
) -> Response:
    """Show all reminders and the form of a new one."""
    return _show(request, session, shop, today, blank_form(ReminderForm, units, {"done_on": today}))


@router.post(reminders.HREF)
def answer_reminder(
    request: Request,
    raw: RawForm,
    session: Reading,
    shop: CurrentShop,
    units: ShopUnits,
    today: Today,
    save: Saving,
) -> Response:
    """Keep a reminder."""
    state = read_form(ReminderForm, raw, units)

    def act(work: UnitOfWork, form: ReminderForm) -> str:
        return reminders.add_reminder(work, form, today)

    def show(again: FormState[ReminderForm], status: int, _conflict: Conflict | None) -> Response:
        return _show(request, session, shop, today, again, status)

    return answer_form(Save(request, save, show, "reminder-new"), state, act)


@router.post(f"{reminders.HREF}/{{reminder_id}}/done")
def answer_done(
    request: Request, reminder_id: RecordId, raw: RawForm, today: Today, save: Saving
) -> Response:
    """Note that it was done today."""

    def act(work: UnitOfWork) -> str:
        return reminders.mark_done(work, reminder_id, today, version_of(raw))

    return answer_button(request, save, raw, act)


@router.post(f"{reminders.HREF}/{{reminder_id}}/remove")
def answer_remove(request: Request, reminder_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a reminder in the bin."""

    def act(work: UnitOfWork) -> str:
        return reminders.remove_reminder(work, reminder_id, version_of(raw))

    undo = f"{reminders.HREF}/{reminder_id}/put-back"
    return answer_button(request, save, raw, act, "The reminder was removed.", undo)


@router.post(f"{reminders.HREF}/{{reminder_id}}/put-back")
def answer_put_back(request: Request, reminder_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a reminder out of the bin."""

    def act(work: UnitOfWork) -> str:
        return reminders.put_back_reminder(work, reminder_id)

    return answer_button(request, save, raw, act)
