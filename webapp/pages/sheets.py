"""The pages of any list of the shop: its form, and what is answered when a form comes back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from fastapi import Request
from sqlmodel import Session
from starlette.responses import Response

from webapp.dependencies import Saver
from webapp.forms.ask import Units
from webapp.forms.kit import Form, FormState, blank_form, form_of, read_form
from webapp.pages.answers import ConflictRow, changed_at, conflict_rows, page, saved
from webapp.services.sheets import (
    NotAccepted,
    SheetKind,
    add_to_sheet,
    change_on_sheet,
    form_class,
    get_from_sheet,
    put_back_on_sheet,
    remove_from_sheet,
    values_for_form,
)
from webapp.services.shop_cautions import Caution
from webapp.store.errors import ChangedMeanwhile
from webapp.store.unit_of_work import UnitOfWork

F = TypeVar("F", bound=Form)
Kind = SheetKind[Any, Any]
Keep = Callable[[UnitOfWork, Any], str]


@dataclass(frozen=True)
class Conflict:
    """The same record as another tablet saved it meanwhile."""

    rows: list[ConflictRow]
    at: str


@dataclass(frozen=True)
class SheetFormView:
    """A form page of a list: what it is called, where it is sent, and what may be said above it."""

    title: str
    teach: str
    action: str
    draft: str
    back_href: str
    go: str
    remove_href: str = ""
    more: str = "More"
    cautions: tuple[Caution, ...] = ()
    stop: str = ""
    warnings: tuple[str, ...] = ()
    conflict: Conflict | None = None


def form_view(kind: Kind, record_id: int | None) -> SheetFormView:
    """Return the words of a form page of this list."""
    return SheetFormView(
        title=f"New {kind.one}" if record_id is None else f"Change this {kind.one}",
        teach=kind.teach,
        action=kind.records_href if record_id is None else kind.href(record_id),
        draft=f"{kind.key}-{record_id or 'new'}",
        back_href=kind.list_href,
        go=f"Save the {kind.one}",
        remove_href="" if record_id is None else f"{kind.href(record_id)}/remove",
        more=kind.more,
        cautions=kind.cautions,
    )


def show_form(
    request: Request, view: SheetFormView, state: FormState[Any], here: str, status: int = 200
) -> Response:
    """Answer with a form page."""
    return page(request, "pages/sheet_form.html", view, status, here=here, state=state)


def show_new(request: Request, kind: Kind, session: Session, units: Units, here: str) -> Response:
    """Show the form for a new record of a list."""
    state = blank_form(form_class(session, kind), units, kind.defaults).with_choices(kind.choices_of(session))
    return show_form(request, form_view(kind, None), state, here)


def show_edit(
    request: Request, kind: Kind, record_id: int, session: Session, units: Units, here: str
) -> Response:
    """Show the form of a record that is there."""
    row = get_from_sheet(session, kind, record_id)
    form, values = form_class(session, kind), values_for_form(kind, row)
    state = form_of(form, values, units, typed=row.typed, version=row.version)
    return show_form(request, form_view(kind, record_id), state.with_choices(kind.choices_of(session)), here)


def keep_form(
    request: Request,
    view: SheetFormView,
    state: FormState[Any],
    save: Saver,
    keep: Keep,
    here: str,
) -> Response:
    """Save a form that came back, or show it again with what is wrong and all that was typed."""
    if state.value is None:
        return show_form(request, view, state, here, status=422)
    try:
        with save(state.form_id) as work:
            location = keep(work, state.value)
    except NotAccepted as problem:
        again = state.with_errors(problem.errors)
        return show_form(request, replace(view, stop=problem.stop), again, here, status=422)
    except ChangedMeanwhile as problem:
        conflict, newer = both_versions(problem, state)
        return show_form(request, replace(view, conflict=conflict), newer, here, status=409)
    return saved(request, location, draft=view.draft)


def both_versions(problem: ChangedMeanwhile, state: FormState[F]) -> tuple[Conflict, FormState[F]]:
    """Return what two tablets wrote, and the form ready to be saved over the other one's."""
    labels = {view.name: view.label for view in state.fields}
    choices = {view.name: {one.value: one.label for one in view.choices} for view in state.fields}
    rows = conflict_rows(problem, labels, choices)
    newer = replace(state, version=int(problem.current["version"]))
    return Conflict(rows, changed_at(problem, state.units.zone)), newer


def answer_new(
    request: Request, kind: Kind, raw: Any, session: Session, units: Units, save: Saver, here: str
) -> Response:
    """Save a new record of a list."""
    state = read_form(form_class(session, kind), raw, units).with_choices(kind.choices_of(session))

    def keep(work: UnitOfWork, value: Any) -> str:
        return kind.after_adding(work.get(kind.row, add_to_sheet(work, kind, value, state.typed)))

    return keep_form(request, form_view(kind, None), state, save, keep, here)


def answer_edit(
    request: Request,
    kind: Kind,
    record_id: int,
    raw: Any,
    session: Session,
    units: Units,
    save: Saver,
    here: str,
) -> Response:
    """Save what was changed on a record of a list."""
    state = read_form(form_class(session, kind), raw, units).with_choices(kind.choices_of(session))

    def keep(work: UnitOfWork, value: Any) -> str:
        change_on_sheet(work, kind, record_id, value, state.typed, state.version)
        return kind.list_href

    return keep_form(request, form_view(kind, record_id), state, save, keep, here)


def answer_remove(request: Request, kind: Kind, record_id: int, raw: Any, save: Saver) -> Response:
    """Put a record in the bin and offer to have it back."""
    form_id, version = form_id_of(raw), version_of(raw)
    with save(form_id) as work:
        removal = remove_from_sheet(work, kind, record_id, version)
    return saved(request, removal.location, undo_words=removal.words, undo_action=removal.undo_action)


def answer_put_back(request: Request, kind: Kind, record_id: int, raw: Any, save: Saver) -> Response:
    """Take a record out of the bin again."""
    with save(form_id_of(raw)) as work:
        put_back_on_sheet(work, kind, record_id)
    return saved(request, kind.list_href)


def form_id_of(raw: Any) -> str | None:
    """Return the one-use form id that came with a plain button, None if there was none."""
    text = raw.get("form_id", "")
    return text if isinstance(text, str) and 8 <= len(text) <= 64 else None


def version_of(raw: Any) -> int | None:
    """Return the version that came with a plain button, None if there was none."""
    text = raw.get("version", "")
    return (
        int(text) if isinstance(text, str) and text.isascii() and text.isdigit() and len(text) < 10 else None
    )
