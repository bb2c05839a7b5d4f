"""Lines of a shop's own: the list, a new one, one put right, asked no more, asked again."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import FormState, blank_form, form_of, read_form
from webapp.forms.own_lines import OwnLineChangeForm, OwnLineForm
from webapp.pages.answers import page
from webapp.pages.saving import FormPage, Save, answer_button, answer_form, on_page, show_form
from webapp.pages.sheets import Conflict, version_of
from webapp.services import own_line_list
from webapp.services.own_line_list import HREF
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)


def _show(request: Request, session: Session, state: FormState[OwnLineForm], status: int = 200) -> Response:
    view = own_line_list.view_own_lines(session)
    return page(request, "pages/own_lines.html", view, status, here="shop", state=state)


@router.get(HREF)
def show_own_lines(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show the shop's own lines and the form of a new one."""
    return _show(request, session, blank_form(OwnLineForm, units))


@router.post(HREF)
def answer_own_line(
    request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Write a line down."""
    state = read_form(OwnLineForm, raw, units)

    def show(again: FormState[OwnLineForm], status: int, _conflict: Conflict | None) -> Response:
        return _show(request, session, again, status)

    return answer_form(Save(request, save, show, "own-line-new"), state, own_line_list.add_own_line)


def _edit_page(line_id: int) -> FormPage:
    return FormPage(
        title="Put the line right",
        lead="A new name stands for all that was noted before, too. What it is about and what it holds stay.",
        action=f"{HREF}/{line_id}",
        draft=f"own-line-{line_id}",
        back_href=HREF,
    )


@router.get(f"{HREF}/{{line_id}}")
def show_edit(request: Request, line_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form that puts a line right."""
    line = own_line_list.own_line_for_edit(session, line_id)
    values = {"label": line.label, "choices": "\n".join(line.choices), "is_copied": line.is_copied}
    state = form_of(OwnLineChangeForm, values, units, version=line.version)
    return show_form(request, _edit_page(line_id), state)


@router.post(f"{HREF}/{{line_id}}")
def answer_edit(
    request: Request, line_id: RecordId, raw: RawForm, units: ShopUnits, save: Saving
) -> Response:
    """Put a line right."""
    state = read_form(OwnLineChangeForm, raw, units)

    def act(work: UnitOfWork, form: OwnLineChangeForm) -> str:
        return own_line_list.change_own_line(work, line_id, form, state.version)

    return answer_form(on_page(request, save, _edit_page(line_id)), state, act)


@router.post(f"{HREF}/{{line_id}}/retire")
def answer_retire(request: Request, line_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Ask a line no more."""

    def act(work: UnitOfWork) -> str:
        return own_line_list.retire_own_line(work, line_id, version_of(raw))

    undo = f"{HREF}/{line_id}/ask-again"
    return answer_button(request, save, raw, act, "The line is asked no more; what was noted stays.", undo)


@router.post(f"{HREF}/{{line_id}}/ask-again")
def answer_ask_again(request: Request, line_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Ask a retired line again."""

    def act(work: UnitOfWork) -> str:
        return own_line_list.ask_again(work, line_id, version_of(raw))

    return answer_button(request, save, raw, act)
