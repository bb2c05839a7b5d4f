"""Parts: the list, one part with its plans and batches, and its form."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.dependencies import CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.kit import blank_form, read_form
from webapp.forms.parts import PartForm
from webapp.pages import sheets
from webapp.pages.answers import page, saved
from webapp.pages.saving import answer_button
from webapp.services.again import part_again
from webapp.services.parts import (
    PARTS,
    add_part,
    change_part,
    part_choices,
    part_defaults,
    remove_part,
    view_part,
    view_parts,
)
from webapp.services.sheets import form_class, showing_of
from webapp.store.unit_of_work import UnitOfWork

router = APIRouter(include_in_schema=False)
HERE = "parts"


@router.get("/parts")
def show_parts(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show all parts."""
    return page(request, "pages/parts.html", view_parts(session, showing_of(shop)), here=HERE)


@router.get("/parts/new")
def show_new(request: Request, session: Reading, units: ShopUnits) -> Response:
    """Show the form for a new part."""
    state = blank_form(form_class(session, PARTS), units, part_defaults(session)).with_choices(
        part_choices(session)
    )
    return sheets.show_form(request, sheets.form_view(PARTS, None), state, HERE)


@router.post("/parts")
def answer_new(request: Request, raw: RawForm, session: Reading, units: ShopUnits, save: Saving) -> Response:
    """Save a new part and show it."""
    state = read_form(form_class(session, PARTS), raw, units).with_choices(part_choices(session))

    def keep(work: UnitOfWork, value: PartForm) -> str:
        return add_part(work, value, state.typed)

    return sheets.keep_form(request, sheets.form_view(PARTS, None), state, save, keep, HERE)


@router.get("/parts/{record_id}")
def show_part(request: Request, record_id: RecordId, session: Reading, shop: CurrentShop) -> Response:
    """Show one part with its plans and batches."""
    return page(request, "pages/part.html", view_part(session, record_id, showing_of(shop)), here=HERE)


@router.get("/parts/{record_id}/edit")
def show_edit(request: Request, record_id: RecordId, session: Reading, units: ShopUnits) -> Response:
    """Show the form of a part."""
    return sheets.show_edit(request, PARTS, record_id, session, units, HERE)


@router.post("/parts/{record_id}")
def answer_edit(
    request: Request, record_id: RecordId, raw: RawForm, session: Reading, units: ShopUnits, save: Saving
) -> Response:
    """Save what was changed on a part and show it."""
    state = read_form(form_class(session, PARTS), raw, units).with_choices(part_choices(session))
    view = replace(sheets.form_view(PARTS, record_id), back_href=PARTS.href(record_id))

    def keep(work: UnitOfWork, value: PartForm) -> str:
        return change_part(work, record_id, value, state.typed, state.version)

    return sheets.keep_form(request, view, state, save, keep, HERE)


@router.post("/parts/{record_id}/again")
def answer_again(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Write down a part like this one, and open its form to change what differs."""

    def act(work: UnitOfWork) -> str:
        return f"{PARTS.href(part_again(work, record_id).id or 0)}/edit"

    return answer_button(request, save, raw, act)


@router.post("/parts/{record_id}/remove")
def answer_remove(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put a part in the bin."""
    with save(sheets.form_id_of(raw)) as work:
        removal = remove_part(work, record_id, sheets.version_of(raw))
    return saved(request, removal.location, undo_words=removal.words, undo_action=removal.undo_action)


@router.post("/parts/{record_id}/put-back")
def answer_put_back(request: Request, record_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take a part out of the bin again."""
    return sheets.answer_put_back(request, PARTS, record_id, raw, save)
