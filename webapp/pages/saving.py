"""One way for the pages of a batch to save a form: what is refused stays, with everything that was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from fastapi import Request
from starlette.responses import Response

from webapp.dependencies import Saver
from webapp.forms.kit import Form, FormState
from webapp.pages.answers import (
    MessageView,
    came_from,
    message,
    page,
    saved,
)
from webapp.pages.sheets import Conflict, both_versions, form_id_of
from webapp.services.sheets import NotAccepted
from webapp.services.step_rules import StepRefused
from webapp.store.errors import ChangedMeanwhile
from webapp.store.unit_of_work import UnitOfWork

F = TypeVar("F", bound=Form)
HERE = "batches"
INSIST = "Say yes only if the clock of the machine that keeps the logbook is wrong."
INSIST_FIELDS = {
    "at": ("insisted", INSIST),
    "noted_at": ("noted_insisted", INSIST),
    "event_at": ("event_insisted", INSIST),
    "noted_K": ("noted_stands", "Say yes only if that is what the instrument showed."),
}


@dataclass(frozen=True)
class FormPage:
    """A page that is one form: its words, where it is sent, and the way back."""

    title: str
    action: str
    draft: str
    back_href: str
    go: str = "Save"
    over: str = ""
    lead: str = ""
    cautions: tuple[str, ...] = ()
    more: tuple[tuple[str, str], ...] = ()
    more_words: str = ""
    folded_words: str = "More"
    then_words: str = ""
    """A second way to save, sent as `then`: what comes next in one tap."""
    conflict: Conflict | None = None


@dataclass(frozen=True)
class Save:
    """What is needed to answer a form: who saves, how, and how the form is shown again."""

    request: Request
    saver: Saver
    show: Callable[[FormState[Any], int, Conflict | None], Response]
    draft: str = ""


def show_form(
    request: Request,
    view: FormPage,
    state: FormState[Any],
    status: int = 200,
    conflict: Conflict | None = None,
) -> Response:
    """Answer with a page that is one form."""
    shown = replace(view, conflict=conflict)
    return page(request, "pages/one_form.html", shown, status, here=HERE, state=state)


def on_page(request: Request, saver: Saver, view: FormPage) -> Save:
    """Return how a form that is a page of its own is answered."""

    def show(state: FormState[Any], status: int, conflict: Conflict | None) -> Response:
        return show_form(request, view, state, status, conflict)

    return Save(request, saver, show, view.draft)


def answer_form(
    save: Save,
    state: FormState[F],
    act: Callable[[UnitOfWork, F], str],
    undo_words: str = "",
    undo_action: str = "",
) -> Response:
    """Save a form and lead to its answer, or show it again with what is wrong.

    `act` writes by the unit of work and returns the address of the answer; that then offers the undo, if any.
    """
    if state.value is None:
        return save.show(state, 422, None)
    value = state.value
    try:
        with save.saver(state.form_id) as work:
            location = act(work, value)
            work.answered_at(location)
    except StepRefused as problem:
        return save.show(_refused(state, problem), 422, None)
    except NotAccepted as problem:
        return save.show(state.with_errors(problem.errors), 422, None)
    except ChangedMeanwhile as problem:
        conflict, newer = both_versions(problem, state)
        return save.show(newer, 409, conflict)
    return saved(save.request, location, save.draft, undo_words, undo_action)


def _refused(state: FormState[F], problem: StepRefused) -> FormState[F]:
    """Return the form with a service's refusal beside its field, and the way to insist where there is one."""
    known = problem.field in state.model.model_fields
    errors = {problem.field if known else "": problem.message}
    if problem.may_insist and problem.field in INSIST_FIELDS:
        field, words = INSIST_FIELDS[problem.field]
        errors[field] = words
    return state.with_errors(errors)


def answer_button(
    request: Request,
    saver: Saver,
    raw: dict[str, Any],
    act: Callable[[UnitOfWork], str],
    undo_words: str = "",
    undo_action: str = "",
) -> Response:
    """Do what a button with nothing to fill in asks for; `act` returns the address of the answer."""
    try:
        with saver(form_id_of(raw)) as work:
            location = act(work)
            work.answered_at(location)
    except StepRefused as problem:
        back = came_from(request)
        view = MessageView(
            "Not done", problem.message, "Nothing was changed.", back, "Back to where you were"
        )
        return message(request, view, 422)
    return saved(request, location, undo_words=undo_words, undo_action=undo_action)
