"""The rack: bars of known grade, and mystery bars with what their screening told."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.bars import TestAnswerForm
from webapp.forms.kit import FormState, blank_form, read_form
from webapp.pages import sheets
from webapp.pages.answers import page
from webapp.pages.saving import Save, answer_form
from webapp.pages.sheets import Conflict
from webapp.services.bar_tests import NUMBER_OF, QuestionView, answer_question, view_question
from webapp.services.bar_view import view_bar
from webapp.services.bars import BARS
from webapp.services.sheets import get_from_sheet, showing_of, view_sheet
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
HERE = "shop"


@router.get("/bars")
def show_bars(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show the rack."""
    return page(request, "pages/bars.html", view_sheet(session, BARS, showing_of(shop)), here=HERE)


@router.get("/bars/new")
def show_new(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show the form for a new bar."""
    return sheets.show_new(request, BARS, session, units, HERE)


@router.post("/bars")
def answer_new(request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving) -> Response:
    """Save a new bar."""
    return sheets.answer_new(request, BARS, raw, session, units, save, HERE)


@router.get("/bars/{record_id}")
def show_bar(request: Request, record_id: RecordId, session: Reading, shop: CurrentShop) -> Response:
    """Show a bar: what it is believed to be, what taught that, and where it was used."""
    return page(request, "pages/bar.html", view_bar(session, record_id, showing_of(shop)), here=HERE)


@router.get("/bars/{record_id}/tests/{key}")
def show_test(
    request: Request, record_id: RecordId, key: str, session: Reading, units: ShopUnits
) -> Response:
    """Ask for one quick test of a bar."""
    view = question_of(session, record_id, key)
    defaults = {"answer": view.picked} if view.picked else {}
    state = blank_form(TestAnswerForm, units, defaults).with_choices({"answer": view.choices})
    return show_question(request, view, replace(state, version=view.version))


@router.post("/bars/{record_id}/tests/{key}")
def answer_test(
    request: Request,
    record_id: RecordId,
    key: str,
    raw: RawForm,
    session: Reading,
    units: ShopUnits,
    save: Saving,
) -> Response:
    """Keep what one quick test showed, and lead on to the next."""
    view = question_of(session, record_id, key)
    state = read_form(TestAnswerForm, raw, units).with_choices({"answer": view.choices})

    def show(again: FormState[Any], status: int, conflict: Conflict | None) -> Response:
        return show_question(request, view, again, status, conflict)

    def act(work: UnitOfWork, form: TestAnswerForm) -> str:
        return answer_question(work, record_id, key, form.answer, state.version)

    return answer_form(Save(request, save, show, draft=draft_of(view)), state, act)


def question_of(session: Session, bar_id: int, key: str) -> QuestionView:
    """Return one question about a bar; there is no page for a test that is not there."""
    if key not in NUMBER_OF:
        raise HTTPException(404)
    return view_question(get_from_sheet(session, BARS, bar_id), key)


def draft_of(view: QuestionView) -> str:
    """Return the name under which a tablet keeps what is picked."""
    return view.href.strip("/").replace("/", "-")


def show_question(
    request: Request,
    view: QuestionView,
    state: FormState[Any],
    status: int = 200,
    conflict: Conflict | None = None,
) -> Response:
    """Answer with the page of one question."""
    more = {"state": state, "conflict": conflict, "draft": draft_of(view)}
    return page(request, "pages/bar_test.html", view, status, here=HERE, **more)


@router.get("/bars/{record_id}/edit")
def show_edit(request: Request, record_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form of a bar."""
    return sheets.show_edit(request, BARS, record_id, session, units, HERE)


@router.post("/bars/{record_id}")
def answer_edit(
    request: Request, record_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Save what was changed on a bar."""
    return sheets.answer_edit(request, BARS, record_id, raw, session, units, save, HERE)


@router.post("/bars/{record_id}/remove")
def answer_remove(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a bar in the bin."""
    return sheets.answer_remove(request, BARS, record_id, raw, save)


@router.post("/bars/{record_id}/put-back")
def answer_put_back(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a bar out of the bin again."""
    return sheets.answer_put_back(request, BARS, record_id, raw, save)
