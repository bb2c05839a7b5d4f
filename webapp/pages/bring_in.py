"""Bringing in an old table: sent, looked at as it would be kept, then put in whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from webapp.dependencies import Context, CurrentShop, RawForm, Reading, RecordId, Saving, ShopUnits
from webapp.forms.bring_in import BringInAsked, asked_of, query_of
from webapp.pages.answers import page, saved
from webapp.pages.logbook import table_file
from webapp.pages.saving import HERE, answer_button
from webapp.pages.sheets import form_id_of, version_of
from webapp.pages.uploads import SentForm, shown_name
from webapp.services import bring_in
from webapp.services.bring_in_look import Looked, headings_of, look_through
from webapp.services.bring_in_view import UNNAMED, view_table
from webapp.services.brought import refused_csv, template_csv, view_start
from webapp.services.old_columns import known_headings
from webapp.services.sheet_text import SheetRefused, read_sheet
from webapp.services.sheets import showing_of
from webapp.services.shop_view import ShopView
from webapp.store.incoming import keep_incoming, read_incoming
from webapp.store.unit_of_work import UnitOfWork
from webapp.zone import day_of

router = APIRouter(include_in_schema=False)
NONE_PICKED = "No file was picked. Choose the table on this tablet or computer."


@router.get("/bring-in")
def show_start(request: Request, session: Reading, shop: CurrentShop) -> Response:
    """Show where a table is sent."""
    return page(request, "pages/bring_in.html", view_start(session, showing_of(shop)), here=HERE)


@router.get("/bring-in/template.csv")
def send_template(session: Reading, units: ShopUnits) -> Response:
    """Send an empty table with all headings."""
    return table_file(template_csv(session, units), "old batches")


@router.post("/bring-in")
def answer_file(
    request: Request, sent: SentForm, context: Context, session: Reading, shop: CurrentShop
) -> Response:
    """Take a table to be looked at; nothing of it is in the logbook yet."""
    refused, name, content = NONE_PICKED, "", b""
    if sent.files:
        name, content = shown_name(sent.files[0]), sent.files[0].file.read()
        try:
            read_sheet(content, known_headings(headings_of(session)))
            refused = ""
        except SheetRefused as problem:
            refused = f"{name}: {problem}"
    if refused:
        return page(
            request, "pages/bring_in.html", view_start(session, showing_of(shop), refused), 422, here=HERE
        )
    key = keep_incoming(context.settings.data_folder, content)
    return RedirectResponse(f"/bring-in/{key}?{query_of(BringInAsked(file_name=name))}", status_code=303)


@dataclass(frozen=True)
class Table:
    """A table that was sent, gone through as its address asks for it."""

    key: str
    content: bytes
    asked: BringInAsked
    looked: Looked


def get_table(
    request: Request, key: str, context: Context, session: Reading, shop: CurrentShop, units: ShopUnits
) -> Table:
    """Go through a table as its address asks."""
    asked = asked_of(request.query_params.multi_items())
    now = context.clock.now()
    content = read_incoming(context.settings.data_folder, key)
    looked = look_through(session, content, asked, units, now, day_of(now, shop.zone))
    return Table(key, content, asked, looked)


AskedTable = Annotated[Table, Depends(get_table)]


def _show(request: Request, session: Session, shop: ShopView, table: Table, status: int = 200) -> Response:
    view = view_table(session, table.looked, table.asked, table.key, showing_of(shop))
    return page(request, "pages/bring_in_table.html", view, status, here=HERE)


@router.get("/bring-in/{key}")
def show_table(request: Request, session: Reading, shop: CurrentShop, table: AskedTable) -> Response:
    """Show a table as it would be kept, each row tried out."""
    return _show(request, session, shop, table)


@router.get("/bring-in/{key}/refused.csv")
def send_refused(table: AskedTable) -> Response:
    """Send the rows that cannot be kept, each with its reasons."""
    return table_file(refused_csv(table.looked), f"{table.asked.file_name} to put right")


@router.post("/bring-in/{key}")
def answer_keep(
    request: Request, raw: RawForm, session: Reading, shop: CurrentShop, table: AskedTable, save: Saving
) -> Response:
    """Put a whole table in the logbook, or show what stands in the way."""
    looked = table.looked
    if looked.problems:
        return _show(request, session, shop, table, 422)
    try:
        with save(form_id_of(raw)) as work:
            name = table.asked.file_name or UNNAMED
            brought = bring_in.bring_in(work, looked.kept, looked.how, name, table.content)
            work.answered_at("/logbook")
    except bring_in.NotWhole as problem:  # something of the shop was changed since
        found = replace(looked, problems=list(problem.problems))
        return _show(request, session, shop, replace(table, looked=found), 422)
    words = f"{looked.counts} were put in the logbook."
    return saved(request, "/logbook", undo_words=words, undo_action=f"/brought-in/{brought.id}/remove")


@router.post("/brought-in/{brought_id}/remove")
def answer_remove(request: Request, brought_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Take everything that came of one table out again."""

    def act(work: UnitOfWork) -> str:
        bring_in.take_out(work, brought_id, version_of(raw))
        return "/bring-in"

    undo = f"/brought-in/{brought_id}/put-back"
    return answer_button(request, save, raw, act, "The table was taken out again.", undo)


@router.post("/brought-in/{brought_id}/put-back")
def answer_put_back(request: Request, brought_id: RecordId, raw: RawForm, save: Saving) -> Response:
    """Put everything that came of one table back."""

    def act(work: UnitOfWork) -> str:
        bring_in.put_back(work, brought_id)
        return "/bring-in"

    return answer_button(request, save, raw, act)
